"""`trysquare tune wiring`: the demo's cables, earth readings, sign-offs in their order."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from command_line import Run

pytestmark = pytest.mark.slow

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
EARTH = LARCH / "recordings" / "earth.csv"


@pytest.fixture
def wired_copy(tmp_path: Path) -> Path:
    """A copy of the demo machine, to keep a log in."""
    folder = tmp_path / "larch"
    shutil.copytree(LARCH, folder, ignore=shutil.ignore_patterns(".trysquare-cache", "boxes", "*.sqlite"))
    return folder


def test_the_demo_s_wiring_is_told_with_its_cautions(run: Run) -> None:
    answer = run("tune", "wiring", LARCH)
    assert answer.status == 1
    for words in ("Cable runs", "Heater circuits", "Supply", "Bundles", "Cables that move", "Pin maps",
                  "Protective earth", "First power", "licensed"):  # fmt: skip
        assert words in answer.out


def test_the_facts_have_every_run(run: Run) -> None:
    facts = run("tune", "wiring", "--machine", LARCH, "--json").json
    runs = next(part for part in facts["parts"] if part["of"] == "cable runs")["data"]["runs"]
    assert len(runs) == 51
    assert {one["role"] for one in runs} >= {"mains", "earth", "supply", "heater", "motor", "fan", "signal"}


def test_a_tag_without_a_path_is_bad_and_a_point_not_read_is_said(run: Run) -> None:
    answer = run("tune", "wiring", LARCH, "--earth", EARTH)
    assert "tag-left-top reads 2.4" in answer.out
    assert "1 of 28 points are not read" in answer.out


@pytest.mark.slow
def test_checks_are_signed_in_order_and_kept_in_the_log(run: Run, wired_copy: Path) -> None:
    out_of_turn = run("tune", "wiring", wired_copy, "--sign", "alone=A. Builder", "--log")
    assert out_of_turn.status == 2
    assert "comes after unplugged" in out_of_turn.err
    signed = run("tune", "wiring", wired_copy, "--sign", "unplugged=A. Builder", "--log", "--json").json
    assert any(part["of"] == "first power: unplugged" for part in signed["parts"])
    after = run("tune", "wiring", wired_copy, "--json").json
    checklist = next(part for part in after["parts"] if part["of"] == "first power")
    assert checklist["data"]["open"][0] == "selector"
    assert checklist["tables"][0]["rows"][0][-1] == "signed by A. Builder"


def test_nobody_signs_the_earth_while_a_point_reads_badly(run: Run, wired_copy: Path) -> None:
    signs = [
        word for name in ("unplugged", "selector", "fuse", "earth") for word in ("--sign", f"{name}=A. B.")
    ]
    answer = run("tune", "wiring", wired_copy, "--earth", EARTH, *signs, "--log")
    assert answer.status == 2
    assert "no earth path" in answer.err


@pytest.mark.slow
@pytest.mark.parametrize(
    "said",
    [
        (),
        (LARCH, "--machine", LARCH),
        (LARCH, "--sign", "unplugged=X"),
        (LARCH, "--supply", "0"),
        (LARCH / "nowhere",),
        (LARCH, "--earth", LARCH),
        (LARCH, "--earth", LARCH / "machine.toml"),
    ],
)
def test_what_cannot_be_used_is_said_without_a_traceback(run: Run, said: tuple[object, ...]) -> None:
    answer = run("tune", "wiring", *said)
    assert answer.status == 2
    assert "Traceback" not in answer.err


@pytest.mark.slow
@pytest.mark.parametrize(
    ("key", "value", "says"), [("ampere", "416", "10.0 kW"), ("volt", "0", "carries nothing")]
)
def test_absurd_runs_of_a_folder_are_told_in_words(
    run: Run, wired_copy: Path, key: str, value: str, says: str
) -> None:
    file = wired_copy / "units" / "wiring.toml"
    head, mark, tail = file.read_text(encoding="utf-8").partition("[joint.bed-heat-plus]")
    old = {"ampere": "ampere = 6.7", "volt": "volt = 24"}[key]
    file.write_text(head + mark + tail.replace(old, f"{key} = {value}", 1), encoding="utf-8")
    answer = run("tune", "wiring", wired_copy)
    assert answer.status == 1
    assert says in " ".join(answer.out.split())


def test_an_earth_point_that_the_meter_shows_open_is_no_path(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "earth.csv"
    file.write_text("point,ohm\ntag-plate,OL\n")
    answer = run("tune", "wiring", LARCH, "--earth", file)
    assert answer.status == 1
    assert "electronics/tag-plate reads open: no earth path. Do not plug it in." in answer.out


def test_the_first_motion_and_the_first_heat_carry_their_cautions(run: Run) -> None:
    facts = run("tune", "wiring", LARCH, "--json").json
    assert {"mains", "selector", "earth", "heater", "hot", "motion", "terminals"} == {
        caution["id"] for caution in facts["cautions"]
    }
    assert "Drives off: each end switch pressed by" in " ".join(run("tune", "wiring", LARCH).out.split())


def test_the_plot_sets_every_run_and_supply_against_its_limit(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "wiring.svg"
    assert run("tune", "wiring", LARCH, "--supply", "250", "--plot", out).status == 1
    svg = out.read_text("utf-8")
    assert "of 250 W" in svg
    assert 'class="over"' in svg, "271 W are more than 80 % of 250 W"
    for words in ("Motor A", "Drop to the heaters", "Drop in each run"):
        assert words in svg


def test_a_fault_in_the_earth_readings_is_laid_to_their_file(run: Run, tmp_path: Path) -> None:
    readings = tmp_path / "earth.csv"
    readings.write_text("point,ohm\nframe,abc\n", "utf-8")
    answer = run("tune", "wiring", LARCH, "--earth", readings)
    assert answer.status == 2
    assert "earth.csv: 1 problem" in " ".join(answer.err.split())
