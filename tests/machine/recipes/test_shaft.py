"""Pulleys and couplings on shafts: a set screw stands on the flat, or the turn there is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from trysquare.ground.errors import ReadingErrors
from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine

PARTS = """
[part.plate]
kind = "plate"
material = "steel"
size_mm = [60, 60, 5]

[part.motor]
kind = "bought"
material = "steel"
solid = [{ box_mm = [42, 42, 40], at_mm = [-21, -21, -40] }]
shaft = [{ name = "shaft", at_mm = [0, 0, 0], direction = "+z", diameter_mm = 5, length_mm = 30, FLAT }]
"""
UNIT = """
[place]
plate = { part = "plate" }
motor = { part = "motor", at_mm = [100, 0, 0] }
pulley = { part = "pulley 2 mm pitch 20 teeth bore 5", at_mm = [100, 0, 10], along = "ALONG" }

[joint.grip]
recipe = "shaft-and-coupling"
shaft = "motor:shaft"
onto = "pulley"
"""


def found(folder: Path, flat: str, along: str = "+x") -> list[Finding]:
    """Findings of a pulley whose two set screws, at 90°, look along its own x and y."""
    (folder / "units").mkdir()
    (folder / "machine.toml").write_text('format = 1\nname = "test"\n')
    (folder / "parts.toml").write_text(PARTS.replace("FLAT", flat))
    (folder / "units" / "frame.toml").write_text(UNIT.replace("ALONG", along))
    findings = load_machine(folder, []).findings
    return [one for one in findings if one.code == "grub-beside-flat"]


@pytest.mark.parametrize(("flat", "along"), [("+x", "+x"), ("+y", "+x"), ("-x", "-x"), ("+y", "+y")])
def test_a_pulley_with_either_set_screw_on_the_flat_is_good(flat: str, along: str, tmp_path: Path) -> None:
    assert not found(tmp_path, f'flat_toward = "{flat}"', along)


@pytest.mark.parametrize(
    ("flat", "turn"), [("-x", "90° anticlockwise"), ("-y", "90° clockwise")]
)  # fmt: skip
def test_a_flat_between_no_set_screws_is_told_with_the_turn_that_mends_it(
    flat: str, turn: str, tmp_path: Path
) -> None:
    # By hand: screws at 0° and 90°; the flat at 180° is 90° anticlockwise of the second, at 270° 90°
    # clockwise of the first.
    (finding,) = found(tmp_path, f'flat_toward = "{flat}"')
    assert (finding.value, finding.limit) == (90.0, 10.0)
    assert finding.remedy == f"Turn frame/pulley by {turn} on the shaft, looking onto its free end."


def test_a_flat_whose_way_nobody_says_is_not_judged(tmp_path: Path) -> None:
    assert not found(tmp_path, "flat = true")


def test_a_flat_that_looks_along_its_shaft_is_refused_with_what_to_write(tmp_path: Path) -> None:
    with pytest.raises(ReadingErrors) as caught:
        found(tmp_path, 'flat_toward = "+z"')
    assert "across its shaft" in caught.value.problems[0].expected
