"""`trysquare tune surface`: turns, shape, heat and dirt of a bed's map, and what is no map."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from command_line import Run

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
MAP, COLD = (LARCH / "recordings" / f"{name}.csv" for name in ("bed-map", "bed-map-cold"))
THREE = ("--screw", "front:90,31", "--screw", "left:30,186", "--screw", "right:150,186")


@pytest.fixture
def larch_folder(tmp_path: Path) -> Path:
    folder = tmp_path / "larch"
    shutil.copytree(LARCH, folder, ignore=shutil.ignore_patterns(".trysquare-cache", "boxes", "*.sqlite"))
    return folder


def written(file: Path, points: list[tuple[float, float, float]], heading: str = "x_mm,y_mm,z_mm") -> Path:
    file.write_text("\n".join([heading, *(f"{x:g},{y:g},{z:.4f}" for x, y, z in points)]) + "\n")
    return file


def tilted(slope_x: float, count: int = 5) -> list[tuple[float, float, float]]:
    places = np.linspace(10, 170, count).tolist()
    return [(x, y, slope_x * x) for y in places for x in places]


def test_the_machine_s_own_screws_are_found_with_their_pitch_and_place(run: Run) -> None:
    facts = run("tune", "surface", MAP, "--machine", LARCH, "--json").json
    level = facts["parts"][0]
    assert [turn["screw"] for turn in level["data"]["turns"]] == ["front-point", "left-point", "right-point"]
    rows = level["tables"][0]["rows"]
    # Larch's nozzle stands at 210, 154 with x and y at 90; its screws at 210, 95 … of the machine.
    assert [row[1] for row in rows] == ["90, 31", "30, 186", "150, 186"]
    assert {row[-1] for row in rows} == {"0.7"}


def test_turns_of_the_demo_level_the_tilt_that_it_was_made_with(run: Run) -> None:
    facts = run("tune", "surface", MAP, *THREE, "--json").json
    turns = facts["parts"][0]["data"]["turns"]
    # Made with 0.25 mm over 160 mm along x and −0.12 along y.
    heights = [0.25 / 160 * x - 0.12 / 160 * y for x, y in ((90, 31), (30, 186), (150, 186))]
    for turn, height in zip(turns, heights, strict=True):
        lift = sum(heights) / 3 - height
        assert turn["lift_mm"] == pytest.approx(lift, abs=max(0.008, turn["lift_expanded_mm"]))
        assert turn["turns_clockwise"] == pytest.approx(-turn["lift_mm"] / 0.7, abs=1e-3)


def test_the_crumb_is_named_with_its_place_and_left_out(run: Run) -> None:
    answer = run("tune", "surface", MAP, *THREE)
    assert answer.status == 1
    assert "At x 90, y 50 (line 10)" in answer.out
    assert "a crumb" in answer.out


def test_heat_s_bow_is_the_difference_of_both_maps(run: Run) -> None:
    facts = run("tune", "surface", MAP, *THREE, "--cold", COLD, "--json").json
    heat = next(part for part in facts["parts"] if part["of"] == "bed-heat")
    # Made with bows of 0.05 hot and 0.01 cold over the half width, on both axes: the corner is 2 × lower.
    assert heat["value"]["value"] == pytest.approx(0.04, abs=0.02)
    assert [caution["id"] for caution in facts["cautions"]] == ["motion", "hot"]


def test_a_level_flat_bed_is_good(run: Run, tmp_path: Path) -> None:
    answer = run("tune", "surface", written(tmp_path / "m.csv", tilted(1e-5)), *THREE)
    assert answer.status == 0
    assert "level and flat enough" in answer.out


def test_hand_side_fixed_screw_and_lock_nut_change_the_words(run: Run, tmp_path: Path) -> None:
    file = written(tmp_path / "m.csv", tilted(0.002))
    right = run("tune", "surface", file, *THREE, "--fixed", "left", "--lock-nut")
    left = run("tune", "surface", file, *THREE, "--fixed", "left", "--hand", "left", "--from", "below")
    # From x 30 to 150 the bed rises 0.24 mm: 0.34 of a turn of M4.
    assert "Turn right 123° (0.34 of a turn) clockwise, seen from above" in " ".join(right.out.split())
    assert "Turn right 123° (0.34 of a turn) anticlockwise, seen from below" in " ".join(left.out.split())
    assert "Loosen each lock nut first" in right.out
    assert "Turn left" not in right.out


def test_a_plate_that_is_not_flat_is_no_screw_s_fault(run: Run, tmp_path: Path) -> None:
    points = [(x, y, 0.4 * ((x - 90) ** 2 + (y - 90) ** 2) / 80**2 / 2) for x, y, _ in tilted(0.0)]
    answer = run("tune", "surface", written(tmp_path / "m.csv", points), *THREE)
    assert answer.status == 1
    assert "no screw can help" in answer.out
    assert "the middle stands low" in answer.out
    assert "none will do" in answer.out


def test_without_screws_the_tilt_is_told_and_how_to_know_more(run: Run, tmp_path: Path) -> None:
    answer = run("tune", "surface", written(tmp_path / "m.csv", tilted(0.002)))
    assert answer.status == 1
    assert "--screw" in answer.out


def test_four_points_do_not_tell_flatness(run: Run, tmp_path: Path) -> None:
    facts = run("tune", "surface", written(tmp_path / "m.csv", tilted(0.0, 2)), "--json").json
    assert facts["parts"][1]["verdict"] == "cannot tell"
    assert facts["verdict"] == "cannot tell"


def test_maps_of_unlike_places_do_not_tell_of_heat(run: Run, tmp_path: Path) -> None:
    other = written(tmp_path / "c.csv", [(x + 7, y, z) for x, y, z in tilted(1e-4)])
    facts = run("tune", "surface", MAP, "--cold", other, "--json").json
    assert facts["parts"][2]["verdict"] == "cannot tell"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "nothing"),
        ("x_mm,y_mm,z_mm\n", "no rows"),
        ("x,y,z\n1,2,3\n2,3,4\n", "x_mm"),
        ("x_mm,y_mm,z_mm\n1,2,three\n", "three"),
        ("x_mm,y_mm,z_mm\n1,2,nan\n3,4,5\n", "nan"),
        ("x_mm,y_mm,z_mm\n1,2,3\n3,4,5\n5,1,3\n", "at least 4 points"),
        ("x_mm,y_mm,z_mm\n1,2,0\n1,4,0\n1,6,0\n1,9,0\n", "All rows have the same"),
        ("x_mm,y_mm,z_mm\n1,1,0\n2,2,0\n3,3,0\n4,4,0\n", "on one line"),
        ("x_mm,y_mm,z_mm\n0,0,10\n100,0,90\n0,100,0\n100,100,170\n", "another order"),
    ],
)
def test_what_is_no_map_is_told_by_line(run: Run, tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "m.csv"
    file.write_text(text)
    answer = run("tune", "surface", file)
    assert answer.status == 2
    assert said in " ".join((answer.out + answer.err).split())
    assert "m.csv" in answer.out + answer.err


def test_a_decimal_comma_with_semicolons_is_read(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "m.csv"
    rows = [f"{x:g};{y:g};{z:.4f}".replace(".", ",") for x, y, z in tilted(1e-4)]
    file.write_text("\n".join(["# by hand", "x_mm;y_mm;z_mm", *rows]))
    assert run("tune", "surface", file).status == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--screw", "front"), "front:90,31"),
        (("--screw", "a:1,2", "--screw", "a:3,4"), "one name"),
        ((*THREE, "--fixed", "lft"), "Did you mean 'left'?"),
        (("--origin", "1,2"), "--machine"),
        (("--machine", str(LARCH), "--origin", "1"), "x and y"),
        (("--log",), "--machine"),
    ],
)
def test_options_that_cannot_be_are_told(run: Run, words: tuple[str, ...], said: str) -> None:
    answer = run("tune", "surface", MAP, *words)
    assert answer.status == 2
    assert said in " ".join((answer.out + answer.err).split())


def test_the_plot_shows_heights_screws_and_dirt(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "bed.svg"
    run("tune", "surface", MAP, *THREE, "--plot", out)
    drawn = out.read_text()
    assert drawn.count('class="screw"') == 3
    assert drawn.count('class="dirt"') == 1
    assert drawn.count('class="high"') + drawn.count('class="low"') == 24


@pytest.mark.slow
def test_the_result_goes_into_the_log_with_its_file(run: Run, larch_folder: Path) -> None:
    facts = run("tune", "surface", MAP, "--machine", larch_folder, "--log", "--json").json
    assert len(facts["logged"]["entries"]) == 2
    assert facts["logged"]["too_large_to_keep"] == []


@pytest.mark.parametrize("machine", [(), THREE])
def test_a_map_in_inches_is_no_map_of_a_bed(run: Run, tmp_path: Path, machine: tuple[str, ...]) -> None:
    points = [(x / 25.4, y / 25.4, z / 25.4) for x, y, z in tilted(1e-3)]
    facts = run("tune", "surface", written(tmp_path / "inch.csv", points), *machine, "--json").json
    assert [part["verdict"] for part in facts["parts"]] == ["cannot tell"] * 2
    assert "no bed is that small" in facts["parts"][0]["says"][0]


def test_a_map_beside_the_screws_is_not_judged(run: Run, tmp_path: Path) -> None:
    points = [(x + 1000, y, z) for x, y, z in tilted(1e-3)]
    facts = run("tune", "surface", written(tmp_path / "far.csv", points), *THREE, "--json").json
    assert facts["verdict"] == "cannot tell"
    assert "the screws stand at 30 to 150 along x" in facts["parts"][0]["says"][0]


def test_a_map_of_noughts_is_not_called_level(run: Run, tmp_path: Path) -> None:
    facts = run("tune", "surface", written(tmp_path / "flat.csv", tilted(0.0)), "--json").json
    assert facts["verdict"] == "cannot tell"
    assert "before it was probed" in facts["parts"][0]["says"][0]
