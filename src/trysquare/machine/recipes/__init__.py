"""Joint recipes: each turns a few words into every screw, nut, washer and insert in its place.

A new recipe is a row of keys in `machine.fields.RECIPES` and one function here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from trysquare.machine.recipes.belt import belt_path
from trysquare.machine.recipes.blind import blind_joint
from trysquare.machine.recipes.bracket import bracket
from trysquare.machine.recipes.builder import JointBuilder
from trysquare.machine.recipes.cable import cable_run
from trysquare.machine.recipes.screwed import (
    block_on_rail,
    insert_and_screw,
    plate_on_slots,
    rail_on_slot,
    through_bolt,
)
from trysquare.machine.recipes.shaft import shaft_and_coupling

EXPAND: Mapping[str, Callable[[JointBuilder], None]] = {
    "blind-joint": blind_joint,
    "bracket": bracket,
    "rail-on-slot": rail_on_slot,
    "plate-on-slots": plate_on_slots,
    "through-bolt": through_bolt,
    "insert-and-screw": insert_and_screw,
    "block-on-rail": block_on_rail,
    "shaft-and-coupling": shaft_and_coupling,
    "belt-path": belt_path,
    "cable-run": cable_run,
}
"""Each recipe's function: reads the joint's keys from the builder and adds what the joint brings."""
