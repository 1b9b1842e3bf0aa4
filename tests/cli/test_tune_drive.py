"""`trysquare tune drive`: each question by itself, several at once, and what cannot be asked."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from command_line import Run, example_answer
from trysquare.cli.tune_drive import command

pytestmark = pytest.mark.slow

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"
TRAVEL, POSITIONS = (LARCH / "recordings" / name for name in ("x-travel.csv", "x-positions.csv"))
MOTOR = ("--ohm", 1.6, "--inductance", 3, "--rated", 1.5, "--holding", 0.4, "--rotor", 54)


def part(facts: Any, of: str) -> Any:
    return next(one for one in facts["parts"] if one["of"] == of)


def test_steps_come_from_the_machines_drives(run: Run) -> None:
    facts = run("tune", "drive", "--machine", LARCH, "--json").json
    made = {one["drive"]: one["steps_per_mm"] for one in part(facts, "steps")["data"]["drives"]}
    # Source: kinematics, by hand: 200 · 16 / (24 · 2) and 200 · 16 / (2 · 4)
    assert made["motion/left-pulley"] == pytest.approx(66.6666667)
    assert made["z-drive/screw-left"] == pytest.approx(400)


@pytest.mark.parametrize(
    ("words", "per_mm"),
    [
        (("--teeth", 20, "--pitch", 2, "--full-steps", 400), 160.0),  # Source: ledger motion.csv MOT-003
        (("--teeth", 15, "--pitch", 3), 71.1111111),  # Source: ledger motion.csv MOT-006
        (("--pitch", 5, "--starts", 1), 640.0),  # Source: ledger motion.csv MOT-009
    ],
)
def test_typed_steps_agree_with_the_ledger(run: Run, words: tuple[object, ...], per_mm: float) -> None:
    facts = run("tune", "drive", *words, "--json").json
    assert part(facts, "steps")["value"]["value"] == pytest.approx(per_mm, abs=1e-6)


def test_steps_set_for_another_pulley_are_known(run: Run) -> None:
    answer = run("tune", "drive", "--teeth", 24, "--pitch", 2, "--now", 80)
    assert answer.status == 1
    assert "the pulley has 24 teeth, not 20" in " ".join(answer.out.split())


def test_steps_that_are_right_are_good(run: Run) -> None:
    assert run("tune", "drive", "--machine", LARCH, "--axis", "x", "--now", 66.667).status == 0


def test_travels_give_scale_and_lost_motion(run: Run) -> None:
    answer = run("tune", "drive", TRAVEL, "--now", 66.667, "--json")
    scale, lost = part(answer.json, "scale"), part(answer.json, "lost-motion")
    assert scale["data"]["scale"] == pytest.approx(1.0008, abs=2e-4)
    assert lost["value"]["value"] == pytest.approx(0.06, abs=0.02)
    assert scale["verdict"] == "good"
    assert lost["verdict"] == "cannot tell"
    assert answer.status == 1


def test_travels_from_one_side_leave_lost_motion_open(run: Run, tmp_path: Path) -> None:
    table = tmp_path / "one.csv"
    table.write_text("commanded_mm\tmeasured_mm\n10\t10,00\n100\t100,00\n200\t200,00\n150\t150,00\n")
    answer = run("tune", "drive", table)
    assert "Lost motion: cannot tell" in answer.out
    assert answer.status == 1


def test_a_belt_of_another_pitch_is_no_matter_of_scale(run: Run, tmp_path: Path) -> None:
    table = tmp_path / "one.csv"
    table.write_text("commanded_mm,measured_mm\n10,15\n50,75\n100,150\n")
    answer = run("tune", "drive", table)
    assert "the belt's pitch is 3 mm, not 2" in answer.out
    assert "Scale of the axis: bad" in answer.out


def test_an_axis_that_runs_backwards_is_said_first(run: Run, tmp_path: Path) -> None:
    table = tmp_path / "one.csv"
    table.write_text("commanded_mm,measured_mm\n10,-10\n50,-50\n100,-100\n")
    assert "goes the other way" in run("tune", "drive", table).out


def test_positions_are_told_as_the_standard_names_them(run: Run) -> None:
    answer = run("tune", "drive", POSITIONS, "--accuracy-limit", 0.1, "--json")
    data = part(answer.json, "positioning")["data"]
    assert data["A"] > data["E"] > data["M"] > 0
    assert data["B"] == pytest.approx(0.038, abs=0.006)
    assert answer.status == 0
    assert run("tune", "drive", POSITIONS, "--accuracy-limit", 0.03).status == 1


def test_two_moves_tell_the_reversed_motor(run: Run) -> None:
    # Source: ledger motion.csv MOT-028: b reversed, +x asked, the head goes +y
    answer = run("tune", "drive", "--x-went", "back", "--y-went", "10,0.3", "--json")
    assert part(answer.json, "crossed-belts")["data"] == {"wiring": "b-reversed"}
    assert answer.status == 1


def test_one_motor_standing_still_is_no_wiring(run: Run) -> None:
    answer = run("tune", "drive", "--x-went", "right-back", "--y-went", "right-back")
    assert "cannot tell" in answer.out
    assert "a coil is open" in answer.out


@pytest.mark.slow
def test_a_motor_is_held_against_its_load(run: Run) -> None:
    words = ("tune", "drive", "--machine", LARCH, *MOTOR, "--volt", 24, "--acceleration", 3000)
    slow, fast = run(*words, "--speed", 200, "--json"), run(*words, "--speed", 9000, "--json")
    assert part(slow.json, "motor-torque")["verdict"] == "good"
    assert part(fast.json, "motor-torque")["verdict"] == "bad"
    assert [one["id"] for one in slow.json["cautions"]] == ["motion", "hot"]


def test_a_supply_below_the_windings_voltage_is_said(run: Run) -> None:
    answer = run("tune", "drive", "--machine", LARCH, *MOTOR, "--volt", 2, "--acceleration", 3000)
    assert answer.status == 1
    assert "cannot drive" in answer.out


def test_a_screw_that_lifts_bears_the_weight(run: Run) -> None:
    words = (
        "--pitch",
        2,
        "--starts",
        4,
        *MOTOR,
        "--volt",
        24,
        "--acceleration",
        100,
        "--moving",
        2000,
        "--json",
    )
    level, lifted = run("tune", "drive", *words), run("tune", "drive", *words, "--upright")
    needs = [part(one.json, "motor-torque")["data"]["needed_newton_metre"] for one in (level, lifted)]
    # by hand: 19.62 N on a lead of 8 mm at 0.4: 0.06245 N·m more
    assert needs[1] - needs[0] == pytest.approx(0.06245, abs=1e-5)


@pytest.mark.parametrize(
    ("celsius", "mount", "status"),
    [(45, "printed", 0), (68, "printed", 1), (68, "metal", 0), (20, "metal", 1)],
)
def test_a_case_is_judged_by_what_holds_it(run: Run, celsius: float, mount: str, status: int) -> None:
    answer = run("tune", "drive", "--ampere", 1.2, "--case-celsius", celsius, "--mount", mount)
    assert answer.status == status


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "What is to be known?"),
        (("--ohm", 0), "read '0'; expected a number above 0, at most 500 Ω."),
        (("--volt", 24), "must be given too"),
        (("--teeth", 20), "--pitch is missing"),
        (("--teeth", 20, "--pitch", 2, "--starts", 2), "give one of them"),
        (("--x-went", "right"), "go together"),
        (("--x-went", "up", "--y-went", "right"), "expected right, left"),
        (("--case-celsius", 50), "give --ampere too"),
        (("--of", "screw-left"), "give --machine"),
        ((*MOTOR, "--volt", 24, "--acceleration", 10), "What does the motor drive?"),
        ((*MOTOR, "--volt", 24, "--acceleration", 10, "--teeth", 20, "--pitch", 2), "Give --moving"),
        (("--machine", LARCH, "--of", "screw-lef"), "Did you mean 'screw-left'"),
        (("nowhere.csv",), "no such file"),
    ],
)
def test_what_cannot_be_asked_is_told_in_words(run: Run, words: tuple[object, ...], says: str) -> None:
    answer = run("tune", "drive", *words)
    assert answer.status == 2
    assert says in " ".join((answer.out + answer.err).split())


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("commanded_mm,measured_mm\n10,ten\n", "a number"),
        ("commanded_mm,measured_mm\n10,10\n10,10\n10,10\n", "expected 3 or more, of several"),
        ("commanded_mm,measured_mm,from\n10,10,left\n", "one of below, above"),
        ("target_mm,position_mm,from\n10,10,below\n", "two targets or more"),
        ("target_mm,position_mm,from\n100,0.01,below\n", "Is it a deviation?"),
        ("target_mm,position_mm\n10,10\n", "a heading with from"),
        ("commanded_mm,measured_mm\ninf,10\n", "a number"),
        ("\x00\x01", "no text"),
    ],
)
def test_a_bad_table_of_an_axis_is_told_by_its_fault(run: Run, tmp_path: Path, text: str, says: str) -> None:
    table = tmp_path / "axis.csv"
    table.write_text(text)
    answer = run("tune", "drive", table)
    assert answer.status == 2
    assert says in " ".join((answer.out + answer.err).split())
    assert "axis.csv" in answer.out + answer.err


def test_drive_results_go_into_the_log_under_the_axis_name(run: Run, folder: Path) -> None:
    answer = run("tune", "drive", TRAVEL, "--axis", "x", "--machine", folder, "--log", "--json")
    assert [one["of"] for one in answer.json["parts"]] == ["x scale", "x lost-motion"]
    assert len(answer.json["logged"]["entries"]) == 2


def test_each_question_has_its_picture(run: Run, tmp_path: Path) -> None:
    for name, words in (
        ("commanded", (TRAVEL,)),
        ("from above", (POSITIONS,)),
        ("ideal motor", ("--machine", LARCH, *MOTOR, "--volt", 24, "--acceleration", 3000)),
    ):
        out = tmp_path / f"{name}.svg"
        run("tune", "drive", *words, "--plot", out)
        assert name in out.read_text(encoding="utf-8")


@pytest.mark.slow
@pytest.mark.parametrize("example", command.examples)
def test_every_example_of_tune_drive_runs_as_it_stands(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, example: str
) -> None:
    answer = example_answer(run, monkeypatch, tmp_path, example)
    assert answer.status in (0, 1), answer.err
    assert answer.out


@pytest.mark.slow
def test_an_axis_that_the_machine_has_not_is_refused(run: Run) -> None:
    answer = run("tune", "drive", "--machine", LARCH, "--axis", "q", "--now", "80")
    assert answer.status == 2
    assert "Larch has no axis 'q'" in answer.err


def test_a_setting_that_one_drive_makes_is_not_called_right_for_another(run: Run) -> None:
    answer = run("tune", "drive", "--machine", LARCH, "--now", "66.667")
    assert "the drive of x and y makes" in answer.out
    assert "The drive of z makes another number" in answer.out


def test_a_slipped_digit_among_travels_is_named_by_its_line(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "travel.csv"
    file.write_text("commanded_mm,measured_mm\n20,20.02\n50,50.03\n80,85.05\n110,110.05\n140,140.07\n")
    doubts = part(run("tune", "drive", file, "--json").json, "scale")["doubts"]
    assert [doubt["code"] for doubt in doubts] == ["reading-off"]
    # By hand: the line through the other four gives 80.04 at 80.
    assert "Line 4 reads 85.05 at 80 mm, +5.01 mm off" in doubts[0]["says"]
