"""`trysquare tune heat`: text, facts, exit status, plot, log, and what it cannot use."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from command_line import Run

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
STEP, CYCLES = LARCH / "recordings" / "bed-step.csv", LARCH / "recordings" / "hot-end-cycles.csv"
HOLD = LARCH / "recordings" / "bed-hold.csv"


@pytest.fixture
def larch_copy(tmp_path: Path) -> Path:
    """A copy of the demo machine, to keep a log in."""
    folder = tmp_path / "larch"
    shutil.copytree(LARCH, folder, ignore=shutil.ignore_patterns(".trysquare-cache", "boxes", "*.sqlite"))
    return folder


def test_a_heater_before_its_power_is_on(run: Run) -> None:
    answer = run("tune", "heat", "--power", "160", "--plate", "200x200x4", "--target", "90", "--ohm", "3.6",
                 "--ohm-within", "0.1")  # fmt: skip
    assert answer.status == 0
    assert "6.7 A at 24 V" in answer.out
    assert "Warm-up" in answer.out
    assert "thermal cut-off" in answer.out


def test_the_demo_s_step_gives_settings_with_their_rule(run: Run) -> None:
    facts = run("tune", "heat", STEP, "--target", "90", "--json").json
    heater, controller = facts["parts"]
    # Source: the lumps of tools/demo_heat.py: 160 W, 620 J/K, 1.05 W/K; its sensor lags
    assert heater["data"]["gain_kelvin_per_percent"] == pytest.approx(1.6 / 1.05, rel=0.01)
    assert heater["data"]["time_constant_second"] == pytest.approx(620 / 1.05, rel=0.02)
    assert heater["data"]["dead_time_second"] == pytest.approx(15, abs=2)
    assert controller["data"]["rule"] == "amigo"
    assert len(controller["tables"][0]["rows"]) == 6


def test_cycles_bring_the_rules_of_the_swing(run: Run) -> None:
    facts = run("tune", "heat", CYCLES, "--target", "210", "--rule", "tyreus-luyben", "--json").json
    assert facts["parts"][1]["data"]["rule"] == "tyreus-luyben"


def test_the_demo_s_loose_sensor_is_warned_of(run: Run) -> None:
    answer = run("tune", "heat", "--hold", HOLD)
    assert answer.status == 1
    assert "has come loose" in answer.out


@pytest.mark.slow
def test_the_plot_is_drawn_and_the_result_logged(run: Run, larch_copy: Path, tmp_path: Path) -> None:
    plot = tmp_path / "heat.svg"
    answer = run("tune", "heat", STEP, "--machine", larch_copy, "--log", "--plot", plot, "--json")
    assert answer.json["logged"]["entries"]
    assert plot.read_text(encoding="utf-8").startswith("<svg")


def test_a_table_of_a_sensor(run: Run) -> None:
    answer = run("tune", "heat", "--sensor", "pt100", "--table", "0:100:50")
    assert answer.status == 0
    assert "138.51" in answer.out


@pytest.mark.parametrize(
    "said",
    [
        (),
        ("--power", "0"),
        ("--ohm", "3"),
        ("--power", "160", "--plate", "200"),
        ("--power", "160", "--plate", "1e9x1x1"),
        ("--power", "160", "--plate", "200x200x4", "--target", "20"),
        ("--sensor", "warm"),
        ("--sensor", "pt100", "--table", "0:100:0"),
        ("--sensor", "pt100", "--table", "nan:1:1"),
    ],
)
def test_what_does_not_go_together_is_said(run: Run, said: tuple[str, ...]) -> None:
    answer = run("tune", "heat", *said)
    assert answer.status == 2
    assert "Traceback" not in answer.err


def test_ten_kilowatts_on_24_volts_and_no_ohm_are_bad_in_words(run: Run) -> None:
    answer = run("tune", "heat", "--power", "10000", "--ohm", "0", "--plate", "300x300x6")
    assert answer.status == 1
    assert "417 A" in answer.out


@pytest.mark.parametrize(
    "text",
    [
        "",
        "hello",
        "time_s,power_percent,temperature_celsius\n",
        "time_s,power_percent,temperature_celsius\n0,0,x\n",
        "time_s,power_percent,temperature_celsius\n" + "".join(f"{n},50,20\n" for n in range(20)),
        "\0\0\0",
    ],
)
def test_a_file_that_tells_nothing_is_refused_without_a_traceback(
    run: Run, tmp_path: Path, text: str
) -> None:
    file = tmp_path / "heat.csv"
    file.write_text(text, encoding="utf-8")
    answer = run("tune", "heat", file)
    assert answer.status == 2
    assert answer.err
    assert "Traceback" not in answer.err


def changed(
    file: Path, times: float = 1.0, factor: float = 1.0, plus: float = 0.0, jump: float = 0.0
) -> Path:
    """The demo's step with other times and temperatures, and every seventh sample off by `jump`."""
    rows = [line.replace(",", ".").split(";") for line in STEP.read_text().splitlines()[2:]]
    lines = [
        f"{float(t) * times:g},{p},{float(c) * factor + plus + (jump if n % 7 == 3 else 0):.3f}"
        for n, (t, p, c) in enumerate(rows)
    ]
    file.write_text("\n".join(["time_s,power_percent,temperature_celsius", *lines]) + "\n")
    return file


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"times": 1000.0}, "times"),
        ({"factor": 1.8, "plus": 32.0}, "warm-start"),
        ({"jump": 6.0}, "loose"),
    ],
)
def test_milliseconds_fahrenheit_and_a_loose_sensor_are_not_tuned_to(
    run: Run, tmp_path: Path, change: dict[str, float], code: str
) -> None:
    facts = run("tune", "heat", changed(tmp_path / "step.csv", **change), "--target", 90, "--json").json
    assert facts["verdict"] == "cannot tell"
    assert code in [doubt["code"] for doubt in facts["parts"][0]["doubts"]]
    assert facts["parts"][1]["verdict"] == "cannot tell"


