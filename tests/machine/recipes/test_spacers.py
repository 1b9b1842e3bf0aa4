"""A board on spacers: each screw passes its own spacer, and none is left without a screw."""

from __future__ import annotations

from pathlib import Path

from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine

PARTS = """
[part.board]
kind = "bought"
size_mm = [40, 20, 2]
hole = [{ name = "corner", at_mm = [[5, 10], [35, 10]], diameter_mm = 3.4 }]

[part.spacer]
kind = "bought"
solid = [{ cylinder_mm = [6, 10] }]
hole = [{ name = "bore", at_mm = [0, 0, 10], diameter_mm = 3.4, thickness_mm = 10 }]

[part.plate]
kind = "plate"
size_mm = [40, 20, 5]
hole = [{ name = "board", at_mm = [[5, 10], [35, 10]], diameter_mm = 3.4 }]
"""


def machine(folder: Path, *spacers_x_mm: float) -> Machine:
    places = [
        'plate = { part = "plate", at_mm = [0, 0, 0] }',
        'board = { part = "board", at_mm = [0, 0, 15] }',
    ]
    places += [
        f's{index} = {{ part = "spacer", at_mm = [{x:g}, 10, 5] }}' for index, x in enumerate(spacers_x_mm)
    ]
    through = ", ".join(
        ['"board:corner"', *(f'"s{index}:bore"' for index in range(len(spacers_x_mm))), '"plate:board"']
    )
    (folder / "units").mkdir()
    (folder / "machine.toml").write_text('format = 1\nname = "test"\n')
    (folder / "parts.toml").write_text(PARTS)
    (folder / "units" / "case.toml").write_text(
        "[place]\n" + "\n".join(places) + '\n[joint.board]\nrecipe = "through-bolt"\n'
        f'through = [{through}]\nscrew = "ISO 4762 M3x20"\nnut = "ISO 4032 M3"\n'
    )
    return load_machine(folder)


def codes(found: Machine) -> list[str]:
    return [finding.code for finding in found.findings]


def test_each_screw_passes_its_own_spacer(tmp_path: Path) -> None:
    found = machine(tmp_path, 5, 35)
    assert codes(found) == []
    grips = [[grip.part for grip in screw.grips] for screw in found.joint["case/board"].fastenings]
    assert grips == [["case/board", "case/s0", "case/plate"], ["case/board", "case/s1", "case/plate"]]


def test_a_screw_without_a_spacer_is_a_finding(tmp_path: Path) -> None:
    assert codes(machine(tmp_path, 5)) == ["hole-missing", "gap-in-stack"]


def test_a_spacer_that_no_screw_passes_is_a_finding(tmp_path: Path) -> None:
    found = machine(tmp_path, 5, 35, 20)
    assert codes(found) == ["hole-missing"]
    assert found.findings[0].parts == ("case/s2",)
