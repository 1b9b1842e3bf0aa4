"""How much printed parts may shrink before their screws no longer go through."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from trysquare.machine.values import Fastening, Kind, Machine
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, Part, Table
from trysquare.tuning.values import Measured

_MOST_ROWS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleSlack:
    """Two screws of one joint through a printed part: how far apart they stand, and by how much its holes
    may stand nearer before one screw meets the wall. Each screw may stand off its hole's middle by half the
    clearance, so that two give the mean of their clearances."""

    part_type: str
    joint: str
    span_mm: float
    slack_mm: float

    @property
    def allowed_percent(self) -> float:
        """The shrinkage that takes all the slack."""
        return 100 * self.slack_mm / self.span_mm


def hole_slacks(machine: Machine) -> tuple[HoleSlack, ...]:
    """For each printed part the pair of screws that bears the least shrinkage, the tightest part first.

    A screw counts where what it bites into or passes besides is not printed: two printed parts shrink alike.
    """
    found: dict[str, HoleSlack] = {}
    for joint in machine.joints:
        through: dict[str, list[tuple[Fastening, float]]] = {}
        for one in joint.fastenings:
            others = {grip.part for grip in one.grips} | {one.host_part}
            for grip in one.grips:
                rest = [name for name in others - {grip.part} if name in machine.part]
                rigid = any(machine.part[name].type.kind is not Kind.PRINTED for name in rest)
                if machine.part[grip.part].type.kind is Kind.PRINTED and rigid:
                    clearance = grip.hole_mm - one.screw_type.thread.diameter_mm
                    through.setdefault(grip.part, []).append((one, clearance))
        for part, screws in through.items():
            for (first, room), (second, other) in combinations(screws, 2):
                away = np.asarray(second.head_mm) - np.asarray(first.head_mm)
                way = np.asarray(first.axis)
                span = float(np.linalg.norm(away - float(away @ way) * way))
                if span < 1e-6 or min(room, other) <= 0:
                    continue  # screws that cut or are told elsewhere
                kind = machine.part[part].type.id
                pair = HoleSlack(part_type=kind, joint=joint.id, span_mm=span, slack_mm=(room + other) / 2)
                if kind not in found or pair.allowed_percent < found[kind].allowed_percent:
                    found[kind] = pair
    return tuple(sorted(found.values(), key=lambda one: one.allowed_percent))


def slack_part(slacks: tuple[HoleSlack, ...], shrinks: Measured, *, apart: bool) -> Part:
    """Which printed parts no longer take their screws. `shrinks`: the material, in %; `apart`: whether it was
    told apart from the axes' own scale."""
    size, large = abs(shrinks.value), shrinks.value < 0
    low, high = size - shrinks.expanded, size + shrinks.expanded
    over = [one for one in slacks if low > one.allowed_percent]
    unsure = [one for one in slacks if low <= one.allowed_percent < high]
    says = [
        f"{one.part_type}: its holes of {one.joint} are {one.span_mm:.0f} mm apart with "
        f"{one.slack_mm:.2f} mm of room; {size:.2f} % takes {one.span_mm * size / 100:.2f} mm."
        for one in over[:3]
    ]
    if len(over) > 3:
        says.append(f"{len(over) - 3} more in the table.")
    if over and large:
        says.append("They come too large: take the scaling out, in the file or in the slicing.")
    elif over:
        says.append(
            f"Scale them once, by {100 / (1 - size / 100):.2f} %, in the slicing or in the file, never in "
            "both: a file that its author has scaled already is left as it is."
        )
    elif unsure:
        says.append(
            f"Whether {unsure[0].part_type} still takes its screws cannot be told: read more lengths."
        )
    else:
        says.append("Every printed part still takes its screws as it comes: leave the files as they are.")
    if not apart and (over or unsure):
        says.append("This takes all of it for shrinkage: --travel tells it apart from the axes' own scale.")
    verdict = BAD if over and apart else CANNOT_TELL if over or unsure else GOOD
    return Part(
        of="printed-holes",
        title="Holes of printed parts",
        verdict=verdict,
        says=tuple(says),
        tables=(
            Table(
                title="Room of the screws, the least first",
                columns=("part", "joint", "apart mm", "room mm", "may shrink"),
                rows=tuple(
                    (one.part_type, one.joint, f"{one.span_mm:.1f}", f"{one.slack_mm:.2f}",
                     f"{one.allowed_percent:.2f} %")
                    for one in slacks[:_MOST_ROWS]
                ),
                right=frozenset({2, 3, 4}),
            ),
        ),
        data={"shrinks_percent": round(shrinks.value, 4), "over": [one.part_type for one in over]},
    )  # fmt: skip
