"""Two versions of a machine side by side: what is new, gone, renamed or another, and which paper says so."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from trysquare.machine.says_so import line_of, says_so
from trysquare.machine.values import Fastening, Joint, Machine, PlacedPart, Saying, Step
from trysquare.publish.same_thing import SAME_MM, Matched, atoms, differences, match

NEW, GONE, RENAMED, OTHER = "new", "gone", "renamed", "changed"
LENGTH_MM = 0.5  # belts and cables: less is in the cutting


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """A paper's word for a change; `says` is the paper's reason, "" when it gives none."""

    paper: str
    title: str
    edition: str
    says: str
    page: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that is not as it was. `was`: its old id when it has another now. `matters`: it changes what
    is done; False for names and words only. `says`: what is another about it."""

    sort: str  # "part", "place", "joint", "step", "reading", "paper"
    id: str
    does: str  # "new", "gone", "renamed", "changed"
    was: str = ""
    says: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()
    matters: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class JointChange:
    """What to do about a joint. `apart`: its parts must come apart; `loosen`: they only shift, or its screws
    change one by one; neither: it is tightened anew. `old`, `new`: ids; "" where it is in one version only."""

    old: str
    new: str
    apart: bool
    loosen: bool
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Everything that differs. `old_pieces` are ids of pieces that go or change, `new_pieces` of those that
    come; `pairs`: old piece id → new piece id where one takes the other's place."""

    old: Machine
    new: Machine
    matched: Matched
    changes: tuple[Change, ...]
    joints: tuple[JointChange, ...]
    old_pieces: frozenset[str]
    new_pieces: frozenset[str]
    pairs: Mapping[str, str]

    def of(self, sort: str) -> tuple[Change, ...]:
        """The changes of one sort."""
        return tuple(change for change in self.changes if change.sort == sort)


def compare(old: Machine, new: Machine) -> Comparison:
    """Both versions, thing by thing."""
    return _Comparing(old, new).all()


