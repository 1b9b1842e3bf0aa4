"""A part that the folder describes and nothing uses is noted, with what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from command_line import DEMO
from machine.folders import GOOD, good
from trysquare.ground.findings import Finding
from trysquare.machine.load import load_machine
from trysquare.stock.unused_parts import unused_findings

BRACKET = '\n[part.{id}]\nkind = "printed"\nmaterial = "PETG"\nsize_mm = [10, 10, 5]\n'


def found(folder: Path, **changes: str) -> tuple[Finding, ...]:
    files = {"parts.toml": GOOD["parts.toml"] + BRACKET.format(id="cable-clip"), **changes}
    return unused_findings(load_machine(good(folder, files)))


def test_a_part_that_stands_nowhere_is_noted_at_its_line_with_its_remedy(tmp_path: Path) -> None:
    (finding,) = found(tmp_path)
    assert (finding.code, finding.weight) == ("part-unused", "note")
    assert finding.says.startswith("cable-clip is described and stands nowhere")
    assert finding.remedy == "Place it in a unit, name it in a step's using, or delete [part.cable-clip]."
    assert finding.where is not None
    assert (finding.where.file, finding.where.key) == ("parts.toml", "part.cable-clip")


def test_a_part_called_almost_as_one_in_use_asks_whether_it_is_that(tmp_path: Path) -> None:
    (finding,) = found(tmp_path, **{"parts.toml": GOOD["parts.toml"] + BRACKET.format(id="plate-1")})
    assert finding.says.endswith("Is it 'plate'?")


def test_a_part_on_the_list_or_in_a_steps_using_is_used(tmp_path: Path) -> None:
    steps = GOOD["steps.toml"] + (
        '\n[[step]]\nid = "clip"\ntitle = "Clip"\nunit = "frame"\n'
        'actions = [{ note = "Hold it.", using = ["cable-clip"] }]\n'
    )
    assert found(tmp_path / "a", **{"steps.toml": steps}) == ()
    assert (
        found(tmp_path / "b", **{"list.csv": GOOD.get("list.csv", "part,pieces\n") + "cable-clip,2\n"}) == ()
    )


def test_a_part_that_a_paper_took_out_is_not_spoken_of(tmp_path: Path) -> None:
    unit = GOOD["units/frame.toml"].replace(
        "[place]\n", '[place]\nclip = { part = "cable-clip", at_mm = [500, 0, 0] }\n'
    )
    paper = (
        'title = "Out"\nkind = "modification"\nedition = "1"\n[[remove]]\nline = "unit.frame.place.clip"\n'
    )
    assert found(tmp_path, **{"units/frame.toml": unit, "papers/out.toml": paper}) == ()


def test_a_folder_that_places_nothing_yet_has_no_part_left_over(tmp_path: Path) -> None:
    (tmp_path / "machine.toml").write_text('format = 1\nname = "Bare"\n')
    (tmp_path / "parts.toml").write_text(BRACKET.format(id="clip"))
    assert unused_findings(load_machine(tmp_path)) == ()


@pytest.mark.parametrize("demo", ["larch", "reed", "reed-joints"])
def test_the_demos_describe_no_part_that_nothing_uses(demo: str) -> None:
    assert unused_findings(load_machine(DEMO / demo)) == ()
