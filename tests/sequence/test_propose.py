from dataclasses import replace
from pathlib import Path

import pytest

from sequence.random_assemblies import assembly, machine_of
from trysquare.machine.load import load_machine
from trysquare.machine.values import Action, Machine, Step
from trysquare.sequence.check import check_order
from trysquare.sequence.propose import Proposal, propose_order
from trysquare.sequence.rehearsal import is_stop
from trysquare.sequence.steps_text import quoted, steps_text

DEMO = Path(__file__).resolve().parents[2] / "demo"
RING = [(0, 0, 0, 3, 1, 1), (0, 2, 0, 3, 3, 1), (0, 1, 0, 1, 2, 1), (2, 1, 0, 3, 2, 1)]
LINK = [(1, 1, -1, 2, 2, 2), (3, 1, -1, 4, 2, 2), (2, 1, -1, 3, 2, 0), (2, 1, 1, 3, 2, 2)]


def stops(machine: Machine, steps: tuple[Step, ...]) -> list[str]:
    return [one.says for one in check_order(replace(machine, steps=steps)) if is_stop(one)]


def unplaced(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Steps without the places in files they were read from."""
    return tuple(
        replace(
            step, paper="", where=None, actions=tuple(replace(action, where=None) for action in step.actions)
        )
        for step in steps
    )


@pytest.fixture(scope="module")
def reed() -> Machine:
    return load_machine(DEMO / "reed-joints")


@pytest.mark.slow
def test_the_order_proposed_for_the_slider_is_clean_by_the_rules_of_every_order(reed: Machine) -> None:
    proposal = propose_order(reed, seconds=5)
    assert proposal.feasible
    assert stops(reed, proposal.steps) == []


def test_the_authors_steps_play_no_part_in_a_proposal(reed: Machine) -> None:
    assert propose_order(replace(reed, steps=()), seconds=0).steps == propose_order(reed, seconds=0).steps


def test_a_small_machines_arrangement_is_proven_best(reed: Machine) -> None:
    proposal = propose_order(reed, seconds=10)
    assert proposal.optimal
    assert proposal.gap == 0
    assert not proposal.stopped


def test_the_slider_is_turned_over_once_and_back_for_its_feet(reed: Machine) -> None:
    proposal = propose_order(reed, seconds=5)
    turned = [action.toward for step in proposal.steps for action in step.actions if action.verb == "turn"]
    assert turned == ["-z", "+z"]
    assert proposal.turns == 2


@pytest.mark.slow
def test_no_step_brings_more_than_a_dozen_parts_unless_one_joint_does(reed: Machine) -> None:
    from trysquare.stock.bringing import bringing

    proposal = propose_order(reed, seconds=5)
    brought = dict.fromkeys(range(len(proposal.steps)), 0)
    for entry in bringing(replace(reed, steps=proposal.steps)):
        brought[entry.step] += len(entry.pieces)
    for index, pieces in brought.items():
        joints = {name for action in proposal.steps[index].actions for name in action.joints}
        assert pieces <= 12 or len(joints) == 1


def test_a_rail_is_read_between_snug_and_final_from_the_middle_outwards(reed: Machine) -> None:
    actions = [action for step in propose_order(reed, seconds=2).steps for action in step.actions]
    rail = [
        action
        for action in actions
        if "track/rail-screws" in action.joints or "rail-parallel" in action.reads
    ]
    verbs = [action.verb for action in rail if action.verb != "insert"]
    assert verbs == ["start", "snug", "read", "tighten"]
    assert rail[-1].order[0] == "track/rail-screws.6"


def test_proposed_steps_written_as_toml_are_read_back_the_same(reed: Machine, tmp_path: Path) -> None:
    import shutil

    proposal = propose_order(reed, seconds=2)
    folder = tmp_path / "reed-joints"
    shutil.copytree(DEMO / "reed-joints", folder)
    (folder / "steps.toml").write_text(
        steps_text(reed, proposal.steps, heading="Two\nlines"), encoding="utf-8"
    )
    read = load_machine(folder).steps
    assert unplaced(read) == proposal.steps


def test_odd_characters_survive_toml(reed: Machine, tmp_path: Path) -> None:
    import tomllib

    odd = 'quote " back \\ tab \t line \n bell \x07 del \x7f µ …'
    step = Step(id="odd", title=odd, unit="track", actions=(Action(verb="note", says=odd),))
    assert tomllib.loads(f"x = {quoted(odd)}")["x"] == odd
    read = tomllib.loads(steps_text(reed, (step,)))
    assert read["step"][0]["actions"][0]["says"] == odd


def test_a_machine_without_parts_has_an_empty_order() -> None:
    proposal = propose_order(machine_of([], [], []))
    assert proposal.feasible
    assert proposal.steps == ()
    assert "nothing to order" in proposal.says[0]


def test_parts_without_joints_are_placed_one_way_or_another() -> None:
    pile = assembly([[(0, 0, 0, 2, 2, 1)], [(0, 0, 1, 2, 2, 2)], [(0, 0, 2, 1, 1, 3)]])
    loose = machine_of([part for part in pile.placed if not part.joint], [], [])
    proposal = propose_order(loose, seconds=1)
    placed = [name for step in proposal.steps for action in step.actions for name in action.parts]
    assert sorted(set(placed)) == ["p0", "p1", "p2"]
    assert not proposal.stuck


def test_two_links_of_a_chain_are_named_as_what_no_order_can_join() -> None:
    proposal = propose_order(assembly([RING, LINK]))
    assert not proposal.feasible
    assert proposal.steps == ()
    assert {"p0", "p1"} <= set(proposal.stuck[0].parts)
    assert "there is never a way in for" in proposal.stuck[0].says


def test_a_link_with_a_gap_goes_in() -> None:
    gap = [(0, 0, 0, 3, 1, 1), (0, 1, 0, 1, 2, 1), (2, 1, 0, 3, 2, 1)]  # an angle about the bar, open behind
    assert propose_order(assembly([gap, LINK]), seconds=1).feasible


def test_a_stop_before_the_first_order_is_said() -> None:
    proposal = propose_order(assembly([RING, [(0, 0, 1, 3, 3, 2)]]), stop=lambda: True)
    assert proposal.stopped
    assert proposal.steps == ()
    assert not proposal.stuck
    assert "Stopped" in proposal.says[0]


def test_a_stop_after_the_first_order_gives_that_order(reed: Machine) -> None:
    told: list[str] = []

    def stop() -> bool:
        return any(says.startswith("first order") for says in told)

    proposal = propose_order(reed, progress=lambda says, _: told.append(says), stop=stop)
    assert proposal.stopped
    assert proposal.feasible
    assert proposal.steps


def test_time_that_runs_out_leaves_the_first_order_and_says_so(reed: Machine) -> None:
    ticks = iter(range(0, 10_000, 20))
    proposal = propose_order(reed, seconds=30, clock=lambda: float(next(ticks)))
    assert proposal.stopped
    assert proposal.feasible
    assert proposal.found_after_s > 0


def test_progress_goes_forward(reed: Machine) -> None:
    done: list[float] = []
    propose_order(reed, seconds=1, progress=lambda _, part: done.append(part))
    assert done == sorted(done)
    assert all(0 <= part <= 1 for part in done)


@pytest.fixture(scope="module")
def larch() -> Machine:
    return load_machine(DEMO / "larch")


@pytest.fixture(scope="module")
def printers(larch: Machine) -> Proposal:
    return propose_order(larch, seconds=20)


def when(proposal: Proposal, verb: str, name: str) -> list[int]:
    """The places, counted over all actions, at which something is done or read."""
    actions = [action for step in proposal.steps for action in step.actions]
    return [
        at
        for at, action in enumerate(actions)
        if action.verb == verb
        and (
            name in (*action.joints, *action.reads)
            or any(one.rpartition(".")[0] == name for one in action.fastenings)
        )
    ]


@pytest.mark.slow
def test_the_order_proposed_for_the_printer_is_clean_and_read_back_the_same(
    larch: Machine, printers: Proposal, tmp_path: Path
) -> None:
    import shutil

    assert printers.stuck == ()
    assert stops(larch, printers.steps) == []
    folder = tmp_path / "larch"
    shutil.copytree(DEMO / "larch", folder)
    # Beside the author's steps, since the machine's papers speak of those.
    (folder / "steps" / "zz-proposed.toml").write_text(steps_text(larch, printers.steps), encoding="utf-8")
    own = {step.id for step in larch.steps}
    read = tuple(step for step in load_machine(folder).steps if step.id not in own)
    assert unplaced(read) == printers.steps


@pytest.mark.slow
@pytest.mark.parametrize(
    ("first", "after"),
    [  # common practice, no source: the trade's order of truing
        (("read", "base-square"), ("tighten", "base/corners")),
        (("tighten", "base/corners"), ("snug", "uprights/feet")),
        (("tighten", "uprights/feet"), ("read", "carry-square")),
        (("tighten", "carry/carry-ends"), ("start", "y-rails/left-rail")),
        (("tighten", "posts/post-feet"), ("start", "z-rails/left-rail")),
        (("read", "base-twist"), ("start", "y-rails/left-rail")),
        (("tighten", "base/deck"), ("start", "y-rails/left-rail")),
        (("read", "y-rails-parallel"), ("tighten", "y-rails/left-rail")),
        (("tighten", "y-rails/left-rail"), ("start", "gantry/left-plate")),
        (("tighten", "y-rails/stops"), ("start", "gantry/left-plate")),
        (("read", "gantry-free"), ("tighten", "y-rails/right-rail")),
        (("tighten", "y-rails/right-rail"), ("route", "motion/belt-a")),
        (("tighten", "top/ring"), ("route", "motion/belt-a")),
        (("read", "carriage-free"), ("route", "motion/belt-b")),
        (("route", "motion/belt-b"), ("start", "panels/sides")),
    ],
)
def test_the_printer_is_trued_as_the_trade_does(
    first: tuple[str, str], after: tuple[str, str], printers: Proposal
) -> None:
    assert max(when(printers, *first)[:1]) < min(when(printers, *after))


@pytest.mark.slow
def test_squareness_is_read_again_with_the_belts_on(printers: Proposal) -> None:
    belts = max(*when(printers, "route", "motion/belt-a"), *when(printers, "route", "motion/belt-b"))
    assert when(printers, "read", "gantry-square")[-1] > belts


@pytest.mark.slow
def test_a_frame_begins_on_a_table_that_was_found_flat(printers: Proposal) -> None:
    actions = [action for step in printers.steps for action in step.actions]
    checks = [at for at, action in enumerate(actions) if action.verb == "check"]
    assert [actions[at].using for at in checks] == [("feeler",)]
    assert checks[0] < min(when(printers, "snug", "base/corners"))


@pytest.mark.slow
def test_every_reading_but_those_felt_by_hand_names_an_instrument_that_is_owned(
    larch: Machine, printers: Proposal
) -> None:
    owned = {one.id for one in larch.instruments}
    felt = {one.id for one in larch.characteristics if one.sort in ("free-motion", "other")}
    for step in printers.steps:
        for action in step.actions:
            if action.verb == "read" and not felt.issuperset(action.reads):
                assert set(action.using) <= owned
                assert action.using


@pytest.mark.slow
def test_what_no_order_can_keep_is_told_once(printers: Proposal) -> None:
    # The gantry comes in from above, so the top ring follows it; the author's own order says the same.
    (says,) = [one for one in printers.says if one.startswith("Not kept")]
    assert "the frame is true before its rails" in says
    assert "top/ring" in says


@pytest.mark.slow
def test_the_author_and_the_proposal_turn_the_printer_over_equally_often(
    larch: Machine, printers: Proposal
) -> None:
    own = [action for step in larch.steps for action in step.actions if action.verb == "turn"]
    assert printers.turns == len(own)


def test_only_the_carriages_that_run_are_let_go_for_a_run(tmp_path: Path) -> None:
    proposal = propose_order(load_machine(DEMO / "reed-joints"), seconds=1)
    actions = [action for step in proposal.steps for action in step.actions]
    held = [part for action in actions if action.verb == "hold" for part in action.parts]
    let_go = [part for action in actions if action.verb == "release" for part in action.parts]
    assert sorted(held) == sorted(let_go)
