"""What may serve instead of what, and what follows."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from small_frame import UNIT, write_frame
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import Grease, Nut, Screw, SlotNut
from trysquare.machine.load import load_machine
from trysquare.machine.values import Fastening, Hole, Machine, PartType
from trysquare.stock.allocation import grease_serves
from trysquare.stock.grades import gains, grade_compromise, rank
from trysquare.stock.member_substitutes import member_serves, plate_serves
from trysquare.stock.neighbours import Neighbours
from trysquare.stock.substitutes import Compromise, nut_serves, screw_serves


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Machine:
    return load_machine(write_frame(tmp_path_factory.mktemp("frame")))


@pytest.fixture(scope="module")
def neighbours(machine: Machine) -> Neighbours:
    return Neighbours(machine)


def first(machine: Machine, joint: str) -> Fastening:
    return machine.joint[joint].fastenings[0]


def takes(machine: Machine, neighbours: Neighbours, joint: str, designation: str) -> Compromise | None:
    offered = lookup(designation)
    if isinstance(offered, Screw):
        return screw_serves(machine, first(machine, joint), offered, neighbours)
    assert isinstance(offered, SlotNut | Nut)
    return nut_serves(machine, first(machine, joint), offered, neighbours)


def test_what_was_asked_costs_nothing(machine: Machine, neighbours: Neighbours) -> None:
    compromise = takes(machine, neighbours, "frame/plate", "ISO 7380-1 M5x8")
    assert compromise == Compromise(points=0, sort="", says="")


def test_a_longer_screw_serves_only_where_the_stack_allows(machine: Machine, neighbours: Neighbours) -> None:
    # 3 mm of plate, then the slot's floor some 9 mm below the plate's face
    longer = takes(machine, neighbours, "frame/plate", "ISO 7380-1 M5x16")
    assert longer is None
    blind = first(machine, "frame/ends")
    assert blind.screw_type.length_mm == 12
    more = takes(machine, neighbours, "frame/ends", "ISO 7380-1 M5x16")
    assert more is not None
    assert more.sort == "length"
    assert "4 mm longer" in more.says
    assert takes(machine, neighbours, "frame/ends", "ISO 7380-1 M5x25") is None  # tapped 15 mm deep


def test_a_shorter_screw_serves_only_while_its_thread_holds(machine: Machine, neighbours: Neighbours) -> None:
    assert takes(machine, neighbours, "frame/ends", "ISO 7380-1 M5x6") is None


@pytest.mark.parametrize("designation", ["ISO 7380-1 M4x8", "ISO 10642 M5x8", "ISO 4026 M5x8"])
def test_another_thread_a_cone_and_a_set_screw_never_serve(
    machine: Machine, neighbours: Neighbours, designation: str
) -> None:
    assert takes(machine, neighbours, "frame/plate", designation) is None


def test_a_cylinder_head_serves_in_the_open_and_not_under_a_slot_s_lip(
    machine: Machine, neighbours: Neighbours
) -> None:
    compromise = takes(machine, neighbours, "frame/plate", "ISO 4762 M5x8")
    assert compromise is not None
    assert "head" in compromise.sort
    assert "4 mm key instead of 3 mm" in compromise.says
    assert takes(machine, neighbours, "frame/ends", "ISO 4762 M5x12") is None  # its head lies in the slot


def test_a_button_head_serves_in_a_rail_for_it_is_lower(machine: Machine, neighbours: Neighbours) -> None:
    one = first(machine, "frame/rail")
    assert one.screw_type.designation == "ISO 4762 M3x6"
    compromise = takes(machine, neighbours, "frame/rail", "ISO 7380-1 M3x6")
    assert compromise is None or "lower" in compromise.says


def test_a_head_that_meets_a_neighbour_does_not_serve(tmp_path: Path) -> None:
    # A cover close to the plate's face leaves room for a button head of 2.75 mm, not for one of 5 mm.
    lid = 'lid = { part = "cover", at_mm = [60, -6.5, -10], along = "+x", up = "-y" }\n'
    folder = write_frame(tmp_path, units__frame_toml=UNIT.replace("[joint]\n", f"{lid}[joint]\n", 1))
    machine = load_machine(folder)
    screws = machine.joint["frame/plate"].fastenings
    gap_mm = abs(float(machine.part["frame/lid"].placement.origin_mm[1]) - screws[0].head_mm[1])
    assert 0 < gap_mm < 5.0
    neighbours = Neighbours(machine)
    assert not all(screw_serves(machine, one, _screw("ISO 4762 M5x8"), neighbours) for one in screws)


def _screw(designation: str) -> Screw:
    part = lookup(designation)
    assert isinstance(part, Screw)
    return part


def test_a_weaker_class_serves_while_something_else_limits_the_torque(
    machine: Machine, neighbours: Neighbours
) -> None:
    asked = first(machine, "frame/plate")
    strong = replace(asked, screw_type=_screw("ISO 7380-1 M5x8 12.9"))
    weaker = screw_serves(machine, strong, _screw("ISO 7380-1 M5x8 8.8"), neighbours)
    assert weaker is not None  # the slot nut limits it
    assert weaker.sort == "class"
    assert "torque" in weaker.says


def test_a_roll_in_nut_serves_for_a_slide_in_nut_and_not_the_reverse(
    machine: Machine, neighbours: Neighbours
) -> None:
    compromise = takes(machine, neighbours, "frame/plate", "roll-in nut slot 6 M5")
    assert compromise is not None
    assert compromise.sort == "nut"
    roll_in = lookup("roll-in nut slot 6 M5")
    plate = first(machine, "frame/plate")
    nut = machine.part[plate.host_part]
    rolled = replace(nut, type=replace(nut.type, standard=roll_in))
    other = replace(machine, placed=tuple(rolled if one.id == nut.id else one for one in machine.placed))
    slide_in = lookup("slide-in nut slot 6 M5")
    assert isinstance(slide_in, SlotNut)
    assert nut_serves(other, plate, slide_in, neighbours) is None


@pytest.mark.parametrize("designation", ["roll-in nut slot 5 M5", "roll-in nut slot 6 M4", "ISO 4032 M5"])
def test_a_nut_of_another_slot_thread_or_sort_never_serves(
    machine: Machine, neighbours: Neighbours, designation: str
) -> None:
    assert takes(machine, neighbours, "frame/plate", designation) is None


# --- members and plates


def member(
    machine: Machine, *, tapped: tuple[str, ...] = (), holes: tuple[tuple[str, float], ...] = ()
) -> PartType:
    """A beam of the small frame with other ends and holes: faces and distances from end a."""
    at = {"+y": (0.0, 10.0, 0.0), "-y": (0.0, -10.0, 0.0), "+z": (0.0, 0.0, 10.0), "-z": (0.0, 0.0, -10.0)}
    made = tuple(
        Hole(
            name=f"h.{number}",
            at_mm=(along, at[face][1], at[face][2]),
            direction=(0.0, at[face][1] / 10, at[face][2] / 10),
            diameter_mm=6.0,
            depth_mm=20.0,
            through=False,
        )
        for number, (face, along) in enumerate(holes, start=1)
    )
    return replace(machine.types["beam"], tapped_ends=tapped, holes=made)


def test_more_holes_and_threads_serve_and_fewer_do_not(machine: Machine) -> None:
    plain, tapped = member(machine), member(machine, tapped=("a", "b"))
    holed = member(machine, tapped=("a", "b"), holes=(("+y", 60.0),))
    assert member_serves(plain, tapped) is not None
    assert member_serves(tapped, plain) is None
    more = member_serves(plain, holed)
    assert more is not None
    assert "1 hole more and 2 tapped ends more" in more.says
    assert member_serves(holed, tapped) is None


def test_a_member_serves_turned_if_its_holes_then_come_where_they_belong(machine: Machine) -> None:
    near_a = member(machine, tapped=("a",), holes=(("+y", 60.0),))
    near_b = member(machine, tapped=("b",), holes=(("-z", 240.0), ("+z", 100.0)))
    turned = member_serves(near_a, near_b)
    assert turned is not None
    assert "end for end" in turned.says


def test_a_mirrored_member_does_not_serve(machine: Machine) -> None:
    hand = member(machine, holes=(("+y", 60.0), ("+z", 60.0), ("+z", 100.0)))
    other = member(machine, holes=(("-y", 60.0), ("+z", 60.0), ("+z", 100.0)))
    assert member_serves(hand, other) is None


def test_another_length_or_profile_never_serves(machine: Machine) -> None:
    beam = machine.types["beam"]
    assert member_serves(beam, replace(beam, length_mm=beam.length_mm + 1)) is None
    assert member_serves(machine.types["plate"], beam) is None


def test_a_plate_with_more_holes_serves_for_one_with_fewer(machine: Machine) -> None:
    plate = machine.types["plate"]
    more = replace(plate, holes=(*plate.holes, replace(plate.holes[0], name="x.1", at_mm=(20.0, 20.0, 3.0))))
    assert plate_serves(plate, more) is not None
    assert plate_serves(more, plate) is None


# --- grease and rails


def grease(designation: str) -> Grease:
    part = lookup(designation)
    assert isinstance(part, Grease)
    return part


def test_a_thinner_grease_serves_with_a_shorter_interval_and_a_thicker_does_not() -> None:
    thinner = grease_serves(grease("grease NLGI 2"), grease("grease NLGI 1"))
    assert thinner is not None
    assert "50 to 100 h" in thinner.says
    thinnest = grease_serves(grease("grease NLGI 2"), grease("grease NLGI 0"))
    assert thinnest is not None
    assert thinnest.points > thinner.points
    assert grease_serves(grease("grease NLGI 2"), grease("grease NLGI 00")) is None
    assert grease_serves(grease("grease NLGI 2"), grease("grease NLGI 3")) is None


def test_the_longer_the_lever_the_more_a_better_rail_gains(machine: Machine) -> None:
    (rail,) = [part.id for part in machine.placed if part.type.id == "rail 9x200"]
    assert gains(machine)[rail] == 1.0  # nothing but its block moves
    axis = replace(machine.axes[0], moves=("frame/block", "frame/left"))
    assert gains(replace(machine, axes=(axis,)))[rail] > 2.0


def test_a_plainer_make_costs_more_where_the_lever_is_longer() -> None:
    assert rank("precision") < rank("") < rank("economy")
    assert grade_compromise("precision", "precision", 3.0) is None
    short, long = grade_compromise("", "precision", 1.0), grade_compromise("", "precision", 4.0)
    assert short is not None
    assert long is not None
    assert long.points > short.points
