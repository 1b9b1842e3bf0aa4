"""`trysquare tune skew`: the piece written, its readings judged, bad readings told by their lines."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from command_line import Run, example_answer
from trysquare.cli.tune_skew import command
from trysquare.publish.mesh_files import threemf_bytes
from trysquare.solid.stl import read_stl
from trysquare.tuning.skew_piece import SIDES, piece_body, piece_lengths

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
DEMO = LARCH / "recordings" / "skew-piece.csv"
TRUE = "plane,along,how,measured_mm\n"


def readings(machine: np.ndarray, shrink: float = 0.0, planes: tuple[str, ...] = ("xy", "xz", "yz")) -> str:
    """What a caliper without error reads on pieces of this machine, each length four times."""
    rows = []
    for plane in planes:
        for one in piece_lengths(plane):
            along = {"first": plane[0], "second": plane[1]}.get(one.along, one.along)
            value = float(np.linalg.norm(machine @ np.array(one.run_mm))) * (1 + shrink)
            rows += [f"{plane},{along},{one.how},{value:.4f}"] * 4
            assert one.how in SIDES
    return TRUE + "\n".join(rows) + "\n"


@pytest.fixture
def table(tmp_path: Path) -> Path:
    return tmp_path / "piece.csv"


def test_a_true_machine_is_square(run: Run, table: Path) -> None:
    table.write_text(readings(np.eye(3)))
    answer = run("tune", "skew", table)
    assert answer.status == 0
    assert "Plane XY: good" in answer.out
    assert "X and y have the same scale" in answer.out


def test_a_skew_frame_is_to_be_trued_again_where_the_machine_says(run: Run) -> None:
    answer = run("tune", "skew", DEMO, "--machine", LARCH)
    assert answer.status == 1
    assert "Plane XY: bad" in answer.out
    assert "Look at gantry-square, then carry-square and base-square" in answer.out
    assert "Plane XZ: good" in answer.out
    assert "quicker corrected in numbers" in answer.out  # YZ, by little


def test_the_facts_hold_skew_and_matrix(run: Run, table: Path) -> None:
    table.write_text(readings(np.array([[1, 0.002, 0], [0, 1, 0], [0, 0, 1]]), planes=("xy",)))
    facts = run("tune", "skew", table, "--json").json
    plane = facts["parts"][0]
    assert plane["value"]["value"] == pytest.approx(0.2, abs=1e-3)
    assert plane["data"]["remedy"] == "frame"
    assert facts["parts"][-1]["data"]["matrix"][0][1] == pytest.approx(-0.002, abs=1e-5)
    assert facts["parts"][-1]["data"]["not_read"] == ["z", "xz", "yz"]


def test_a_travel_by_dial_parts_shrinkage_from_scale(run: Run, table: Path) -> None:
    table.write_text(readings(np.diag([1.002, 1.002, 1.002]), shrink=-0.004, planes=("xy",)))
    facts = run("tune", "skew", table, "--travel", "x=200:200.4", "--json").json
    scale = next(part for part in facts["parts"] if part["of"] == "scale")
    assert scale["data"]["shrinkage_told_apart"]
    assert scale["data"]["scale"]["y"] == pytest.approx(1.002, abs=2e-4)
    assert "The material shrinks by 0.40 %" in " ".join(scale["says"])
    assert scale["verdict"] == "bad"  # 0.2 % where 0.1 % is allowed


def test_typed_readings_of_a_piece_of_ones_own_need_no_file(run: Run) -> None:
    words = ["xy rising 141.55/141.42", "xy falling 141.29/141.42", "xy x 100/100", "xy y 100/100"]
    answer = run("tune", "skew", *(part for word in words for part in ("--reading", word)))
    assert answer.status == 1
    # Source: Euclid II.12 and II.13: (141.55² − 141.29²) / (4 · 100 · 100) = 0.184 in 100
    assert "0.184" in answer.out


@pytest.mark.parametrize("ending", ["stl", "3mf"])
def test_the_piece_is_written_with_its_sheet(run: Run, tmp_path: Path, ending: str) -> None:
    out = tmp_path / f"piece.{ending}"
    answer = run("tune", "skew", "--piece", out, "--plane", "xz")
    assert answer.status == 0
    assert out.stat().st_size > 1000
    sheet = out.with_suffix(".svg").read_text(encoding="utf-8")
    assert "Test piece, plane XZ, 100 mm" in sheet
    assert "three dots at that of +z" in sheet


def test_all_three_pieces_are_written_and_our_own_reader_opens_them(run: Run, tmp_path: Path) -> None:
    answer = run("tune", "skew", "--piece", tmp_path / "piece.stl", "--size-mm", 80, "--json")
    assert [one["plane"] for one in answer.json["pieces"]] == ["xy", "xz", "yz"]
    for one in answer.json["pieces"]:
        body = read_stl(Path(one["file"]))
        assert body.volume() == pytest.approx(one["volume_mm3"], rel=1e-5)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("mine.stl", b"solid of somebody else"),
        ("mine.3mf", threemf_bytes({"a bracket": piece_body("xy")})),
        ("mine.3mf", b"PK and no more"),
    ],
)
def test_anothers_solid_is_never_written_over(run: Run, tmp_path: Path, name: str, content: bytes) -> None:
    out = tmp_path / name
    out.write_bytes(content)
    answer = run("tune", "skew", "--piece", out, "--plane", "xy")
    assert answer.status == 2
    assert out.read_bytes() == content


@pytest.mark.parametrize("ending", ["stl", "3mf"])
def test_our_own_piece_may_be_made_anew(run: Run, tmp_path: Path, ending: str) -> None:
    out = tmp_path / f"piece.{ending}"
    for size in (80, 100):
        assert run("tune", "skew", "--piece", out, "--plane", "xy", "--size-mm", size).status == 0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "read      'nothing'"),
        ("# only words\n", "nothing"),
        (TRUE, "no rows"),
        ("plane,along,how\nxy,x,outside\n", "a heading with measured_mm"),
        (TRUE + "xy,x,outside,100\nxq,x,outside,100\n", "piece.csv:3  plane"),
        (TRUE + "xy,z,outside,100\n", "one of x, y, first"),
        (TRUE + "xy,x,outside,nan\n", "a number above 0"),
        (TRUE + "xy,x,outside,10.0\n", "about the 100 mm it should be"),
        (TRUE + "xy,x,outside,100,05\n", "decimal comma"),
        ("plane,plane,along,measured_mm\nxy,xy,x,100\n", "twice"),
        (TRUE + "xy,x,outsid,100\n", "Did you mean 'outside'"),
    ],
)
def test_a_bad_table_is_told_by_line_and_remedy(run: Run, table: Path, text: str, words: str) -> None:
    table.write_text(text)
    answer = run("tune", "skew", table)
    assert answer.status == 2
    assert words in " ".join((answer.out + answer.err).split("\n"))


def test_one_length_tells_no_skew(run: Run, table: Path) -> None:
    table.write_text(TRUE + "xy,rising,outside,100\n")
    answer = run("tune", "skew", table)
    assert answer.status in (1, 2)
    assert "Plane XY: good" not in answer.out


def test_two_diagonals_alone_judge_the_skew_and_leave_scale_open(run: Run, table: Path) -> None:
    table.write_text(TRUE + "xy,rising,outside,100.1\nxy,falling,outside,99.9\n")
    answer = run("tune", "skew", table)
    assert "Plane XY: bad" in answer.out
    assert "Scale: cannot tell" in answer.out


def test_one_diagonal_with_its_sides_calls_nothing_good(run: Run, table: Path) -> None:
    table.write_text(TRUE + "xy,rising,outside,100\nxy,x,outside,100\nxy,y,outside,100\n")
    answer = run("tune", "skew", table)
    assert "Plane XY: cannot tell" in answer.out
    assert "Read the other" in answer.out


def test_a_reading_that_others_contradict_is_named(run: Run, table: Path) -> None:
    rows = readings(np.eye(3), planes=("xy",)).splitlines()
    rows[1] = "xy,x,outside,100.6"
    table.write_text("\n".join(rows))
    answer = run("tune", "skew", table)
    assert "line 2 is +0." in answer.out
    assert "read it again" in answer.out


def test_semicolons_decimal_commas_and_comments_are_read(run: Run, table: Path) -> None:
    rows = readings(np.eye(3), planes=("xy",)).replace(",", ";").replace(".", ",")
    table.write_text("# cold, twice\n" + rows, encoding="utf-8-sig")
    assert run("tune", "skew", table).status == 0


def test_result_and_file_go_into_the_log(run: Run, folder: Path, table: Path) -> None:
    table.write_text(readings(np.eye(3), planes=("xy",)))
    answer = run("tune", "skew", table, "--machine", folder, "--log", "--json")
    assert answer.status == 0, answer.err
    assert len(answer.json["logged"]["entries"]) == 3
    assert (folder / "log.sqlite").is_file()


def test_the_plot_is_written(run: Run, tmp_path: Path, table: Path) -> None:
    table.write_text(readings(np.eye(3)))
    run("tune", "skew", table, "--plot", tmp_path / "skew.svg")
    drawing = (tmp_path / "skew.svg").read_text(encoding="utf-8")
    assert drawing.count("wished") == 3


@pytest.mark.parametrize("example", command.examples)
def test_every_example_of_tune_skew_runs_as_it_stands(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, example: str
) -> None:
    answer = example_answer(run, monkeypatch, tmp_path, example)
    assert answer.status in (0, 1), answer.err
    assert answer.out
