"""Which thing of a new version is which of the old one, whatever it is called by now.

Steps, joints and places are matched by id; what has another id but is the same thing in the same place is a
renaming. Part types are matched by id, by designation and by the names that papers give them.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, fields
from typing import Any

from trysquare.machine.values import Action, Joint, Machine, PartType, PlacedPart, Step

SAME_MM = 0.001  # two placements this near are one
_NOT_THE_PIECE = frozenset(
    {"id", "name", "where", "paper", "aliases", "mates_with", "shape_file", "mass_gram", "cutter"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Matched:
    """Old id → new id, for everything that is in both versions."""

    types: Mapping[str, str]
    places: Mapping[str, str]
    joints: Mapping[str, str]
    steps: Mapping[str, str]

    def piece(self, old: str) -> str:
        """A placed thing or a piece of a joint by its new id; as it was when nothing has become of it."""
        if old in self.places:
            return self.places[old]
        joint, _, rest = old.rpartition("/")
        return f"{self.joints[joint]}/{rest}" if joint in self.joints else old

    def fastening(self, old: str) -> str:
        """One screw of a joint by its new id."""
        joint, _, rest = old.rpartition(".")
        return f"{self.joints[joint]}.{rest}" if joint in self.joints else old

    def place(self, old: str) -> str:
        """A placed part by its new id."""
        return self.places.get(old, old)

    def joint(self, old: str) -> str:
        """A joint, or one screw of it, by its new id."""
        return self.joints[old] if old in self.joints else self.fastening(old)

    def type(self, old: str) -> str:
        """A part type by its new id."""
        return self.types.get(old, old)

    def same_piece(self, old: PlacedPart, new: PlacedPart) -> bool:
        """Whether two placed pieces are of one sort, whatever it is called."""
        return self.type(old.type.id) == new.type.id and not differences(old.type, new.type)


def match(old: Machine, new: Machine) -> Matched:
    """Finds every thing of the old version in the new one."""
    types = _types(old, new)
    places = _match(
        [part for part in old.placed if not part.joint],
        [part for part in new.placed if not part.joint],
        lambda part: _pose(part, types.get(part.type.id, part.type.id)),
        lambda part: _pose(part, part.type.id),
    )
    half = Matched(types=types, places=places, joints={}, steps={})
    joints = _match(
        old.joints,
        new.joints,
        lambda joint: _holds(joint, half),
        lambda joint: _holds(joint, None),
    )
    known = Matched(types=types, places=places, joints=joints, steps={})
    steps = _match(old.steps, new.steps, lambda step: _does(step, known), lambda step: _does(step, None))
    return Matched(types=types, places=places, joints=joints, steps=steps)


def _match(
    old: Iterable[Any],
    new: Iterable[Any],
    old_key: Callable[[Any], Hashable],
    new_key: Callable[[Any], Hashable],
) -> dict[str, str]:
    """By id; then what is left over, where exactly one of each version is the same."""
    new = list(new)
    there = {one.id for one in new}
    old = list(old)
    known = {one.id for one in old}
    found = {one.id: one.id for one in old if one.id in there}
    left: dict[Hashable, list[str]] = {}
    for one in new:
        if one.id not in known:
            left.setdefault(new_key(one), []).append(one.id)
    gone: dict[Hashable, list[str]] = {}
    for one in old:
        if one.id not in there:
            gone.setdefault(old_key(one), []).append(one.id)
    for key, names in gone.items():
        if len(names) == 1 and len(left.get(key, ())) == 1:
            found[names[0]] = left[key][0]
    return found


def _types(old: Machine, new: Machine) -> dict[str, str]:
    called = {alias: part.id for part in new.types.values() for alias in part.aliases} | dict(new.aliases)
    before: dict[str, str] = {}
    for alias, part in old.aliases.items():
        if alias in new.types:
            before.setdefault(part, alias)
    for part_type in old.types.values():
        for alias in part_type.aliases:
            if alias in new.types:
                before.setdefault(part_type.id, alias)
    found: dict[str, str] = {}
    for name in old.types:
        if name in new.types:
            found[name] = name
        elif called.get(name) in new.types:
            found[name] = called[name]
        elif name in before:
            found[name] = before[name]
    return found


def _pose(part: PlacedPart, type_id: str) -> Hashable:
    turn = tuple((part.placement.turn.round(6) + 0.0).ravel().tolist())
    origin = tuple(((part.placement.origin_mm / SAME_MM).round() + 0.0).tolist())
    return (type_id, turn, origin)


def _holds(joint: Joint, matched: Matched | None) -> Hashable:
    """What makes a joint this one when its name does not: what it joins, how, with how many pieces."""
    parts = joint.parts if matched is None else tuple(matched.places.get(part, part) for part in joint.parts)
    return (joint.recipe, parts, len(joint.fastenings), len(joint.brings))


def _does(step: Step, matched: Matched | None) -> Hashable:
    return tuple(atom for action in step.actions for atom in atoms(action, matched, said=True))


def atoms(
    action: Action, matched: Matched | None = None, *, said: bool = False
) -> list[tuple[str, str, tuple[Any, ...]]]:
    """An action as single deeds: verb, thing, and how. `matched`: things by their new ids; `said`: its words
    count as well. An action on nothing, such as a check, is what its words are."""
    place, joint = (matched.place, matched.joint) if matched is not None else (str, str)
    how: tuple[Any, ...] = (
        action.gap_mm,
        action.minutes,
        action.celsius,
        action.toward,
        action.means,
        tuple(sorted(action.using)),
        tuple(joint(one) for one in action.order),
        *((action.says,) if said else ()),
    )
    things = [place(one) for one in action.parts]
    things += [joint(one) for one in (*action.joints, *action.fastenings)]
    if action.reads:  # what is read is the deed; on which parts it is read is how
        return [(action.verb, read, how) for read in sorted(action.reads)]
    if not things:
        return [(action.verb, "", (*how, action.says))]
    return [(action.verb, name, how) for name in sorted(things)]


_WORDS: Mapping[str, str] = {
    "length_mm": "length", "outline_mm": "outline", "thickness_mm": "thickness", "tapped_ends": "tapped ends",
    "tapped_depth_mm": "depth of taps", "primitives": "shape", "shape_digest": "shape", "holds_nuts": "use",
}  # fmt: skip


def differences(old: PartType, new: PartType) -> tuple[str, ...]:
    """What is another about the piece itself; not what it is called."""
    said: dict[str, None] = {}
    for field in fields(PartType):
        before, after = getattr(old, field.name), getattr(new, field.name)
        if field.name in _NOT_THE_PIECE or before == after:
            continue
        word = _WORDS.get(field.name, field.name)
        if isinstance(before, float):
            said[f"{word} {before:g} → {after:g} mm"] = None
        elif isinstance(before, str) and word != "shape":
            said[f"{word} {before or 'not said'} → {after or 'not said'}"] = None
        elif field.name == "profile" and before is not None and after is not None:
            said[f"{before.designation} → {after.designation}"] = None
        else:
            said[f"other {word}"] = None
    return tuple(said)
