"""Sign-offs: what was signed and by whom, as long as nobody takes it back."""

from __future__ import annotations

from log_entries import logged, said
from trysquare.record.replay import replay
from trysquare.record.sign_offs import sign_offs

POWER = "power: sign First power."
EARTH = "power: sign Earth path seen."


def test_a_sign_off_has_a_name_a_step_and_its_words() -> None:
    state = replay(
        logged(
            [
                said("settled", "power", id="a", minutes=1, item=EARTH, who="Ada"),
                said("settled", "power", id="b", minutes=2, item=POWER, who="Grace"),
                said("settled", "power", id="c", minutes=3, item="power: check Nothing is hot.", who="Ada"),
                said("settled", "rail", id="d", minutes=4, item="rail: read rail-parallel"),
            ]
        )
    )
    assert [(one.says, one.who, one.step, one.said.seq) for one in sign_offs(state)] == [
        ("Earth path seen.", "Ada", "power", 1),
        ("First power.", "Grace", "power", 2),
    ]


def test_a_sign_off_that_was_taken_back_or_opened_again_does_not_stand() -> None:
    signed = said("settled", "power", id="a", item=POWER, who="Ada")
    undone = said("undo", "power", id="b", of="a", minutes=1)
    left = said("left-open", "power", id="c", item=POWER, reason="no meter", minutes=1)
    again = said("settled", "power", id="d", item=POWER, who="Grace", minutes=2)
    assert sign_offs(replay(logged([signed, undone]))) == ()
    assert sign_offs(replay(logged([signed, left]))) == ()
    assert [one.who for one in sign_offs(replay(logged([signed, left, again])))] == ["Grace"]


def test_a_check_of_the_first_power_is_signed_by_its_result() -> None:
    events = [
        said("result", id="a", of="first power: earth", verdict="good", says="signed by Ada"),
        said("result", id="b", of="first power", verdict="cannot tell", says="next: fuse", minutes=1),
        said("result", id="c", of="first power: earth", verdict="good", says="signed by Grace", minutes=2),
    ]
    assert [(one.of, one.who) for one in sign_offs(replay(logged(events)))] == [
        ("first power: earth", "Grace")
    ]
    events.append(said("undo", id="d", of="c", minutes=3))
    assert [one.who for one in sign_offs(replay(logged(events)))] == ["Ada"]


def test_a_sign_off_from_before_names_were_asked_stands_without_one() -> None:
    (one,) = sign_offs(replay(logged([said("settled", "power", item=POWER)])))
    assert (one.who, one.said.device) == ("", "tablet")
