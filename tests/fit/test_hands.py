"""Mirror twins one each, and drives of one axis with one travel per turn."""

from __future__ import annotations

from pathlib import Path

import pytest

from fit.folders import codes, machine_of
from trysquare.fit.hands import drive_findings, hand_findings

TWINS = "".join(
    f'[part.arm-{hand}]\nkind = "printed"\nhand = "{hand}"\nsolid = [{{ box_mm = [10, 10, 10] }}]\n'
    for hand in ("left", "right")
)


def arms(*parts: str) -> str:
    return "".join(
        f'arm{at} = {{ part = "{part}", at_mm = [{100 * at}, 0, 600] }}\n' for at, part in enumerate(parts)
    )


@pytest.mark.parametrize("parts", [("arm-left", "arm-right"), ()])
def test_as_many_of_one_hand_as_of_the_other_are_good(parts: tuple[str, ...], tmp_path: Path) -> None:
    assert not list(hand_findings(machine_of(tmp_path, parts=TWINS, place=arms(*parts))))


@pytest.mark.parametrize("parts", [("arm-left", "arm-left"), ("arm-left", "arm-right", "arm-left")])
def test_two_of_one_hand_are_told_with_both_counts(parts: tuple[str, ...], tmp_path: Path) -> None:
    (found,) = hand_findings(machine_of(tmp_path, parts=TWINS, place=arms(*parts)))
    assert found.code == "two-of-one-hand"
    assert (found.value, found.limit) == (2.0, float(len(parts) - 2))
    assert len(found.parts) == len(parts)
    assert "wants the right one" in found.remedy


def test_a_hand_without_a_twin_may_be_wanted_twice(tmp_path: Path) -> None:
    lone = TWINS.split("[part.arm-right]")[0]
    assert not list(hand_findings(machine_of(tmp_path, parts=lone, place=arms("arm-left", "arm-left"))))


def pair(teeth: int) -> dict[str, str]:
    """Two belts that must be equal, the second driven by a pulley of so many teeth."""
    place = ""
    for name, y, count in (("p", 400, 20), ("q", 500, teeth)):
        place += f'{name}1 = {{ part = "pulley 2 mm pitch {count} teeth bore 5", at_mm = [0, {y}, 300] }}\n'
        place += f'{name}2 = {{ part = "idler 2 mm pitch 20 teeth bore 5", at_mm = [200, {y}, 300] }}\n'
    joint = ""
    for name, mine, other in (("one", "p", "two"), ("two", "q", "one")):
        joint += f"""
[joint.{name}]
recipe = "belt-path"
belt = "belt 2 mm pitch 6 mm wide"
over = [{{ pulley = "{mine}1", turn = "anticlockwise" }}, {{ pulley = "{mine}2", turn = "anticlockwise" }}]
equal_to = "{other}"
"""
    return {"place": place, "joint": joint}


def test_equal_belts_with_equal_motor_pulleys_are_good(tmp_path: Path) -> None:
    assert not list(drive_findings(machine_of(tmp_path, **pair(20))))


def test_equal_belts_with_unlike_motor_pulleys_are_told_once(tmp_path: Path) -> None:
    (found,) = drive_findings(machine_of(tmp_path, **pair(16)))
    # Travel of a belt in one turn: teeth × pitch.
    assert (found.code, found.value, found.limit) == ("travel-per-turn-differs", 40.0, 32.0)
    assert found.parts == ("frame/p1", "frame/q1")


ALONG_X = ', along = "+y", up = "+x"'


def screws(starts: int) -> str:
    """Two lead screws along x, the second with so many starts."""
    screw = (
        'screw%d = { part = "lead screw 8x2 starts %d length 250", at_mm = [%d, 0, 600]' + ALONG_X + " }\n"
    )
    return "".join(screw % (at, count, at) for at, count in ((0, 4), (100, starts)))


def test_lead_screws_of_one_axis_have_one_lead(tmp_path: Path) -> None:
    # Travel of a lead screw in one turn: pitch × starts.
    assert not list(drive_findings(machine_of(tmp_path / "same", place=screws(4))))
    (found,) = drive_findings(machine_of(tmp_path / "other", place=screws(1)))
    assert (found.value, found.limit, found.unit) == (8.0, 2.0, "mm")
    assert "axis x" in found.says


def test_screws_across_every_axis_are_left_alone(tmp_path: Path) -> None:
    across = screws(1).replace(ALONG_X, "")
    assert codes(list(drive_findings(machine_of(tmp_path, place=across)))) == []
