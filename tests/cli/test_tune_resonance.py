"""`trysquare tune resonance`: what it says, in words and as facts, and how it takes what it cannot use."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import pytest

from command_line import Run

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
SHAKE = LARCH / "recordings" / "x-shake.csv"
LOOSE = LARCH / "recordings" / "x-shake-loose.csv"

# The demo's machine: frame of 2.6 kg at 58 Hz, head of 0.38 kg at 84 Hz on it (tools/demo_shakes.py).
# Source: eigenvalues of its stiffness and mass, K = [[k1 + k2, −k2], [−k2, k2]], by numpy.linalg.eigvals.
TRUE_HZ = (52.133, 93.452)


@pytest.mark.slow
def test_the_demo_s_head_swings_where_it_was_made_to(run: Run) -> None:
    facts = run("tune", "resonance", SHAKE, "--json").json
    (part,) = facts["parts"]
    assert part["of"] == "resonance-x"
    found = [one["hz"] for one in part["data"]["modes"]]
    assert found == pytest.approx(TRUE_HZ, rel=0.01)
    assert part["value"]["value"] == pytest.approx(TRUE_HZ[0], rel=0.01)
    assert part["value"]["unit"] == "Hz"


@pytest.mark.slow
def test_the_text_tells_shaper_acceleration_and_culprit(run: Run) -> None:
    answer = run("tune", "resonance", SHAKE, "--machine", LARCH)
    assert answer.status == 0
    assert "Shape its moves with the robust shaper" in answer.out
    assert "Accelerate by at most" in answer.out
    assert "likely the belts' own spring" in answer.out
    assert "on its belts alone" in answer.out
    assert "Moving parts" in answer.out


@pytest.mark.slow
def test_the_advised_shaper_s_pieces_add_up_to_the_move(run: Run) -> None:
    data = run("tune", "resonance", SHAKE, "--json").json["parts"][0]["data"]
    by_name = {one["name"]: one for one in data["shapers"]}
    assert list(by_name) == ["none", "ZV", "ZVD", "robust"]
    for one in by_name.values():
        assert sum(one["amplitudes"]) == pytest.approx(1, abs=1e-5)
        assert len(one["times_second"]) == len(one["amplitudes"])
    assert by_name["robust"]["left_at_worst"] <= 0.0501


@pytest.mark.slow
@pytest.mark.parametrize(("wanted", "status", "verdict"), [(1000, 0, "good"), (50000, 1, "bad")])
def test_an_acceleration_that_is_asked_for_is_judged(
    run: Run, wanted: int, status: int, verdict: str
) -> None:
    answer = run("tune", "resonance", SHAKE, "--wanted", wanted, "--json")
    assert answer.status == status
    assert answer.json["verdict"] == verdict


@pytest.mark.slow
def test_feet_screwed_down_calm_the_demo(run: Run) -> None:
    facts = run("tune", "resonance", SHAKE, "--before", LOOSE, "--json").json
    change = next(one for one in facts["parts"] if one["of"] == "resonance-change")
    assert change["verdict"] == "good"
    assert change["data"]["change_decibel"]["x"] < -2
    worse = run("tune", "resonance", LOOSE, "--before", SHAKE)
    assert worse.status == 1
    assert "Livelier" in worse.out


@pytest.mark.slow
def test_axes_are_told_when_asked_for(run: Run) -> None:
    facts = run("tune", "resonance", SHAKE, "--axis", "x,z", "--json").json
    assert [part["of"] for part in facts["parts"]] == ["resonance-x", "resonance-z"]


@pytest.mark.slow
def test_the_plot_is_a_drawing(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "x.svg"
    assert run("tune", "resonance", SHAKE, "--before", LOOSE, "--plot", file).status == 0
    drawing = file.read_text()
    assert drawing.startswith("<svg")
    for name in ("before", "measured", "modes and floor", "ZVD", "robust"):
        assert f">{name}<" in drawing


@pytest.mark.slow
def test_the_result_goes_into_the_build_log(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "larch"
    shutil.copytree(LARCH, folder, ignore=shutil.ignore_patterns(".trysquare-cache", "boxes"))
    answer = run("tune", "resonance", SHAKE, "--machine", folder, "--log")
    assert answer.status == 0
    assert "Recorded in the build log" in answer.out
    assert "resonance-x" in run("log", "show", folder, "--json").out


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "rows of numbers: time, x, y, z"),
        ("time,x,y,z\n0,1,2,3\n0.1,1,2,3\n", "200 or more"),
        ("x,y,z\n" + "1,2,3\n2,1,3\n" * 200, "--rate"),
        ("time,x,y,z\n" + "".join(f"{i / 100},1,1,1\n" for i in range(400)), "never change"),
        ("time_s,x,y,z\n" + "".join(f"{i / 30},{i % 7},1,{i % 3}\n" for i in range(400)), "write faster"),
    ],
)
def test_what_is_no_recording_is_told_without_a_traceback(
    run: Run, tmp_path: Path, text: str, said: str
) -> None:
    file = tmp_path / "a.csv"
    file.write_text(text)
    answer = run("tune", "resonance", file)
    assert answer.status == 2
    assert said in " ".join((answer.out + answer.err).split())
    assert "Traceback" not in answer.err


@pytest.mark.slow
@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--axis", "w"), "no column for 'w'"),
        (("--band", "50-20"), "--band"),
        (("--band", "nan-200"), "--band"),
        (("--log",), "--machine"),
        (("--rate", "0"), "--rate"),
        (("--rate", "1000000"), "Is --rate the sensor's"),
        (("--before", "nowhere.csv"), "nowhere.csv"),
    ],
)
def test_odd_options_are_told(run: Run, options: tuple[str, ...], said: str) -> None:
    answer = run("tune", "resonance", SHAKE, *options)
    assert answer.status == 2
    assert said in answer.out + answer.err
    assert "Traceback" not in answer.err


def altered(
    file: Path, heading: str = "time_s,x_m/s2,y_m/s2,z_m/s2", most: float = 1e9, hum: float = 0.0
) -> Path:
    """The demo's shake under another heading, cut off at `most`, or its head standing still beside a hum."""
    rows = [[float(one) for one in line.split(",")] for line in SHAKE.read_text().splitlines()[2:]]
    lines = [heading]
    for time, x, y, z in rows:
        along = hum * math.sin(2 * math.pi * 50 * time) if hum else max(-most, min(most, x))
        lines.append(f"{time},{along:.6f},{0 if hum else y},{9.81 if hum else z}")
    file.write_text("\n".join(lines) + "\n")
    return file


@pytest.mark.slow
def test_the_mains_hum_is_not_taken_for_a_swing(run: Run, tmp_path: Path) -> None:
    part = run("tune", "resonance", altered(tmp_path / "hum.csv", hum=2.0), "--json").json["parts"][0]
    assert part["verdict"] == "cannot tell"
    assert "driven" in [doubt["code"] for doubt in part["doubts"]]


@pytest.mark.slow
def test_a_sensor_at_the_end_of_its_range_is_told(run: Run, tmp_path: Path) -> None:
    part = run("tune", "resonance", altered(tmp_path / "cut.csv", most=3.0), "--json").json["parts"][0]
    assert "range" in [doubt["code"] for doubt in part["doubts"]]
    assert any("end of its range" in note for note in part["notes"])
    whole = run("tune", "resonance", SHAKE, "--json").json["parts"][0]
    assert not whole["doubts"]


@pytest.mark.slow
def test_gravity_shows_a_heading_with_another_unit(run: Run, tmp_path: Path) -> None:
    answer = run("tune", "resonance", altered(tmp_path / "unit.csv", "time_s,x_g,y_g,z_g"))
    assert "that is m/s², though the heading says g" in " ".join(answer.out.split())
