"""What is another about a joint, and whether it must come apart for it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from trysquare.machine.values import Fastening, Joint, Machine
from trysquare.publish.same_thing import SAME_MM, Matched

LENGTH_MM = 0.5  # belts and cables: less is in the cutting
SAME_TURN = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class JointChange:
    """A joint that is not as it was. `old`, `new`: ids; "" where it is in one version only.

    `apart`: its parts must come apart, whatever its pieces are; `loosen`: its screws must be turned back.
    Neither: only pieces change, or it is tightened anew.
    """

    old: str
    new: str
    apart: bool
    loosen: bool
    says: tuple[str, ...]


def joint_change(
    old_machine: Machine, new_machine: Machine, old: Joint, new: Joint, matched: Matched
) -> JointChange:
    """All that differs between two versions of a joint; `says` is empty when nothing does."""
    apart = [*_other_parts(old, new, matched), *_laid(old, new)]
    loosen: list[str] = []
    if old.belt is None and old.cable is None and not old.slides_on:
        moved = [
            f"{name} sits elsewhere"
            for name in new.parts
            if _shifted(old_machine, new_machine, name, old, new, matched)
        ]
        # Along the same slots a part is shifted; into other ones it must come off.
        same_slots = _slots(old.fastenings, matched) == _slots(new.fastenings, None)
        (loosen if same_slots else apart).extend(moved)
    if old.locks != new.locks:
        was, now = (", ".join(locks) or "nothing" for locks in (old.locks, new.locks))
        loosen.append(f"{was} → {now} on the thread")
    if old.align != new.align and new.align:
        loosen.append(f"{new.align} is read before it is final")
    says = (*apart, *loosen, *_pieces(old, new, matched), *_anew(old, new))
    return JointChange(
        old=old.id,
        new=new.id,
        apart=bool(apart),
        loosen=bool(loosen),
        says=tuple(dict.fromkeys(says)),
    )


def _other_parts(old: Joint, new: Joint, matched: Matched) -> Iterator[str]:
    if old.recipe != new.recipe:
        yield f"{old.recipe} → {new.recipe}"
    parts = {matched.places.get(part, part) for part in old.parts}
    yield from (f"now also joins {name}" for name in new.parts if name not in parts)
    yield from (f"no longer joins {name}" for name in sorted(parts - set(new.parts)))


def _anew(old: Joint, new: Joint) -> Iterator[str]:
    if old.torque_newton_metre != new.torque_newton_metre:
        torques = (old.torque_newton_metre, new.torque_newton_metre)
        was, now = (f"{torque:g} N·m" if torque else "no torque said" for torque in torques)
        yield f"{was} → {now}"
    if new.from_centre and not old.from_centre:
        yield "tightened from the middle outwards"


def _pieces(old: Joint, new: Joint, matched: Matched) -> Iterator[str]:
    """Pieces that change, come or go; alike ones have the same words."""
    before = {matched.piece(piece.id): piece for piece in old.brings}
    after = {piece.id: piece for piece in new.brings}
    for name, piece in before.items():
        now = after.get(name)
        if now is None:
            yield f"fewer {piece.type.id}"
        elif not matched.same_piece(piece, now):
            yield f"{piece.type.id} → {now.type.id}"
    yield from (f"more {piece.type.id}" for name, piece in after.items() if name not in before)


def _shifted(
    old_machine: Machine, new_machine: Machine, name: str, old: Joint, new: Joint, matched: Matched
) -> bool:
    """Whether a part sits elsewhere on the joint's first part than it did. Where another piece sits follows
    from what it is, so only pieces that stay are compared."""
    before = {matched.places.get(part, part): part for part in old.parts}
    first = new.parts[0]
    if name == first or name not in before or first not in before:
        return False
    was = [old_machine.part[before[one]] for one in (first, name)]
    now = [new_machine.part[one] for one in (first, name)]
    if not all(matched.same_piece(one, other) for one, other in zip(was, now, strict=True)):
        return False
    at_mm = [base.placement.back(part.placement.origin_mm) for base, part in (was, now)]
    turn = [base.placement.turn.T @ part.placement.turn for base, part in (was, now)]
    return bool(np.abs(at_mm[0] - at_mm[1]).max() > SAME_MM or np.abs(turn[0] - turn[1]).max() > SAME_TURN)


def _slots(fastenings: Iterable[Fastening], matched: Matched | None) -> list[tuple[str, str]]:
    places = matched.places if matched is not None else {}
    return [(places.get(one.slot_member, one.slot_member), one.slot_face) for one in fastenings]


def _laid(old: Joint, new: Joint) -> Iterator[str]:
    """What is another about a belt or cable."""
    was, now = old.belt or old.cable, new.belt or new.cable
    if was is not None and now is not None and abs(was.length_mm - now.length_mm) > LENGTH_MM:
        yield f"{was.length_mm:.0f} → {now.length_mm:.0f} mm long"
    if old.cable is not None and new.cable is not None:
        for key in ("wire", "cores", "from_terminal", "to_terminal", "label"):
            before, after = getattr(old.cable, key), getattr(new.cable, key)
            if before != after:
                yield f"{before} → {after}"
