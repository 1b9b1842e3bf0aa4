"""The question that a machine's steps put to the boxes, with every substitute that is permitted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trysquare.machine.values import Machine
from trysquare.stock.demands import demands_of
from trysquare.stock.holdings import Asked, Slice
from trysquare.stock.lots import StockLot
from trysquare.stock.need import Need, canonical
from trysquare.stock.reach_step import reach


def asked_of(machine: Machine, whole: Need, lots: Sequence[StockLot]) -> Asked:
    """The machine's question to these lots, with every substitute that is permitted."""
    counted = [line.part for line in whole.lines if not line.cuts_mm]
    there = {lot.part for lot in lots}
    every = (*lots, *(StockLot(box="", part=part, pieces=0) for part in counted if part not in there))
    # Substitutes are looked for where something is short: with nothing in the boxes that is everywhere.
    empty = [lot if lot.length_mm else replace(lot, pieces=0) for lot in every]
    demands = demands_of(machine, whole, empty)
    steps = tuple(step.step for step in whole.picking.steps)
    slices: list[Slice] = []
    for demand in demands.counted:
        serve = tuple((lot, compromise.points) for lot, compromise in sorted(demand.serve.items()))
        by_step: dict[int, int] = {}
        for step in demand.steps:
            by_step[step] = by_step.get(step, 0) + 1
        bare = demand.pieces - len(demand.steps)
        if bare:
            by_step[len(steps)] = by_step.get(len(steps), 0) + bare
        slices += [
            Slice(part=demand.part, step=step, pieces=pieces, serve=serve) for step, pieces in by_step.items()
        ]
    slices.sort(key=lambda one: one.step)
    cut = (
        [lack for lack in reach(whole, demands, every).lacks if lack.part not in set(counted)] if lots else []
    )
    return Asked(steps=steps, slices=tuple(slices), lots=every, rolls=tuple(cut))


def part_of(machine: Machine, whole: Need, ref: str) -> str:
    """The part that a ref means: a placed part or piece is its part, a designation is written as the
    catalogue does, anything else stays as it is."""
    piece = whole.picking.pieces.get(ref)
    if piece is not None:
        return piece.part
    if ref in machine.part:
        return machine.part[ref].type.id
    return canonical(machine, ref)
