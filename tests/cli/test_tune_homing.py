"""`trysquare tune homing`: repeatability, drift, touches astray, the probe's offset."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from command_line import Run

TOUCHES = Path(__file__).resolve().parents[2] / "demo" / "larch" / "recordings" / "touches.csv"


def written(file: Path, positions: list[float]) -> Path:
    file.write_text("\n".join(["position_mm", *(f"{one:.5f}" for one in positions)]) + "\n")
    return file


def scattered(count: int, deviation: float, drift: float = 0.0) -> list[float]:
    random = np.random.default_rng(5)
    return (deviation * random.standard_normal(count) + drift * np.arange(count) / (count - 1)).tolist()


def test_the_demo_s_probe_is_good_and_its_offset_is_that_it_was_made_with(run: Run) -> None:
    facts = run("tune", "homing", TOUCHES, "--json").json
    assert [part["of"] for part in facts["parts"]] == ["homing-z-probe", "homing-z-tool", "offset-z"]
    offset = facts["parts"][2]["value"]
    assert offset["value"] == pytest.approx(1.84, abs=2 * offset["expanded"])
    assert facts["parts"][0]["data"]["astray_lines"] == [16]


def test_an_offset_that_the_machine_has_wrong_is_bad(run: Run) -> None:
    answer = run("tune", "homing", TOUCHES, "--offset", "1.8")
    assert answer.status == 1
    assert "set 1.8" in answer.out
    assert run("tune", "homing", TOUCHES, "--offset", "1.84").status == 0


def test_a_switch_that_scatters_is_bad_and_says_where_to_look(run: Run, tmp_path: Path) -> None:
    answer = run("tune", "homing", written(tmp_path / "t.csv", scattered(30, 0.05)))
    assert answer.status == 1
    assert "scatters too much" in answer.out
    assert "Look at the switch" in answer.out


def test_few_touches_near_the_bound_cannot_tell_and_say_how_many_would(run: Run, tmp_path: Path) -> None:
    answer = run("tune", "homing", written(tmp_path / "t.csv", scattered(5, 0.008)))
    assert answer.status == 1
    assert "cannot be told from 5 touches" in answer.out
    assert "in one go" in answer.out


def test_a_tolerance_of_one_s_own_decides(run: Run, tmp_path: Path) -> None:
    file = written(tmp_path / "t.csv", scattered(30, 0.01))
    assert run("tune", "homing", file, "--tolerance", "0.2").status == 0
    assert run("tune", "homing", file, "--tolerance", "0.02").status == 1


def test_a_switch_that_creeps_is_bad_however_little_it_scatters(run: Run, tmp_path: Path) -> None:
    answer = run("tune", "homing", written(tmp_path / "t.csv", scattered(30, 0.002, 0.1)))
    assert answer.status == 1
    assert "creeps up by 0.099 ± 0.002 mm" in answer.out


def test_readings_that_are_all_the_same_are_never_good(run: Run, tmp_path: Path) -> None:
    answer = run("tune", "homing", written(tmp_path / "t.csv", [1.25] * 12))
    assert answer.status == 1
    assert "last digit" in answer.out


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("position_mm\n1.0\n1.1\n", "at least 3 touches"),
        ("position_mm\n1.0\n1.1\n12.0\n1.05\n", "within 5 mm"),
        ("z\n1\n2\n", "position_mm"),
        ("axis,position_mm\nw,1\nz,2\nz,2\n", "one of x, y, z"),
        ("position_mm\n1,0\n1,1\n1,2\n", "cells"),
        ("position_mm\ninf\n1\n1\n", "inf"),
    ],
)
def test_what_are_no_touches_is_told_by_line(run: Run, tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "t.csv"
    file.write_text(text)
    answer = run("tune", "homing", file)
    assert answer.status == 2
    assert said in " ".join((answer.out + answer.err).split())


def test_the_plot_marks_the_touch_that_went_astray(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "touches.svg"
    run("tune", "homing", TOUCHES, "--plot", out)
    assert "astray +" in out.read_text()


def test_what_shows_no_scatter_or_creeps_serves_no_tolerance(run: Run, tmp_path: Path) -> None:
    still, creeping = tmp_path / "still.csv", tmp_path / "creeping.csv"
    still.write_text("position_mm\n" + "0.5\n" * 10)
    creeping.write_text("position_mm\n" + "".join(f"{1 + 0.01 * n + 0.001 * (n % 2)}\n" for n in range(12)))
    assert "not known: no scatter was seen" in run("tune", "homing", still).out
    assert "nothing while it creeps" in run("tune", "homing", creeping).out
