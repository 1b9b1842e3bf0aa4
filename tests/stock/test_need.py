"""The whole need and the pick lists of the small frame, counted by hand."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from small_frame import PARTS, STEPS, UPGRADE, write_files, write_frame
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.stock.balance import list_findings
from trysquare.stock.need import Need, NeedLine, need, pick_lists
from trysquare.stock.pieces import pieces_of


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Machine:
    return load_machine(write_frame(tmp_path_factory.mktemp("frame")))


@pytest.fixture(scope="module")
def whole(machine: Machine) -> Need:
    return need(machine)


def line(whole: Need, part: str) -> NeedLine:
    return next(line for line in whole.lines if line.part == part)


def test_every_part_is_counted_as_by_hand(whole: Need) -> None:
    counted = {line.part: line.pieces for line in whole.lines}
    belt = next(part for part in counted if part.startswith("belt "))
    assert counted == {
        "post": 2,
        "beam": 1,
        "plate": 1,
        "foot": 1,
        "cover": 1,
        "rail 9x200": 1,
        "block 9 standard": 1,
        "ISO 7380-1 M5x12": 2,
        "ISO 7380-1 M5x8": 2,
        "slide-in nut slot 6 M5": 2,
        "ISO 4762 M3x6": 10,
        "slide-in nut slot 6 M3": 10,
        "ISO 4762 M3x5": 2,  # 2 mm of cover, then 3 mm (1 d) in the insert
        "heat-set insert M3x5.7": 2,
        "pulley 2 mm pitch 20 teeth bore 5": 1,
        "idler 2 mm pitch 20 teeth bore 5": 1,
        belt: 1,
        "wire AWG 22": 4,
    }


def test_wire_is_needed_by_core_and_by_length(whole: Need) -> None:
    wire = line(whole, "wire AWG 22")
    assert wire.cuts_mm == (400.0,) * 4
    assert wire.length_mm == 1600.0


def test_a_closed_belt_is_counted_and_not_cut(whole: Need) -> None:
    belt = next(line for line in whole.lines if line.part.startswith("belt "))
    # Two equal pulleys of 20 teeth, 200 mm apart: 2 · 200 mm + 20 teeth · 2 mm = 440 mm = 220 teeth.
    assert (belt.pieces, belt.cuts_mm) == (1, ())
    assert "220 teeth" in belt.part


def test_jigs_instruments_and_consumables_are_no_parts(whole: Need) -> None:
    assert not {"distance-piece", "grease NLGI 2", "square"} & {line.part for line in whole.lines}
    assert {"distance-piece", "square"} <= {line.tool.name for line in whole.tools}
    assert {line.name for line in whole.supplies} == {"grease NLGI 2", "threadlocker medium"}


def test_every_reason_names_its_joint_its_places_and_its_step(whole: Need) -> None:
    (reason,) = line(whole, "ISO 4762 M3x6").reasons
    assert (reason.asked_by, reason.unit, reason.pieces, reason.steps) == (
        "frame/rail",
        "frame",
        10,
        ("rail",),
    )
    assert len(reason.places) == len(set(reason.places)) == len(reason.at_mm) == 10


def test_the_paper_of_a_placed_part_is_known(whole: Need) -> None:
    assert line(whole, "beam").papers == ("manual",)


def test_other_names_stand_beside_the_part_and_make_no_part_of_their_own(tmp_path: Path) -> None:
    whole = need(load_machine(write_frame(tmp_path, papers__upgrade_toml=UPGRADE)))
    assert line(whole, "ISO 4762 M3x6").aliases == ("rail screw S6",)
    assert line(whole, "beam").aliases == ("traverse",)


def test_keys_follow_from_the_screws(whole: Need) -> None:
    keys = {line.tool.name: line.joints for line in whole.tools if line.tool.sort == "hexagon key"}
    # ISO 4762 M3: key 2.5 mm; ISO 7380-1 M5: key 3 mm.
    assert keys == {
        "hexagon key 2.5 mm": ("drive/cover", "frame/rail"),
        "hexagon key 3 mm": ("frame/ends", "frame/plate"),
    }


def test_the_steps_together_pick_up_exactly_the_need(machine: Machine, whole: Need) -> None:
    picked = Counter(piece for step in pick_lists(machine) for line in step.lines for piece in line.pieces)
    assert set(picked) == set(pieces_of(machine))
    assert set(picked.values()) == {1}
    assert sum(picked.values()) == whole.pieces
    assert whole.picking.left == ()


def test_nuts_are_picked_where_they_are_put_in_and_screws_where_they_are_started(whole: Need) -> None:
    by_step = {
        step.step: {line.part: len(line.pieces) for line in step.lines} for step in whole.picking.steps
    }
    assert by_step["nuts"] == {"beam": 1, "slide-in nut slot 6 M3": 10, "slide-in nut slot 6 M5": 2}
    assert by_step["frame"] == {"ISO 7380-1 M5x12": 2, "post": 2}
    assert by_step["plate"] == {"plate": 1, "ISO 7380-1 M5x8": 2}


def test_inserts_come_with_the_press_and_ask_for_the_iron(whole: Need) -> None:
    drive = whole.picking.steps[-1]
    assert "heat-set insert M3x5.7" in {line.part for line in drive.lines}
    assert "soldering iron with M3 insert tip" in {tool.name for tool in drive.tools}


def test_nuts_are_told_slot_by_slot_with_their_places(whole: Need) -> None:
    rail, plate = whole.picking.steps[0].slot_nuts
    assert (rail.member, rail.face, rail.nut, rail.pieces) == (
        "frame/beam",
        "+z",
        "slide-in nut slot 6 M3",
        10,
    )
    # The rail begins at 300 - 20 - 200 = 80 mm; its first hole is 10 mm in, then every 20.
    assert rail.at_mm == pytest.approx([90.0 + 20 * index for index in range(10)])
    assert (plate.face, plate.pieces, plate.nearer_end) == ("-y", 2, "a")


def test_threadlocker_is_handed_out_once_with_the_first_of_its_screws(whole: Need) -> None:
    assert [
        step.step for step in whole.picking.steps if "threadlocker medium" in {s.name for s in step.supplies}
    ] == ["plate"]


def test_what_no_step_picks_up_is_named(tmp_path: Path) -> None:
    whole = need(load_machine(write_frame(tmp_path, steps_toml=STEPS.replace('{ place = ["block"] },', ""))))
    assert [piece.id for piece in whole.picking.left] == ["frame/block"]


def test_a_part_that_two_steps_place_is_picked_once_and_said(tmp_path: Path) -> None:
    again = STEPS + '[[step]]\nid = "again"\ntitle = "t"\nunit = "frame"\nactions = [{ place = ["block"] }]\n'
    whole = need(load_machine(write_frame(tmp_path, steps_toml=again)))
    (twice,) = whole.picking.twice
    assert (twice.id, twice.first_step, twice.again_step) == ("frame/block", "rail", "again")
    assert whole.picking.steps[-1].lines == ()


def test_tightening_alone_brings_the_screws_too(tmp_path: Path) -> None:
    steps = '[[step]]\nid = "all"\ntitle = "t"\nunit = "frame"\nactions = [{ tighten = ["rail"] }]\n'
    whole = need(load_machine(write_frame(tmp_path, steps_toml=steps)))
    assert {line.part: len(line.pieces) for line in whole.picking.steps[0].lines} == {
        "slide-in nut slot 6 M3": 10,
        "ISO 4762 M3x6": 10,
    }


def test_a_bare_list_is_the_need(tmp_path: Path) -> None:
    folder = write_files(
        tmp_path,
        {
            "machine.toml": MACHINE_ONLY,
            "parts.toml": PARTS_ONLY,
            "list.csv": "part,pieces\nbeam,2\niso 4762 m3 x 8,24\n",
        },
    )
    assert {line.part: line.pieces for line in need(load_machine(folder)).lines} == {
        "beam": 2,
        "ISO 4762 M3x8": 24,
    }


MACHINE_ONLY = 'format = 1\nname = "List"\n'
PARTS_ONLY = PARTS.replace('paper = "manual"', "")


def rows(whole: Need) -> dict[str, int]:
    return {line.part: line.pieces for line in whole.lines}


def as_list(pieces: dict[str, int]) -> str:
    return "part,pieces\n" + "".join(f"{part},{number}\n" for part, number in pieces.items())


def test_a_list_that_agrees_with_the_joints_gives_no_finding(tmp_path: Path, whole: Need) -> None:
    pieces = {part: number for part, number in rows(whole).items() if not part.startswith("belt ")}
    machine = load_machine(write_frame(tmp_path, list_csv=as_list(pieces)))
    assert [
        finding.says for finding in list_findings(machine, need(machine)) if "belt" not in finding.says
    ] == []


def test_a_short_list_stops_and_a_long_one_is_noted(tmp_path: Path, whole: Need) -> None:
    pieces = {part: number for part, number in rows(whole).items() if not part.startswith("belt ")}
    pieces |= {"ISO 4762 M3x6": 7, "post": 3}
    machine = load_machine(write_frame(tmp_path, list_csv=as_list(pieces)))
    found = {
        f.says.partition(":")[0]: f for f in list_findings(machine, need(machine)) if "belt" not in f.says
    }
    short, over = found["ISO 4762 M3x6"], found["post"]
    assert (short.code, short.weight, short.value, short.limit) == ("list-short", "stop", 7.0, 10.0)
    assert (over.code, over.weight, over.value, over.limit) == ("list-over", "note", 3.0, 2.0)
    assert set(found) == {"ISO 4762 M3x6", "post"}


def test_a_screw_asked_for_without_a_class_is_served_by_any_class(tmp_path: Path, whole: Need) -> None:
    pieces = {part: number for part, number in rows(whole).items() if not part.startswith("belt ")}
    del pieces["ISO 4762 M3x6"]
    pieces |= {"ISO 4762 M3x6 8.8": 6, "ISO 4762 M3x6 A2-70": 4}
    machine = load_machine(write_frame(tmp_path, list_csv=as_list(pieces)))
    assert not [f for f in list_findings(machine, need(machine)) if "M3x6" in f.says]


def test_a_machine_without_anything_needs_nothing(tmp_path: Path) -> None:
    whole = need(load_machine(write_files(tmp_path, {"machine.toml": MACHINE_ONLY})))
    assert (whole.lines, whole.tools, whole.supplies, whole.pieces) == ((), (), (), 0)
