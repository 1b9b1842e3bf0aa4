"""Screws into a member's tapped end, and twins whose holes all take heads."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.machine.load import load_machine
from trysquare.machine.values import Host, Machine

PARTS = """
[part.beam]
kind = "member"
profile = "profile 20x40 slot 6"
length_mm = 200
tapped = ["a"]

[part.plate]
kind = "plate"
material = "aluminium"
size_mm = [20, 40, 5]
hole = [{ name = "core", at_mm = [[10, 10], [10, 30]], diameter_mm = 5.5 }]
"""
ON_END_A = '{ part = "plate", on = "beam", at_mm = [0, 10, -20], along = "-y", up = "-x" }'
ON_END_B = '{ part = "plate", on = "beam", at_mm = [200, -10, -20], along = "+y", up = "+x" }'


def machine(folder: Path, places: str, joint: str) -> Machine:
    (folder / "units").mkdir()
    (folder / "machine.toml").write_text('format = 1\nname = "test"\n')
    (folder / "parts.toml").write_text(PARTS)
    unit = f'[place]\nbeam = {{ part = "beam", along = "+x" }}\n{places}\n[joint]\nscrews = {joint}\n'
    (folder / "units" / "frame.toml").write_text(unit)
    return load_machine(folder)


def through_bolt(into: str, through: str = '"plate:core"') -> str:
    return f'{{ recipe = "through-bolt", through = {through}, into = "{into}", screw = "ISO 7380-1 M5" }}'


def codes(found: Machine) -> list[str]:
    return [finding.code for finding in found.findings]


def test_screws_through_an_end_plate_bite_the_tapped_cores_of_the_members_end(tmp_path: Path) -> None:
    found = machine(tmp_path, f"plate = {ON_END_A}", through_bolt("beam:a"))
    joint = found.joint["frame/screws"]
    assert codes(found) == []
    assert joint.parts == ("frame/plate", "frame/beam")
    assert [screw.head_mm for screw in joint.fastenings] == [(-5.0, 0.0, -10.0), (-5.0, 0.0, 10.0)]
    for screw in joint.fastenings:
        assert (screw.host, screw.host_part, screw.host_thread) == (Host.TAPPED, "frame/beam", "M5")
        assert (screw.thread_from_mm, screw.thread_to_mm) == (5.0, 20.0)
        # 5 mm of plate and twice the diameter in aluminium ask for 15; 16 is the next on sale.
        assert screw.screw_type.designation == "ISO 7380-1 M5x16"


def test_an_end_without_thread_is_a_finding(tmp_path: Path) -> None:
    found = machine(tmp_path, f"plate = {ON_END_B}", through_bolt("beam:b"))
    assert codes(found) == ["end-not-tapped"] * 2
    assert found.joint["frame/screws"].fastenings == ()


def test_a_plate_on_the_other_end_meets_no_core(tmp_path: Path) -> None:
    found = machine(tmp_path, f"plate = {ON_END_B}", through_bolt("beam:a"))
    assert codes(found) == ["hole-missing"]
    (finding,) = found.findings
    assert finding.says.endswith(
        "meet no hole of frame/beam: some lie on their lines, but not under their heads."
    )
    assert (finding.value, finding.remedy) == (None, "")


def test_a_plate_shifted_on_the_end_meets_no_core(tmp_path: Path) -> None:
    shifted = ON_END_A.replace("-20]", "-19]")
    assert codes(machine(tmp_path, f"plate = {shifted}", through_bolt("beam:a"))) == ["hole-missing"]


def test_a_plate_away_from_the_end_leaves_a_gap(tmp_path: Path) -> None:
    away = ON_END_A.replace("[0, 10", "[-2, 10")
    assert codes(machine(tmp_path, f"plate = {away}", through_bolt("beam:a"))) == ["gap-in-stack"] * 2


def test_two_plates_of_one_sort_on_an_end_are_clamped_by_the_same_screws(tmp_path: Path) -> None:
    outer = ON_END_A.replace("[0, 10", "[-5, 10")
    places = f"inner = {ON_END_A}\nouter = {outer}"
    found = machine(tmp_path, places, through_bolt("beam:a", '["outer:core", "inner:core"]'))
    assert codes(found) == []
    screws = found.joint["frame/screws"].fastenings
    assert len(screws) == 2
    assert all([grip.part for grip in screw.grips] == ["frame/outer", "frame/inner"] for screw in screws)


@pytest.mark.parametrize("side", ["front", "back"])
def test_two_parts_of_one_sort_side_by_side_each_take_their_screws(tmp_path: Path, side: str) -> None:
    # Seen from the back the heads lie on the plate's lower face, so that face must look outwards.
    lie = (
        'on = "beam:+z", across_mm = -10, turn_deg = 0, offset_mm'
        if side == "front"
        else 'along = "+x", up = "-z", at_mm'
    )
    spots = ("20", "100") if side == "front" else ("[20, 10, 25]", "[100, 10, 25]")
    places = "\n".join(
        f'{name} = {{ part = "pad", {lie} = {spot} }}'
        for name, spot in zip(("one", "two"), spots, strict=True)
    )
    joint = (
        '{ recipe = "plate-on-slots", through = ["one:bolt", "two:bolt"], screw = "ISO 4762 M5", '
        f'nut = "slide-in", from = "{side}" }}'
    )
    pad = (
        '\n[part.pad]\nkind = "plate"\nsize_mm = [40, 20, 5]\n'
        'hole = [{ name = "bolt", at_mm = [[10, 10], [30, 10]], diameter_mm = 5.5 }]\n'
    )
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "pad.toml").write_text(pad)
    found = machine(tmp_path, places, joint)
    assert codes(found) == []
    at_mm = [round(screw.slot_at_mm, 6) for screw in found.joint["frame/screws"].fastenings]
    assert at_mm == [30.0, 50.0, 110.0, 130.0]