def test_a_plot_without_a_record_is_no_reason_to_refuse(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "none.svg"
    answer = run("tune", "heat", "--power", 160, "--plot", file)
    assert answer.status == 0
    assert "nothing is drawn" in answer.err
    assert not file.exists()


def test_a_plot_of_nothing_recorded_is_told_and_the_rest_is_reckoned(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "x.svg"
    answer = run("tune", "heat", "--plot", out, "--power", "160")
    assert answer.status == 0
    assert "draws a RECORD" in answer.err
    assert not out.exists()


def test_the_machine_s_own_heaters_are_reckoned_with_the_plate_that_each_lies_on(run: Run) -> None:
    facts = run("tune", "heat", "--machine", LARCH, "--target", "90", "--json").json
    parts = {part["title"]: part for part in facts["parts"]}
    assert set(parts) == {"Heater bed/heater", "Warm-up", "Heater toolhead/heater"}
    bed = {line["label"]: line for line in parts["Heater bed/heater"]["lines"]}
    assert "3.600 Ω" in bed["meter, cold"]["says"]  # 24²/160
    assert any("bed/plate" in note for note in parts["Heater bed/heater"]["notes"])
    typed = run("tune", "heat", "--power", "160", "--plate", "200x200x4", "--target", "90", "--json").json
    by_hand = {line["label"]: line for part in typed["parts"] for line in part["lines"]}
    own = {line["label"]: line for line in parts["Warm-up"]["lines"]}
    # The folder's plate is the one typed here, but for its three screw holes: 388 for 389 J/K.
    assert own["warm-up"]["says"] == by_hand["warm-up"]["says"]
    assert own["takes up"]["says"].startswith("388 J for each kelvin")


def test_a_machine_without_a_heater_says_what_to_give(run: Run) -> None:
    answer = run("tune", "heat", "--machine", LARCH.parent / "reed-joints")
    assert answer.status == 2
    assert "--power WATT" in answer.err


def test_a_resistance_goes_with_one_heater_only(run: Run) -> None:
    assert "--power WATT" in run("tune", "heat", "--machine", LARCH, "--ohm", "3").err
