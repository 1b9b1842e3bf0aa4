"""How tight: which part of a joint gives way first."""

from __future__ import annotations

from pathlib import Path

import pytest

from fit.folders import machine_of, only
from trysquare.fit.soft import gives_way, plastic_clamped
from trysquare.fit.torque import limits_of, torque_of
from trysquare.ground.findings import Weight


def test_a_strong_slot_nut_sets_the_torque_of_an_m5_plate_screw(tmp_path: Path) -> None:
    machine = machine_of(tmp_path)
    torque = torque_of(machine, machine.fastening["frame/plate.1"])
    assert torque is not None
    assert torque.limited_by == "slot nut"
    assert torque.newton_metre == pytest.approx(3.5)  # 0.2 · 5 mm · 3500 N
    assert torque.snug_newton_metre == pytest.approx(torque.newton_metre / 4)
    assert torque.strength == "A2-70, assumed"
    assert not torque.is_assumed


def test_the_screw_itself_sets_the_torque_in_a_nut_of_full_height(tmp_path: Path) -> None:
    machine = machine_of(tmp_path)
    torque = torque_of(machine, machine.fastening["frame/shelf.1"])
    assert torque is not None
    assert torque.limited_by == "screw"
    assert 1.0 <= torque.newton_metre <= 1.1  # A2-70 M3: maker sheets print 1.0 to 1.1 N·m


def test_a_stronger_class_bears_more(tmp_path: Path) -> None:
    machine = machine_of(
        tmp_path,
        (
            '"lower:s"], screw = "ISO 4762 M3"',
            '"lower:s"], screw = "ISO 4762 M3x12 8.8"',
        ),
    )
    torque = torque_of(machine, machine.fastening["frame/shelf.1"])
    assert torque is not None
    assert (torque.strength, torque.friction) == ("8.8", 0.12)
    assert torque.newton_metre == pytest.approx(1.3, abs=0.1)


def test_a_thin_nut_gives_way_before_a_strong_screw(tmp_path: Path) -> None:
    machine = machine_of(
        tmp_path,
        (
            'screw = "ISO 4762 M3", nut = "ISO 4032 M3"', 'screw = "ISO 4762 M3x12 12.9", nut = "DIN 562 M3"'
        ),
    )  # fmt: skip
    torque = torque_of(machine, machine.fastening["frame/shelf.1"])
    assert torque is not None
    assert torque.limited_by == "thin nut"


def test_an_insert_in_a_printed_part_is_weaker_than_its_screw(tmp_path: Path) -> None:
    machine = machine_of(tmp_path)
    torque = torque_of(machine, machine.fastening["frame/cover.1"])
    assert torque is not None
    assert (torque.limited_by, torque.newton_metre) == ("insert", 0.5)


def test_a_printed_part_under_the_head_counts_as_well(tmp_path: Path) -> None:
    machine = machine_of(
        tmp_path, ('[part.plate]\nkind = "plate"', '[part.plate]\nkind = "printed"\nmaterial = "PETG"')
    )
    what = {limit.what for limit in limits_of(machine, machine.fastening["frame/plate.1"])}
    assert "printed part under the head" in what


def test_a_tapped_end_of_aluminium_is_the_weakest_of_a_blind_joint(tmp_path: Path) -> None:
    machine = machine_of(tmp_path)
    torque = torque_of(machine, machine.fastening["frame/ends.1"])
    assert torque is not None
    assert torque.limited_by == "aluminium thread"
    assert 3.0 <= torque.newton_metre <= 4.5  # practice


def test_a_set_screw_has_the_torque_of_its_table(tmp_path: Path) -> None:
    machine = machine_of(tmp_path)
    torque = torque_of(machine, machine.fastening["frame/pulley.1"])
    assert torque is not None
    assert torque.limited_by == "set screw"


def test_a_paper_that_asks_for_more_than_the_weakest_is_stopped(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        (
            'screw = "ISO 7380-1 M5x8", nut = "slide-in"',
            'screw = "ISO 7380-1 M5x8", nut = "slide-in", torque_newton_metre = 5',
        ),
    )
    assert (found.code, found.weight) == ("torque-above-weakest", Weight.STOP)
    assert (found.value, found.unit) == (5, "N·m")
    assert found.limit == pytest.approx(3.5)
    assert "slot nut" in found.says


def test_a_limit_nobody_stated_gives_a_doubt_only(tmp_path: Path) -> None:
    found = only(
        tmp_path,
        (
            'screw = "ISO 7380-1 M5x8", nut = "slide-in"',
            'screw = "ISO 7380-1 M5x8", nut = "roll-in", torque_newton_metre = 3',
        ),
    )
    assert (found.code, found.weight) == ("torque-above-estimate", Weight.DOUBT)


def test_a_paper_s_friction_is_used(tmp_path: Path) -> None:
    machine = machine_of(
        tmp_path,
        (
            'screw = "ISO 4762 M3", nut = "ISO 4032 M3"',
            'screw = "ISO 4762 M3", nut = "ISO 4032 M3", friction = 0.1',
        ),
    )
    torque = torque_of(machine, machine.fastening["frame/shelf.1"])
    assert torque is not None
    assert torque.friction == 0.1
    assert torque.newton_metre < 0.9  # supplier tables: 0.80 N·m for M3 A2-70 at 0.10


def test_a_bought_plastic_part_under_the_head_is_told_by_its_material_not_as_printed(tmp_path: Path) -> None:
    machine = machine_of(
        tmp_path, ('[part.plate]\nkind = "plate"', '[part.plate]\nkind = "plate"\nmaterial = "PA"')
    )
    what = {limit.what for limit in limits_of(machine, machine.fastening["frame/plate.1"])}
    assert "PA part under the head" in what
    assert "printed part under the head" not in what


def test_a_material_that_only_begins_like_a_plastic_s_name_is_no_plastic(tmp_path: Path) -> None:
    machine = machine_of(
        tmp_path, ('[part.plate]\nkind = "plate"', '[part.plate]\nkind = "plate"\nmaterial = "PCB laminate"')
    )
    assert plastic_clamped(machine, machine.fastening["frame/plate.1"]) == ""


@pytest.mark.parametrize(
    ("said", "gives"), [("silicone", "silicone"), ("TPU 95A", "TPU"), ("natural rubber", "rubber")]
)
def test_a_screw_through_something_that_gives_way_has_no_torque(
    tmp_path: Path, said: str, gives: str
) -> None:
    # common practice, no source: silicone is squeezed without end, a bed's screw set to its mark
    machine = machine_of(
        tmp_path, ('[part.plate]\nkind = "plate"', f'[part.plate]\nkind = "plate"\nmaterial = "{said}"')
    )
    screw = machine.fastening["frame/plate.1"]
    assert torque_of(machine, screw) is None
    assert gives_way(machine, screw) == gives


@pytest.mark.parametrize(("name", "gives"), [("Bed spring 10", "spring"), ("Spring steel sheet", "")])
def test_a_spring_gives_way_and_spring_steel_does_not(tmp_path: Path, name: str, gives: str) -> None:
    machine = machine_of(
        tmp_path, ('[part.plate]\nkind = "plate"', f'[part.plate]\nname = "{name}"\nkind = "plate"')
    )
    assert gives_way(machine, machine.fastening["frame/plate.1"]) == gives
