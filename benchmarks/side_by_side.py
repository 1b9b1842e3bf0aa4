"""Several equal machines on one table, as one machine: for measuring how checks grow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np

from trysquare.ground.placement import Placement
from trysquare.machine.values import Fastening, Machine, PartType

APART_MM = 1000.0


def side_by_side(machine: Machine, copies: int) -> Machine:
    """So many of a machine in a row along x; the first keeps its ids, others' begin with c2_ and so on."""
    ids = {part.id for part in machine.placed} | {joint.id for joint in machine.joints} | set(machine.units)
    ids |= set(machine.fastening) | {step.id for step in machine.steps}
    ids |= {row.id for row in machine.characteristics} | {row.id for row in machine.axes}
    all_of: dict[str, list[Any]] = {
        name: list(getattr(machine, name))
        for name in ("placed", "joints", "units", "steps", "axes", "characteristics")
    }
    for copy in range(1, copies):
        again = _Copy(ids, f"c{copy + 1}_", np.array([APART_MM * copy, 0.0, 0.0]))
        for name, rows in all_of.items():
            rows += [again.of(row) for row in getattr(machine, name)]
    structural = [part for part in all_of["placed"] if not part.joint]
    brought = [part for part in all_of["placed"] if part.joint]
    return replace(
        machine,
        placed=(*structural, *brought),
        **{name: tuple(rows) for name, rows in all_of.items() if name != "placed"},
    )


class _Copy:
    """Renames ids and shifts places in values of the machine, however deep."""

    def __init__(self, ids: set[str], prefix: str, shift_mm: np.ndarray[Any, Any]) -> None:
        self.ids, self.prefix, self.shift_mm = ids, prefix, shift_mm

    def of(self, value: Any) -> Any:
        if isinstance(value, str):
            return self.prefix + value if value in self.ids else value
        if isinstance(value, PartType):
            return value
        if isinstance(value, Placement):
            return Placement(value.turn, value.origin_mm + self.shift_mm)
        if isinstance(value, tuple):
            return tuple(self.of(part) for part in value)
        if isinstance(value, Mapping):
            return {self.of(key): self.of(part) for key, part in value.items()}
        if is_dataclass(value) and not isinstance(value, type):
            changed = {one.name: self.of(getattr(value, one.name)) for one in fields(value) if one.init}
            if isinstance(value, Fastening):
                changed["head_mm"] = tuple(np.asarray(value.head_mm) + self.shift_mm)
                changed["access"] = (changed["head_mm"], value.axis)
            return replace(value, **changed)
        return value
