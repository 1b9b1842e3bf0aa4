"""Two versions of a machine side by side: what is new, gone, renamed or another, and which paper says so."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from trysquare.machine.says_so import says_so
from trysquare.machine.values import Joint, Machine, PlacedPart, Saying
from trysquare.publish.joint_changes import JointChange, joint_change
from trysquare.publish.same_thing import Matched, differences, match
from trysquare.publish.step_changes import step_differences

NEW, GONE, RENAMED, OTHER = "new", "gone", "renamed", "changed"


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
    is done; False for names, words and the papers themselves. `says`: what is another about it."""

    sort: str  # "part", "place", "joint", "step", "reading", "paper"
    id: str
    does: str  # "new", "gone", "renamed", "changed"
    was: str = ""
    says: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()
    matters: bool = True


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
            if now is not None and not self.matched.same_piece(part, now):
                self.pairs[part.id] = now.id

    # -- papers ---------------------------------------------------------------------------------

    def _because(self, old_line: str, new_line: str) -> tuple[Reason, ...]:
        """What papers say of a line now and did not say before."""

        def key(one: Saying) -> tuple[str, ...]:
            return (one.line, one.paper, one.does, one.read, one.reason)

        before = {key(one) for one in says_so(self.old, old_line)} if old_line else set()
        papers = {paper.id: paper for paper in self.new.papers}
        editions = {paper.id: paper.edition for paper in self.old.papers}
        found: dict[Reason, bool] = {}
        for one in says_so(self.new, new_line or old_line):
            paper = papers.get(one.paper)
            if paper is None or key(one) in before or not (one.stands or one.does in ("removes", "voids")):
                continue
            plain = one.does == "says"
            says = one.reason or ("" if plain else paper.reason)
            was = editions.get(paper.id, paper.edition)
            if not says and was != paper.edition:
                says = f"edition {was} → {paper.edition}"
            found[
                Reason(paper=paper.id, title=paper.title, edition=paper.edition, says=says, page=one.page)
            ] = plain
        # What a paper merely says is the reason only where none changes it.
        return tuple(one for one, plain in found.items() if not plain or all(found.values()))

    def _papers(self) -> Iterator[Change]:
        old = {paper.id: paper for paper in self.old.papers}
        new = {paper.id: paper for paper in self.new.papers}
        for name, paper in new.items():
            said = f"“{paper.title}”, edition {paper.edition}" if paper.edition else f"“{paper.title}”"
            if name not in old:
                says = (f"{said}: {paper.reason}" if paper.reason else said,)
                yield Change(sort="paper", id=name, does=NEW, says=says, matters=False)
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
                yield Change(
                    sort="paper",
                    id=name,
                    does=GONE,
                    says=(f"“{paper.title}” no longer holds",),
                    matters=False,
                )
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
                reasons = self._because(_line(part), "")
                yield Change(sort="place", id=old_id, does=GONE, says=(part.type.id,), reasons=reasons)
                continue
            now = new[new_id]
            other = () if self.matched.same_piece(part, now) else (f"{part.type.id} → {now.type.id}",)
            if other and part.type.id == now.type.id:
                other = (f"{now.type.id}: {', '.join(differences(part.type, now.type))}",)
            reasons = self._because(_line(part), _line(now))
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
                reasons = self._because("", _line(part))
                yield Change(sort="place", id=new_id, does=NEW, says=(part.type.id,), reasons=reasons)

    # -- joints ---------------------------------------------------------------------------------

    def _joints(self) -> Iterator[Change]:
        for joint in self.old.joints:
            new_id = self.matched.joints.get(joint.id)
            if new_id is None:
                reasons = self._because(_line(joint), "")
                self.joints.append(
                    JointChange(old=joint.id, new="", apart=True, loosen=True, says=("no longer made",))
                )
                yield Change(sort="joint", id=joint.id, does=GONE, reasons=reasons)
                continue
            found = joint_change(self.old, self.new, joint, self.new.joint[new_id], self.matched)
            if found.says:
                self.joints.append(found)
            if found.says or joint.id != new_id:
                reasons = self._because(_line(joint), _line(self.new.joint[new_id]))
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
                reasons = self._because("", _line(joint))
                yield Change(sort="joint", id=joint.id, does=NEW, says=_counted(joint), reasons=reasons)

    # -- readings and steps -----------------------------------------------------------------------

    def _readings(self) -> Iterator[Change]:
        old = {one.id: one for one in self.old.characteristics}
        new = {one.id: one for one in self.new.characteristics}
        for name, one in new.items():
            line = f"machine.characteristic.{name}"
            if name not in old:
                limit = (f"limit {one.limit:g} {one.unit}",)
                yield Change(sort="reading", id=name, does=NEW, says=limit, reasons=self._because("", line))
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


def _line(thing: PlacedPart | Joint) -> str:
    """The line behind a placed part or a joint; the two may have the same name."""
    sort = "joint" if isinstance(thing, Joint) else "place"
    return f"unit.{thing.unit}.{sort}.{thing.id.removeprefix(f'{thing.unit}/')}"


def _names(machine: Machine, type_id: str) -> set[str]:
    given = {alias for alias, part in machine.aliases.items() if part == type_id}
    return {*machine.types[type_id].aliases, *given}


def _counted(joint: Joint) -> tuple[str, ...]:
    return tuple(
        f"{pieces} × {name}" for name, pieces in Counter(one.type.id for one in joint.brings).items()
    )
