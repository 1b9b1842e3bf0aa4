import json
import os
import signal
from pathlib import Path

import pytest

from trysquare.cli.main import main
from trysquare.cli.order import action_facts, action_words, stopped_by_keyboard
from trysquare.machine.values import Action

ROOT = Path(__file__).resolve().parents[2]
REED = str(ROOT / "demo" / "reed-joints")


@pytest.mark.slow
def test_an_order_is_told_step_by_step_with_what_it_is_worth(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["order", REED, "--seconds", "5"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "1. Nuts into their slots: foot screws" in told
    assert "No arrangement is better." in told


@pytest.mark.slow
def test_json_holds_the_same_steps_as_toml(capsys: pytest.CaptureFixture[str]) -> None:
    import tomllib

    assert main(["order", REED, "--seconds", "5", "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert main(["order", REED, "--seconds", "5", "--toml"]) == 0
    steps = tomllib.loads(capsys.readouterr().out)["step"]
    assert [step["id"] for step in facts["steps"]] == [step["id"] for step in steps]
    assert facts["feasible"] is True
    assert facts["optimal"] is True


def test_why_tells_the_chain(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["order", REED, "--why", "carriage/camera-screw", "carriage/camera-plate"]
    assert main(asked) == 0
    assert "must come before" in capsys.readouterr().out


def test_an_unknown_name_is_one_sentence_and_status_two(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["order", REED, "--why", "track/rial", "track/base"]) == 2
    assert "Did you mean 'track/rail'?" in capsys.readouterr().err


def test_a_clean_order_has_nothing_to_mend(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["order", REED, "--mend"]) == 0
    assert "0 edits; 0 findings left." in capsys.readouterr().out


def test_two_questions_at_once_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["order", REED, "--mend", "--why", "a", "b"]) == 2
    assert "Ask one at a time" in capsys.readouterr().err


def test_a_machine_of_parts_alone_has_nothing_to_order(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["order", str(ROOT / "demo" / "reed")]) == 0
    assert "Nothing to order" in capsys.readouterr().out


def test_the_first_interrupt_asks_to_stop_and_the_second_ends(capsys: pytest.CaptureFixture[str]) -> None:
    with stopped_by_keyboard() as stop:
        assert not stop()
        os.kill(os.getpid(), signal.SIGINT)
        assert stop()
        with pytest.raises(KeyboardInterrupt):
            os.kill(os.getpid(), signal.SIGINT)
    assert "the best so far follows" in capsys.readouterr().err


def test_each_joint_of_an_action_gets_its_own_tightening_order() -> None:
    action = Action(
        verb="tighten",
        joints=("w/left", "w/right"),
        order=("w/left.2", "w/left.1", "w/right.1", "w/right.2"),
    )
    assert action_words(action, "w") == "left, right; left in the order 2, 1; right in the order 1, 2"
    alone = Action(verb="tighten", joints=("w/left",), order=("w/left.2", "w/left.1"))
    assert action_words(alone, "w") == "left; in the order 2, 1"


def test_a_reading_names_its_instrument() -> None:
    action = Action(verb="read", parts=("w/beam",), reads=("square",), using=("pinch-rod",))
    assert action_words(action, "w") == "beam; reads square; using pinch-rod"
    assert action_facts(action)["using"] == ["pinch-rod"]
