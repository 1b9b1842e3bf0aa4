from dataclasses import replace

import pytest

from sequence.random_assemblies import SlowJudge, random_assembly
from trysquare.machine.values import Machine
from trysquare.sequence.check import check_order
from trysquare.sequence.propose import propose_order
from trysquare.sequence.rehearsal import is_stop

ASSEMBLIES = 51


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(ASSEMBLIES))
def test_a_proposal_exists_exactly_when_some_order_of_all_exists(seed: int) -> None:
    machine = random_assembly(seed)
    proposal = propose_order(machine, seconds=0)
    assert proposal.feasible == SlowJudge(machine).feasible()
    assert bool(proposal.steps) == proposal.feasible


@pytest.mark.slow
def test_the_random_assemblies_are_partly_impossible_and_of_six_to_ten_parts() -> None:
    machines = [random_assembly(seed) for seed in range(ASSEMBLIES)]
    sizes = [sum(not part.joint for part in machine.placed) for machine in machines]
    assert min(sizes) >= 6
    assert max(sizes) <= 10
    verdicts = [SlowJudge(machine).feasible() for machine in machines[2::3]]
    assert 3 <= sum(verdicts) <= len(verdicts) - 3


@pytest.mark.parametrize("seed", [0, 1, 3])
def test_what_is_proposed_for_a_random_assembly_is_clean_by_the_rules(seed: int) -> None:
    machine: Machine = random_assembly(seed)
    proposal = propose_order(machine, seconds=1)
    found = check_order(replace(machine, steps=proposal.steps))
    assert [one.says for one in found if is_stop(one)] == []
