"""Screws that meet no hole in the part below: once for two parts of a joint, with how far off they are."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trysquare.catalogue.designation import written
from trysquare.ground.errors import Where
from trysquare.ground.placement import Array, side
from trysquare.ground.tolerances import ON_AXIS_MM
from trysquare.machine.recipes.builder import JointBuilder
from trysquare.machine.values import Hole, PlacedPart

CODE = "hole-missing"
_QUARTER = np.array([[0.0, 1.0], [-1.0, 0.0]])
_MOST_NAMES = 4  # more holes than so many are told by their number


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opening:
    """Where a hole below opens and which way, in the machine frame, mm."""

    part: str
    at_mm: Array
    direction: Array


def openings(part: PlacedPart, holes: Iterable[Hole]) -> list[Opening]:
    """The openings of some of a placed part's holes."""
    return [
        Opening(
            part=part.id,
            at_mm=part.placement.point(hole.at_mm),
            direction=part.placement.direction(hole.direction),
        )
        for hole in holes
    ]


def say_missed(
    joint: JointBuilder,
    above: PlacedPart,
    hole: Hole,
    axis: Array,
    below: Sequence[Opening],
    other: PlacedPart,
    *,
    at_mm: Array,
    where: Where,
) -> None:
    """Tells that the screw through a hole of `above` meets none of the openings below; all screws of the
    joint that miss between the same two parts are one finding.

    `other`: the part below that is named where no opening runs the screw's way. `at_mm`: where the screw
    enters. `axis`: of the screw, towards its head.
    """
    spot = above.placement.point(hole.at_mm)
    across = _across(axis)
    runs = [one for one in below if abs(float(one.direction @ axis)) >= 1 - 1e-6]
    offs = [float(np.linalg.norm(across @ (one.at_mm - spot))) for one in runs]
    off = min(offs, default=math.inf)
    lower = runs[offs.index(off)].part if runs else other.id
    missed = joint.missed.setdefault((above.id, lower), [])
    if any(name == hole.name for name, _ in missed):
        return
    missed.append((hole.name, off))
    says = f"{joint.id}: {_screws(above, missed)} no hole of {lower}: {_beside(missed)}."
    finite = [each for _, each in missed if ON_AXIS_MM < each < math.inf]
    value, limit, unit = (max(finite), ON_AXIS_MM, "mm") if finite else (None, None, "")
    told = (above.id, lower)
    findings = joint.scene.findings
    for index, one in enumerate(findings):
        if (one.code, one.joint, one.parts) == (CODE, joint.id, told):
            findings[index] = replace(one, says=says, value=value, limit=limit, unit=unit)
            return
    joint.scene.say(
        CODE,
        says,
        parts=told,
        joint=joint.id,
        value=value,
        limit=limit,
        unit=unit,
        at_mm=at_mm,
        where=where,
        remedy=_remedy(above, hole, across, runs, lower),
    )


def _screws(above: PlacedPart, missed: Sequence[tuple[str, float]]) -> str:
    names = [name for name, _ in missed]
    if len(names) == 1:
        return f"the screw through {above.id} ({names[0]}) meets"
    told = ", ".join(names) if len(names) <= _MOST_NAMES else f"{names[0]} … {names[-1]}"
    return f"{len(names)} screws through {above.id} ({told}) meet"


def _beside(missed: Sequence[tuple[str, float]]) -> str:
    offs = [off for _, off in missed if math.isfinite(off)]
    if not offs:
        return "none there runs the screw's way" if len(missed) == 1 else "none there runs the screws' way"
    if max(offs) <= ON_AXIS_MM:
        return "one lies on its line, but not under its head" if len(missed) == 1 else (
            "some lie on their lines, but not under their heads"
        )  # fmt: skip
    near, far = (written(round(off, 2)) for off in (min(offs), max(offs)))
    if len(missed) == 1:
        return f"the nearest lies {near} mm beside it"
    return f"the nearest lie {near} mm beside them" if near == far else (
        f"the nearest lie {near} to {far} mm beside them"
    )  # fmt: skip


def _remedy(above: PlacedPart, hole: Hole, across: Array, runs: Sequence[Opening], lower: str) -> str:
    """What would bring all holes of the group over holes: a shift, or a turn about their middle; else ""."""
    group = [one for one in above.type.holes if hole.group and one.group == hole.group]
    if len(group) < 2 or not runs or _on_their_lines(across, above, hole, runs):
        return ""
    points = np.array([across @ above.placement.point(one.at_mm) for one in group])
    targets = np.array([across @ one.at_mm for one in runs])
    shifts = sorted((target - points[0] for target in targets), key=lambda way: float(np.linalg.norm(way)))
    way = next((each for each in shifts if _all_meet(points + each, targets)), None)
    if way is not None:
        return f"Move {above.id} by {_way(way @ across)}: then all {len(group)} meet a hole of {lower}."
    middle = points.mean(axis=0)
    centres = [middle, *(middle + each for each in _to_the_nearest(points, targets))]
    for times, words in ((1, "quarter"), (2, "half"), (3, "quarter")):
        turned = (points - middle) @ np.linalg.matrix_power(_QUARTER, times)
        if any(_all_meet(turned + centre, targets) for centre in centres):
            spacings = ", or exchange the two spacings of its holes" if words == "quarter" else ""
            return (
                f"A {words} turn about the screws' way would bring all {len(group)} over holes of {lower}: "
                f"turn {above.id}{spacings}."
            )
    return ""


def _on_their_lines(across: Array, above: PlacedPart, hole: Hole, runs: Sequence[Opening]) -> bool:
    spot = above.placement.point(hole.at_mm)
    return any(float(np.linalg.norm(across @ (one.at_mm - spot))) <= ON_AXIS_MM for one in runs)


def _to_the_nearest(points: Array, targets: Array) -> list[Array]:
    """The shift of the holes' middle to the middle of as many openings that lie nearest to it."""
    if len(targets) < len(points):
        return []
    middle = points.mean(axis=0)
    nearest = targets[np.argsort(np.linalg.norm(targets - middle, axis=1), kind="stable")[: len(points)]]
    return [nearest.mean(axis=0) - middle]


def _all_meet(points: Array, targets: Array) -> bool:
    away = np.linalg.norm(points[:, None, :] - targets[None, :, :], axis=2)
    return bool((away.min(axis=1) <= ON_AXIS_MM).all())


def _across(axis: Array) -> Array:
    """Two unit directions across an axis, array (2, 3)."""
    start = np.eye(3)[int(np.argmin(np.abs(axis)))]
    first = start - float(start @ axis) * axis
    first /= np.linalg.norm(first)
    return np.vstack([first, np.cross(axis, first)])


def _way(shift: Array) -> str:
    """A shift in the machine frame in words: "2 mm to the left and 1 mm to the front"."""
    told = [
        f"{written(round(abs(float(part)), 2))} mm to the {side(unit * np.sign(part))}"
        for part, unit in zip(shift, np.eye(3), strict=True)
        if abs(part) > 0.005
    ]
    return " and ".join(told)
