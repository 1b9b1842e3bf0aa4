"""Larch, the printer: what its steps must keep to whatever else is changed in them."""

from __future__ import annotations

from pathlib import Path

from trysquare.machine.load import load_machine

LARCH = Path(__file__).resolve().parents[2] / "demo" / "larch"


def test_a_part_is_cleaned_with_spirit_before_anything_is_stuck_on_it() -> None:
    machine = load_machine(LARCH)
    cleaned = 0
    for step in machine.steps:
        for number, action in enumerate(step.actions):
            if action.verb == "clean" and "isopropyl alcohol" in action.using:
                cleaned += 1
                before = {
                    part for each in step.actions[:number] if each.verb == "place" for part in each.parts
                }
                assert before <= set(action.parts), f"{step.id}: {before - set(action.parts)} came first"
    assert cleaned
