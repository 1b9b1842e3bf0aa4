"""Names of the holes of own parts: those that the same joints use alike are one group."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from trysquare.ground.placement import Array
from trysquare.intake.joints import Draft, reference
from trysquare.intake.own_types import OwnType
from trysquare.intake.pieces import Piece, Pieces
from trysquare.intake.rounding import clean_direction, rounded
from trysquare.intake.stacks import Stack
from trysquare.intake.surroundings import SAME_LINE, Layer
from trysquare.machine.values import Hole, Host

_Key = tuple[str, int]
BEFORE_HEAD_MM = 0.6  # a hole for a key may stand this far beside the screw


@dataclass(slots=True)
class HoleNames:
    """Names of the holes of own types, by type id and number of the hole; groups are used whole."""

    of: dict[str, list[str]] = field(default_factory=dict)

    def words(self, layers: Iterable[Layer], unit: str) -> list[str]:
        """Holes as a machine folder names them, a group by one word, in the order met."""
        by_piece: dict[str, tuple[Piece, list[int]]] = {}
        for layer in layers:
            by_piece.setdefault(layer.piece.id, (layer.piece, []))[1].append(layer.hole)
        words: list[str] = []
        for piece, numbers in by_piece.values():
            words += [f"{reference(piece, unit)}:{name}" for name in self._names(piece, numbers)]
        return words

    def _names(self, piece: Piece, numbers: Sequence[int]) -> list[str]:
        names = [hole.name for hole in piece.holes] if piece.standard else self.of[piece.word]
        used = {names[number] for number in numbers}
        found: dict[str, None] = {}
        for number in numbers:
            group = names[number].rpartition(".")[0]
            whole = {name for name in names if name.rpartition(".")[0] == group} <= used
            found.setdefault(group if whole else names[number])
        return list(found)


@dataclass(slots=True)
class _Uses:
    """What screws do with the holes of own types, by type id and number of the hole.

    `by`: piece, joint and how; `bites`: thread and insert; `inserts`: where the insert sits, in the part's
    coordinates.
    """

    by: dict[_Key, list[tuple[str, ...]]] = field(default_factory=dict)
    bites: dict[_Key, tuple[str, str]] = field(default_factory=dict)
    inserts: dict[_Key, Array] = field(default_factory=dict)

    @classmethod
    def of(cls, drafts: Sequence[Draft]) -> _Uses:
        uses = cls()
        for draft in drafts:
            for stack in draft.stacks:
                uses._add(stack, f"{draft.unit}/{draft.name}")
        return uses

    def _add(self, stack: Stack, joint: str) -> None:
        for layer in stack.passed:
            self.by.setdefault((layer.piece.word, layer.hole), []).append((layer.piece.id, joint, "through"))
        if stack.bitten is None:
            return
        piece, key = stack.bitten.piece, (stack.bitten.piece.word, stack.bitten.hole)
        self.by.setdefault(key, []).append((piece.id, joint, "into"))
        if stack.host is Host.INSERT and stack.nut is not None:
            self.bites.setdefault(key, ("", stack.nut.word))
            self.inserts.setdefault(key, piece.placement.back(stack.nut.placement.origin_mm))
        else:
            self.bites.setdefault(key, (stack.size.thread.name, ""))


def name_holes(found: Pieces, drafts: Sequence[Draft]) -> HoleNames:
    """Names all holes of own types, and says which are tapped, take inserts or only let a key through.

    Holes that are alike and are used by the same joints wherever the part stands are one group.
    """
    uses = _Uses.of(drafts)
    keys = _key_holes(found, drafts)
    names = HoleNames()
    for own in found.types:
        groups: dict[tuple[object, ...], str] = {}
        counts: dict[str, int] = {}
        names.of[own.id] = []
        for number, seen in enumerate(own.holes):
            key = (own.id, number)
            thread, insert = uses.bites.get(key, ("", ""))
            access = bool(own.profile) and key in keys and key not in uses.by
            hole = replace(seen, thread=thread, insert=insert, access=access)
            if key in uses.inserts:
                hole = _opened_at(hole, uses.inserts[key])
            own.holes[number] = hole
            group = (*_like(own, hole), tuple(sorted(set(uses.by.get(key, [])))))
            name = groups.setdefault(group, "") or unused(_hole_word(hole), groups.values())
            groups[group] = name
            counts[name] = counts.get(name, 0) + 1
            names.of[own.id].append(f"{name}.{counts[name]}")
    return names


def _opened_at(hole: Hole, spot_mm: Array) -> Hole:
    """The hole as seen from the end in which an insert sits."""
    out = np.asarray(hole.direction)
    far = np.asarray(hole.at_mm) - out * hole.depth_mm
    if not hole.through or np.linalg.norm(spot_mm - far) >= np.linalg.norm(spot_mm - np.asarray(hole.at_mm)):
        return hole
    return replace(
        hole,
        at_mm=rounded(far),
        direction=clean_direction(-out),
        counterbore_mm=0.0,
        counterbore_depth_mm=0.0,
    )


def unused(word: str, used: Iterable[str]) -> str:
    """The word, with a number behind it when it is used already."""
    taken = set(used)
    name, number = word, 2
    while name in taken:
        name, number = f"{word}-{number}", number + 1
    return name


def _hole_word(hole: Hole) -> str:
    if hole.thread:
        return f"{hole.thread.lower()}-tapped"
    if hole.insert:
        return "insert"
    if hole.access:
        return "key"
    return f"d{hole.diameter_mm:g}".replace(".", "-")


def _like(own: OwnType, hole: Hole) -> tuple[object, ...]:
    """What the holes of one group share: all that the text says but for where they are."""
    face: tuple[object, ...] = ()
    if own.profile is not None:  # a group's holes lie on one line of one face
        across = hole.at_mm[2] if abs(hole.direction[1]) > 0.5 else hole.at_mm[1]
        face = (round(across, 3),)
    depth = 0.0 if hole.through and (own.profile or own.rectangle_mm) else hole.depth_mm
    diameter = 0.0 if hole.thread or hole.insert else hole.diameter_mm
    return (
        hole.direction, diameter, depth, hole.through, hole.thread,
        hole.insert, hole.counterbore_mm, hole.counterbore_depth_mm, hole.countersunk, hole.access, *face,
    )  # fmt: skip


def _key_holes(found: Pieces, drafts: Sequence[Draft]) -> set[tuple[str, int]]:
    """Holes of members that lie before the head of a blind joint's screw."""
    by_id = {piece.id: piece for piece in found.pieces}
    keys: set[tuple[str, int]] = set()
    for draft in drafts:
        for stack in draft.stacks:
            if not stack.head_in_slot or stack.hit is None:
                continue
            member = by_id[stack.hit.channel.member]
            for number, hole in enumerate(member.holes):
                delta = member.placement.point(hole.at_mm) - stack.head_mm
                along = float(delta @ stack.axis)
                if (
                    abs(float(member.placement.direction(hole.direction) @ stack.axis)) > SAME_LINE
                    and np.linalg.norm(delta - along * stack.axis) < BEFORE_HEAD_MM
                ):
                    keys.add((member.word, number))
    return keys
