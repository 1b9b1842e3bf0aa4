from pathlib import Path

import pytest

from sequence.random_assemblies import assembly
from trysquare.ground.errors import ReadingError
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.sequence.explain import why_before

DEMO = Path(__file__).resolve().parents[2] / "demo"


@pytest.fixture(scope="module")
def reed() -> Machine:
    return load_machine(DEMO / "reed-joints")


def test_a_captive_part_must_come_before_what_shuts_it_in(reed: Machine) -> None:
    answer = why_before(reed, "carriage/camera-screw", "carriage/camera-plate")
    assert answer.must
    assert answer.chain[0].first == "place carriage/camera-screw"
    assert "no way in for carriage/camera-screw" in answer.chain[0].because


def test_the_other_way_round_nothing_forces(reed: Machine) -> None:
    answer = why_before(reed, "carriage/camera-plate", "carriage/camera-screw")
    assert not answer.must
    assert answer.chain == ()


def test_what_has_nothing_to_do_with_each_other_may_come_in_either_order(reed: Machine) -> None:
    assert not why_before(reed, "track/foot-left", "track/end-left").must


def test_a_reading_is_the_link_between_snug_and_final(reed: Machine) -> None:
    answer = why_before(reed, "snug track/rail-screws", "tighten track/rail-screws")
    assert answer.must
    assert answer.chain


def test_a_chain_goes_from_the_first_to_the_second_without_a_gap(reed: Machine) -> None:
    answer = why_before(reed, "start track/rail-screws", "read rail-offset")
    assert answer.must
    assert answer.chain[0].first == "start track/rail-screws"
    assert answer.chain[-1].after == "read rail-offset"
    for one, other in zip(answer.chain, answer.chain[1:], strict=False):
        assert one.after == other.first


def test_a_core_must_be_in_its_shell_before_the_lid_is_on() -> None:
    shell = [
        (0, 0, 0, 3, 3, 1),
        (0, 0, 1, 3, 1, 2),
        (0, 2, 1, 3, 3, 2),
        (0, 1, 1, 1, 2, 2),
        (2, 1, 1, 3, 2, 2),
    ]
    box = assembly([shell, [(1, 1, 1, 2, 2, 2)], [(0, 0, 2, 3, 3, 3)]], spare=False)
    joint_of = {frozenset(joint.parts): joint.id for joint in box.joints}
    assert why_before(box, "p1", joint_of[frozenset({"p0", "p2"})]).must


def test_an_unknown_name_is_answered_with_the_nearest(reed: Machine) -> None:
    with pytest.raises(ReadingError, match="Did you mean 'track/rail'"):
        why_before(reed, "track/rial", "track/base")


def test_the_same_thing_twice_is_done_at_once(reed: Machine) -> None:
    assert "at once" in why_before(reed, "track/base", "track/base").says