class _Comparing:
    def __init__(self, old: Machine, new: Machine) -> None:
        self.old, self.new, self.matched = old, new, match(old, new)
        self.reasons: dict[str, tuple[Reason, ...]] = {}  # new type id or place id -> why it is another
        self.pairs: dict[str, str] = {}
        self.joints: list[JointChange] = []

    def all(self) -> Comparison:
        changes = [
            *self._papers(),
            *self._types(),
            *self._places(),
            *self._joints(),
            *self._readings(),
            *self._steps(),
        ]
        self._pieces()
        kept = {one: self.matched.piece(one) for one in self.old.part}
        same = {one for one, now in kept.items() if now in self.new.part and one not in self.pairs}
        return Comparison(
            old=self.old,
            new=self.new,
            matched=self.matched,
            changes=tuple(changes),
            joints=tuple(self.joints),
            old_pieces=frozenset(set(self.old.part) - same),
            new_pieces=frozenset(set(self.new.part) - {kept[one] for one in same}),
            pairs=self.pairs,
        )

    def _pieces(self) -> None:
        for part in self.old.placed:
            now = self.new.part.get(self.matched.piece(part.id))
            if now is not None and not self._same_piece(part, now):
                self.pairs[part.id] = now.id

    def _same_piece(self, part: PlacedPart, now: PlacedPart) -> bool:
        return self.matched.type(part.type.id) == now.type.id and not differences(part.type, now.type)

    # -- papers ---------------------------------------------------------------------------------

    def _because(self, old_line: str, new_line: str) -> tuple[Reason, ...]:
        """What papers say of a line now and did not say before."""

        def key(one: Saying) -> tuple[str, ...]:
            return (one.line, one.paper, one.does, one.read, one.reason)

        before = {key(one) for one in says_so(self.old, old_line)} if old_line else set()
        papers = {paper.id: paper for paper in self.new.papers}
        found: dict[Reason, None] = {}
        for one in says_so(self.new, new_line or old_line):
            paper = papers.get(one.paper)
            if paper is None or key(one) in before or not (one.stands or one.does in ("removes", "voids")):
                continue
            says = one.reason or paper.reason
            found[
                Reason(paper=paper.id, title=paper.title, edition=paper.edition, says=says, page=one.page)
            ] = None
        return tuple(found)

    def _papers(self) -> Iterator[Change]:
        old = {paper.id: paper for paper in self.old.papers}
        new = {paper.id: paper for paper in self.new.papers}
        for name, paper in new.items():
            said = f"“{paper.title}”, edition {paper.edition}" if paper.edition else f"“{paper.title}”"
            if name not in old:
                says = (f"{said}: {paper.reason}" if paper.reason else said,)
                yield Change(sort="paper", id=name, does=NEW, says=says)
                continue
            before = old[name]
            pairs = (
                ("edition", before.edition, paper.edition),
                ("title", before.title, paper.title),
                ("kind", before.kind, paper.kind),
                ("over", ", ".join(before.over), ", ".join(paper.over)),
                ("reason", before.reason, paper.reason),
            )
            other = tuple(f"{key} {was or 'none'} → {now or 'none'}" for key, was, now in pairs if was != now)
            if other:
                yield Change(sort="paper", id=name, does=OTHER, says=other, matters=False)
        for name, paper in old.items():
            if name not in new:
                yield Change(sort="paper", id=name, does=GONE, says=(f"“{paper.title}” no longer holds",))
        before_rulings = {ruling.line: ruling for ruling in self.old.rulings}
        for ruling in self.new.rulings:
            was = before_rulings.get(ruling.line)
            if was is None or was.take != ruling.take:
                says = (f"{ruling.line}: {ruling.take} holds. {ruling.reason}".strip(),)
                yield Change(sort="paper", id="rulings", does=OTHER, says=says, matters=False)

    # -- parts ----------------------------------------------------------------------------------

    def _types(self) -> Iterator[Change]:
        for old_id, new_id in self.matched.types.items():
            before, after = self.old.types[old_id], self.new.types[new_id]
            other = differences(before, after)
            reasons = self._because(f"part.{old_id}", f"part.{new_id}")
            self.reasons[new_id] = reasons if other else ()
            calls = tuple(
                f"also called {name}"
                for name in _names(self.new, new_id) - _names(self.old, old_id) - {old_id}
            )
            if other or old_id != new_id or calls:
                yield Change(
                    sort="part",
                    id=new_id,
                    does=OTHER if other else RENAMED,
                    was=old_id if old_id != new_id else "",
                    says=(*other, *calls),
                    reasons=reasons,
                    matters=bool(other),
                )

    def _places(self) -> Iterator[Change]:
        old = {part.id: part for part in self.old.placed if not part.joint}
        new = {part.id: part for part in self.new.placed if not part.joint}
        for old_id, part in old.items():
            new_id = self.matched.places.get(old_id)
            if new_id is None:
                reasons = self._because(line_of(self.old, old_id), "")
                yield Change(sort="place", id=old_id, does=GONE, says=(part.type.id,), reasons=reasons)
                continue
            now = new[new_id]
            other = () if self._same_piece(part, now) else (f"{part.type.id} → {now.type.id}",)
            if other and part.type.id == now.type.id:
                other = (f"{now.type.id}: {', '.join(differences(part.type, now.type))}",)
            reasons = self._because(line_of(self.old, old_id), line_of(self.new, new_id))
            self.reasons[new_id] = reasons or self.reasons.get(now.type.id, ())
            if other or old_id != new_id:
                was = old_id if old_id != new_id else ""
                yield Change(
                    sort="place", id=new_id, does=OTHER if other else RENAMED, was=was, says=other,
                    reasons=self.reasons[new_id], matters=bool(other),
                )  # fmt: skip
        there = set(self.matched.places.values())
        for new_id, part in new.items():
            if new_id not in there:
                reasons = self._because("", line_of(self.new, new_id))
                yield Change(sort="place", id=new_id, does=NEW, says=(part.type.id,), reasons=reasons)

    # -- joints ---------------------------------------------------------------------------------

    def _joints(self) -> Iterator[Change]:
        for joint in self.old.joints:
            new_id = self.matched.joints.get(joint.id)
            if new_id is None:
                reasons = self._because(line_of(self.old, joint.id), "")
                self.joints.append(
                    JointChange(old=joint.id, new="", apart=True, loosen=True, says=("no longer made",))
                )
                yield Change(sort="joint", id=joint.id, does=GONE, reasons=reasons)
                continue
            found = self._joint(joint, self.new.joint[new_id])
            if found.says:
                self.joints.append(found)
            if found.says or joint.id != new_id:
                reasons = self._because(line_of(self.old, joint.id), line_of(self.new, new_id))
                if not reasons:
                    parts = self.new.joint[new_id].parts
                    reasons = tuple(dict.fromkeys(r for part in parts for r in self.reasons.get(part, ())))
                yield Change(
                    sort="joint", id=new_id, does=OTHER if found.says else RENAMED,
                    was=joint.id if joint.id != new_id else "", says=found.says, reasons=reasons,
                    matters=bool(found.says),
                )  # fmt: skip
        there = set(self.matched.joints.values())
        for joint in self.new.joints:
            if joint.id not in there:
                self.joints.append(JointChange(old="", new=joint.id, apart=True, loosen=True, says=("new",)))
                reasons = self._because("", line_of(self.new, joint.id))
                yield Change(sort="joint", id=joint.id, does=NEW, says=_counted(joint), reasons=reasons)

    def _joint(self, old: Joint, new: Joint) -> JointChange:
        apart: list[str] = []
        loosen: list[str] = []
        anew: list[str] = []
        parts = tuple(self.matched.places.get(part, part) for part in old.parts)
        if old.recipe != new.recipe:
            apart.append(f"{old.recipe} → {new.recipe}")
        if set(parts) != set(new.parts):
            more, less = sorted(set(new.parts) - set(parts)), sorted(set(parts) - set(new.parts))
            apart += [f"now also joins {name}" for name in more] + [
                f"no longer joins {name}" for name in less
            ]
        for piece, word in self._brought(old, new):
            one_by_one = piece.rpartition("/")[2].startswith(("screw.", "washer.")) and not _in_slot(
                old, piece
            )
            (loosen if one_by_one else apart).append(word)
        laid = _laid(old, new)
        apart += laid
        if not laid and old.belt is None and old.cable is None and not old.slides_on:
            elsewhere = [name for name in new.parts if self._shifted(name, old, new)]
            moved = [f"{name} sits elsewhere" for name in elsewhere]
            slots = _slots(old.fastenings, self.matched)
            (loosen if slots == _slots(new.fastenings, None) else apart).extend(moved)
        if old.locks != new.locks:
            loosen.append(
                f"{', '.join(old.locks) or 'nothing'} → {', '.join(new.locks) or 'nothing'} on the thread"
            )
        if old.align != new.align and new.align:
            loosen.append(f"{new.align} is read before it is final")
        if old.torque_newton_metre != new.torque_newton_metre:
            torques = (old.torque_newton_metre, new.torque_newton_metre)
            was, now = (f"{torque:g} N·m" if torque else "no torque said" for torque in torques)
            anew.append(f"{was} → {now}")
        if old.from_centre != new.from_centre and new.from_centre:
            anew.append("tightened from the middle outwards")
        return JointChange(
            old=old.id, new=new.id, apart=bool(apart), loosen=bool(loosen),
            says=tuple(dict.fromkeys((*apart, *loosen, *anew))),
        )  # fmt: skip

    def _brought(self, old: Joint, new: Joint) -> Iterator[tuple[str, str]]:
        """Pieces that change, come or go, by id, each with words; alike ones have the same words."""
        before = {self.matched.piece(piece.id): piece for piece in old.brings}
        after = {piece.id: piece for piece in new.brings}
        for name, piece in before.items():
            now = after.get(name)
            if now is None:
                yield piece.id, f"{piece.type.id} less"
            elif not self._same_piece(piece, now):
                yield piece.id, f"{piece.type.id} → {now.type.id}"
        for name, piece in after.items():
            if name not in before:
                yield name, f"{piece.type.id} more"

    def _shifted(self, name: str, old: Joint, new: Joint) -> bool:
        """Whether a part of a joint sits elsewhere on the joint's first part than it did."""
        back = {now: was for was, now in self.matched.places.items()}
        first = new.parts[0]
        if (
            name == first
            or name not in back
            or back.get(first) not in old.parts
            or back[name] not in old.parts
        ):
            return False
        was, is_now = (
            (machine.part[one].placement, machine.part[other].placement)
            for machine, one, other in ((self.old, back[first], back[name]), (self.new, first, name))
        )
        at = [base.back(part.origin_mm) for base, part in (was, is_now)]
        turn = [base.turn.T @ part.turn for base, part in (was, is_now)]
        if self.old.part[back[name]].type.id != self.new.part[name].type.id or self._other_type(
            first, back[first]
        ):
            return False  # another piece: where it sits follows from what it is
        return bool(np.abs(at[0] - at[1]).max() > SAME_MM or np.abs(turn[0] - turn[1]).max() > 1e-6)

    def _other_type(self, new_id: str, old_id: str) -> bool:
        return not self._same_piece(self.old.part[old_id], self.new.part[new_id])

    # -- readings and steps -----------------------------------------------------------------------

    def _readings(self) -> Iterator[Change]:
        old = {one.id: one for one in self.old.characteristics}
        new = {one.id: one for one in self.new.characteristics}
        for name, one in new.items():
            line = f"machine.characteristic.{name}"
            if name not in old:
                says = (f"limit {one.limit:g} {one.unit}",)
                yield Change(sort="reading", id=name, does=NEW, says=says, reasons=self._because("", line))
                continue
            was = old[name]
            says = tuple(
                word
                for word, differs in (
                    (f"limit {was.limit:g} {was.unit} → {one.limit:g} {one.unit}",
                     (was.limit, was.unit) != (one.limit, one.unit)),
                    (f"{was.sort} → {one.sort}", was.sort != one.sort),
                    (f"read on {', '.join(one.of)}",
                     tuple(self.matched.places.get(part, part) for part in was.of) != one.of),
                )
                if differs
            )  # fmt: skip
            if says:
                yield Change(
                    sort="reading", id=name, does=OTHER, says=says, reasons=self._because(line, line)
                )
        for name in old:
            if name not in new:
                reasons = self._because(f"machine.characteristic.{name}", "")
                yield Change(sort="reading", id=name, does=GONE, reasons=reasons)

    def _steps(self) -> Iterator[Change]:
        new = {step.id: step for step in self.new.steps}
        for step in self.old.steps:
            new_id = self.matched.steps.get(step.id)
            if new_id is None:
                reasons = self._because(f"step.{step.id}", "")
                yield Change(sort="step", id=step.id, does=GONE, says=(step.title,), reasons=reasons)
                continue
            deeds, words = step_differences(step, new[new_id], self.matched)
            if deeds or words or new_id != step.id:
                yield Change(
                    sort="step", id=new_id, does=OTHER if deeds or words else RENAMED,
                    was=step.id if step.id != new_id else "", says=(*deeds, *words),
                    reasons=self._because(f"step.{step.id}", f"step.{new_id}"), matters=bool(deeds),
                )  # fmt: skip
        there = set(self.matched.steps.values())
        for step in self.new.steps:
            if step.id not in there:
                reasons = self._because("", f"step.{step.id}")
                yield Change(sort="step", id=step.id, does=NEW, says=(step.title,), reasons=reasons)


