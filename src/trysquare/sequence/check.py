"""All order rules over all steps: one state, walked event by event."""

from __future__ import annotations

from trysquare.ground.findings import Finding
from trysquare.machine.says_so import located
from trysquare.machine.values import Machine
from trysquare.sequence.reach import Reach
from trysquare.sequence.rules_care import care
from trysquare.sequence.rules_hold import holding, left_apart
from trysquare.sequence.rules_key_lines import key_lines
from trysquare.sequence.rules_listing import end_of_order, listing
from trysquare.sequence.rules_reading import wrong_instruments
from trysquare.sequence.rules_truth import alignment, left_snug, reread_findings
from trysquare.sequence.rules_way_in import way_in
from trysquare.sequence.state import apply
from trysquare.sequence.walk import Walk


def check_order(machine: Machine, reach: Reach | None = None) -> tuple[Finding, ...]:
    """Findings of the machine's own order, in the order of its steps. A machine without steps gives none.

    `reach` keeps geometric answers between checks of one machine with different orders.
    """
    if not machine.steps:
        return ()
    walk = Walk(machine, reach)
    found: list[Finding] = []
    for event in walk.events:
        found += listing(walk, event)
        found += way_in(walk, event)
        found += alignment(walk, event)
        found += care(walk, event)
        apply(walk.state, event)
        found += key_lines(walk, event)
        found += holding(walk, event)
    found += reread_findings(walk)
    found += wrong_instruments(walk)
    found += left_snug(walk)
    found += left_apart(walk)
    found += end_of_order(walk)
    return located(machine, found)
