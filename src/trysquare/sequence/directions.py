"""The directions in which parts may come to their places."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from trysquare.ground.placement import DIRECTIONS, Array
from trysquare.machine.values import Machine


def frame_directions() -> list[Array]:
    """The six directions of the machine frame, up first: gravity helps a part that comes from above."""
    order = ("+z", "+y", "-y", "+x", "-x", "-z")
    return [np.asarray(DIRECTIONS[name]) for name in order]


def joint_directions(machine: Machine, identity: str, joints: Iterable[str]) -> list[Array]:
    """Ways that a part's joints suggest: out along their screws, along its own axes; no doubles."""
    ways: list[Array] = []
    for joint_id in joints:
        for fastening in machine.joint[joint_id].fastenings[:1]:
            if fastening.head_in_slot:  # its head slides along the neighbour's slot and no other way
                along = machine.part[fastening.slot_member].placement.turn[:, 0]
                ways += [along, -along]
            ways += [np.asarray(fastening.axis), -np.asarray(fastening.axis)]
    turn = machine.part[identity].placement.turn
    ways += [turn[:, i] * sign for i in range(3) for sign in (1.0, -1.0)]
    ways += frame_directions()
    kept: list[Array] = []
    for way in ways:
        if not any(float(way @ other) > 1 - 1e-6 for other in kept):
            kept.append(way)
    return kept