def step_differences(old: Step, new: Step, matched: Matched) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is done otherwise in a step, and what is only worded otherwise."""
    before = [atom for action in old.actions for atom in atoms(action, matched)]
    after = [atom for action in new.actions for atom in atoms(action)]
    less, more = Counter(before) - Counter(after), Counter(after) - Counter(before)
    deeds = [_deed("now", more, less), _deed("no longer", less, more)]
    if not more and not less and before != after:
        deeds.append("its actions in another order")
    deeds += [f"caution: {word}" for word in new.caution if word not in old.caution]
    words: list[str] = []
    if old.title != new.title:
        words.append(f"now called “{new.title}”")
    if old.why != new.why and new.why:
        words.append(f"why: {new.why}")
    said = [one.says for one in old.actions]
    words += [f"says: {one.says}" for one in new.actions if one.says and one.says not in said]
    return tuple(word for word in deeds if word), tuple(words)


def _deed(word: str, these: Counter[tuple[str, str, tuple[object, ...]]], those: Iterable[object]) -> str:
    """Deeds as "now: tighten a, b; read c", those that are only done otherwise as such."""
    others = {atom[:2] for atom in those if isinstance(atom, tuple)}
    by_verb: dict[str, list[str]] = {}
    for verb, thing, how in these:
        if (verb, thing) in others and word != "now":
            continue  # said once, as what is done now
        what = thing or str(how[-1])
        by_verb.setdefault(verb, []).append(
            f"{what} otherwise" if (verb, thing) in others and thing else what
        )
    told = "; ".join(f"{verb} {', '.join(names)}" for verb, names in by_verb.items())
    return f"{word}: {told}" if told else ""


def _names(machine: Machine, type_id: str) -> set[str]:
    given = {alias for alias, part in machine.aliases.items() if part == type_id}
    return {*machine.types[type_id].aliases, *given}


def _counted(joint: Joint) -> tuple[str, ...]:
    return tuple(
        f"{pieces} × {name}" for name, pieces in Counter(one.type.id for one in joint.brings).items()
    )


def _in_slot(joint: Joint, piece: str) -> bool:
    """Whether a screw's head lies in a slot, so that it only comes out with its member."""
    return any(one.head_in_slot and piece in (one.screw, *one.washers) for one in joint.fastenings)


def _slots(fastenings: Iterable[Fastening], matched: Matched | None) -> list[tuple[str, str]]:
    place = matched.places if matched is not None else {}
    return [(place.get(one.slot_member, one.slot_member), one.slot_face) for one in fastenings]


def _laid(old: Joint, new: Joint) -> list[str]:
    """What is another about a belt or cable."""
    said: list[str] = []
    was, now = old.belt or old.cable, new.belt or new.cable
    if was is not None and now is not None and abs(was.length_mm - now.length_mm) > LENGTH_MM:
        said.append(f"{was.length_mm:.0f} → {now.length_mm:.0f} mm long")
    if old.cable is not None and new.cable is not None:
        for key in ("wire", "cores", "from_terminal", "to_terminal", "label"):
            before, after = getattr(old.cable, key), getattr(new.cable, key)
            if before != after:
                said.append(f"{before} → {after}")
    return said
