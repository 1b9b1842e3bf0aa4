"""The free spans of a machine's belts where the head stands now, for a span's tone goes with its length."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from trysquare.catalogue.values import Pulley
from trysquare.fit.axes import motions
from trysquare.ground.placement import Array, Placement
from trysquare.machine.recipes.belt import tangent
from trysquare.machine.values import BeltRun, BeltSpan, Machine


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A straight piece of belt between two contacts. `number` counts from 1 along the belt.

    `changes`: its length is another one where the head stands elsewhere.
    """

    number: int
    begins: str
    ends: str
    length_mm: float
    changes: bool


class NoTangent(ValueError):  # noqa: N818  # it says what is not there
    """At this place of the head two pulleys of the belt overlap."""


def belt_runs(machine: Machine) -> tuple[BeltRun, ...]:
    """The belts of a machine, in the order of its joints."""
    return tuple(joint.belt for joint in machine.joints if joint.belt is not None)


def spans_at(machine: Machine, run: BeltRun, at_mm: Mapping[str, float]) -> tuple[Span, ...]:
    """The spans with each axis at a place of its travel, mm; an axis that is not named stands as drawn.

    The pulleys keep their radii and senses; those that an axis moves are shifted along it, and the tangents
    are laid anew. Raises KeyError for an axis that is not there, ValueError for a place beyond its travel
    and NoTangent.
    """
    drawn = _contacts(machine, run, {})
    now = _contacts(machine, run, at_mm)
    before, after = _lengths(drawn, closed=run.closed), _lengths(now, closed=run.closed)
    moving = _moving(machine, run)
    return tuple(
        Span(
            number=index + 1,
            begins=span.begins,
            ends=span.ends,
            # What the recipe computed stands; a shift only adds its difference.
            length_mm=span.length_mm + after[index] - before[index],
            changes=moving[span.begins] != moving[span.ends],
        )
        for index, span in enumerate(run.spans)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Contact:
    """A circle of the belt's plane: centre (2,), radius and sense; a clamped end has the radius 0."""

    centre: Array
    radius_mm: float
    way: int


def _moving(machine: Machine, run: BeltRun) -> dict[str, frozenset[str]]:
    """For each part that the belt touches, the axes that move it."""
    words = {span.begins for span in run.spans} | {span.ends for span in run.spans}
    axes = motions(machine)
    return {word: frozenset(one.axis.id for one in axes if word in one.moves) for word in words}


def _contacts(machine: Machine, run: BeltRun, at_mm: Mapping[str, float]) -> list[_Contact]:
    axes = {one.axis.id: one for one in motions(machine)}
    for word, place in at_mm.items():
        axis = axes[word].axis
        if not 0 <= place <= axis.travel_mm:
            raise ValueError(f"axis {word} at {place:g} mm: expected 0 to {axis.travel_mm:g} mm, its travel")
    shift = {word: (at_mm[word] - axes[word].axis.at_mm) * axes[word].way for word in at_mm}

    def moved(part: str) -> Array:
        return np.asarray(sum((shift[word] for word in shift if part in axes[word].moves), np.zeros(3)))

    frame = _frame(machine, run)
    contacts = []
    spans = run.spans
    if not run.closed:
        begin = np.array(spans[0].from_mm) + moved(spans[0].begins)
        contacts.append(_Contact(centre=frame.back(begin)[:2], radius_mm=0.0, way=1))
    for index, span in enumerate(spans):
        if index == 0 and not run.closed:
            continue
        # A closed belt's first pulley is met by its last span.
        contacts.append(_pulley(machine, frame, span, moved(span.begins)))
    if not run.closed:
        end = np.array(spans[-1].to_mm) + moved(spans[-1].ends)
        contacts.append(_Contact(centre=frame.back(end)[:2], radius_mm=0.0, way=1))
    return contacts


def _frame(machine: Machine, run: BeltRun) -> Placement:
    """The belt's plane: that of the first pulley on it."""
    for span in run.spans:
        part = machine.part[span.begins]
        if isinstance(part.type.standard, Pulley):
            return Placement(part.placement.turn, part.placement.origin_mm)
    raise ValueError(f"{run.joint}: no pulley")


def _pulley(machine: Machine, frame: Placement, span: BeltSpan, shift_mm: Array) -> _Contact:
    """The circle that a span leaves, from its tangent point and the pulley's axis."""
    origin = machine.part[span.begins].placement.origin_mm
    leaves = frame.back(span.from_mm)[:2]
    along = frame.back(span.to_mm)[:2] - leaves
    spoke = frame.back(origin)[:2] - leaves
    left = float(along[0] * spoke[1] - along[1] * spoke[0]) > 0
    return _Contact(
        centre=frame.back(origin + shift_mm)[:2],
        radius_mm=float(np.linalg.norm(spoke)),
        way=1 if left else -1,
    )


def _lengths(contacts: list[_Contact], *, closed: bool) -> list[float]:
    pairs = list(itertools.pairwise(contacts))
    if closed:
        pairs.append((contacts[-1], contacts[0]))
    found = []
    for one, two in pairs:
        line = tangent(one.centre, one.radius_mm, one.way, two.centre, two.radius_mm, two.way)
        if line is None:
            raise NoTangent("two pulleys of the belt overlap there")
        found.append(float(np.linalg.norm(line[1] - line[0])))
    return found
