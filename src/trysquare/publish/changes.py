"""Corrections for whoever built to a step of an older version: what to undo, swap, redo and read again.

Two states are put side by side: what stands by now after the old version's steps, and what the new version
would have standing at the same point of its own order. What only one of them has is taken apart in the one
and made in the other; solids, slot ends and key lines say what must come off besides.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator

from trysquare.ground.errors import ReadingError, Where, nearest
from trysquare.machine.values import Machine, Step
from trysquare.publish.compare import GONE, Comparison, Reason, compare
from trysquare.publish.corrections import Changes, Redo, Reread, Swap, Undo
from trysquare.publish.same_thing import Matched, atoms
from trysquare.publish.taking_back import TakingBack, done_work, ids_of, state_of, take_back
from trysquare.publish.undo_words import undo_words
from trysquare.sequence.operations import Operation, Work
from trysquare.sequence.state import Tightness, reached
from trysquare.stock.bringing import bringing, sort_of

__all__ = ["Changes", "Redo", "Reread", "Swap", "Undo", "changes"]

_MOST_ROUNDS = 5  # of telling each version what the other one takes apart; two nearly always do
WORK_VERBS = frozenset({"place", "insert", "start", "snug", "tighten", "press", "route", "crimp", "read"})
_GOES_WITHOUT_SAYING = frozenset(
    {"started, then snug, then final", "a screw needs its nut", "the screws go through or into it"}
)
_ONE_BY_ONE = frozenset({"screw", "washer"})


def changes(old: Machine, new: Machine, built: str = "") -> Changes:
    """What the new version means for whoever has done the old one's steps up to `built`.

    Raises ReadingError when the old version has no such step.
    """
    names = [step.id for step in old.steps]
    if built and built not in names:
        later = built in {step.id for step in new.steps}
        raise ReadingError(
            where=Where(file="--built"),
            read=built,
            expected="a step of the first version" + ("; this one is of the second" if later else ""),
            remedy=nearest(built, names),
        )
    done = names[: names.index(built) + 1] if built else []
    return _Following(compare(old, new), done).all(built)


class _Following:
    """A builder who has done some steps of the old version."""

    def __init__(self, comparison: Comparison, done: Collection[str]) -> None:
        self.comparison = comparison
        self.old, self.new, self.matched = comparison.old, comparison.new, comparison.matched
        self.old_state = state_of(self.old, set(done))
        self.present = {self.matched.piece(piece) for piece in self.old_state.present}
        self.done = {self.matched.steps[step] for step in done if step in self.matched.steps}
        known = set(self.matched.steps.values())
        self.done |= {step.id for step in self.new.steps if step.id not in known and self._is_done(step)}
        at = [index for index, step in enumerate(self.new.steps) if step.id in self.done]
        self.reached = max(at, default=-1)
        self.catch_up = {
            step.id: "comes earlier now" if step.id in known else "is new"
            for step in self.new.steps[: self.reached + 1]
            if step.id not in self.done
        }
        self.new_state = state_of(self.new, self.done | set(self.catch_up))
        self.reasons = {(one.sort, one.id): one.reasons for one in comparison.changes}
        self.brought = {
            piece.id: self.new.steps[entry.step].id for entry in bringing(self.new) for piece in entry.pieces
        }

    def _is_done(self, step: Step) -> bool:
        """Whether all the work of a step is done already, under other steps of the old version."""
        deeds = [
            (verb, thing) for action in step.actions for verb, thing, _ in atoms(action) if verb in WORK_VERBS
        ]
        made = any(verb != "read" for verb, _ in deeds)
        return made and all(self._is_made(verb, thing) for verb, thing in deeds)

    def _is_made(self, verb: str, thing: str) -> bool:
        if verb == "read":
            return thing in self.old_state.reads
        if verb == "place" and thing in self.new.part:
            return thing in self.present
        if verb in ("route", "crimp"):
            there = self.old_state.routed if verb == "route" else self.old_state.crimped
            return thing in {self.matched.joints.get(joint) for joint in there}
        level = reached(verb)
        joint = self.new.joint.get(thing)
        if level is not None:
            turned = {self.matched.fastening(one): tight for one, tight in self.old_state.tight.items()}
            screws = [one.id for one in joint.fastenings] if joint else [thing]
            return all(turned.get(one, Tightness.ABSENT) >= level for one in screws)
        wanted = {"insert": ("nut", "bar", "carrier", "bracket"), "press": ("insert",)}.get(
            verb, ("bracket",)
        )
        if joint is not None:
            return all(one.id in self.present for one in joint.brings if sort_of(one) in wanted)
        return thing in self.present

    # -- taking apart and making anew -----------------------------------------------------------

    def all(self, built: str) -> Changes:
        undo, stuck, redo, reread = self._work()
        ahead = {change.id: change for change in self.comparison.of("step") if change.does != GONE}
        to_come = [step.id for step in self.new.steps[self.reached + 1 :]]
        touched = {one.step for one in redo}
        words = tuple(
            step for step in self._in_order(self.done - touched) if step in ahead and not ahead[step].matters
        )
        return Changes(
            comparison=self.comparison,
            built=built,
            swaps=tuple(self._swaps()),
            undo=undo,
            stuck=stuck,
            do_now=redo,
            reread=reread,
            words=words,
            next_step=to_come[0] if to_come else "",
            ahead=tuple(step for step in to_come if step in ahead),
            unaffected=tuple(step for step in self._in_order(self.done - touched) if step not in words),
        )

    def _in_order(self, steps: Collection[str]) -> list[str]:
        return [step.id for step in self.new.steps if step.id in steps]

    def _work(self) -> tuple[tuple[Undo, ...], tuple[str, ...], tuple[Redo, ...], tuple[Reread, ...]]:
        if not self.done and not self.old_state.present:
            return (), (), (), ()
        old_work, new_work = done_work(self.old, self.old_state), done_work(self.new, self.new_state)
        old_keys = {_key(one, self.matched): one.number for one in old_work.operations}
        new_keys = {_key(one, None): one.number for one in new_work.operations}
        old_targets = dict(self._old_targets(old_work))
        new_targets = dict(self._new_targets(new_work, old_keys))
        back = take_back(old_work, old_targets)
        for _ in range(_MOST_ROUNDS):
            new_targets |= {
                new_keys[key]: back.because[number]
                for key, number in old_keys.items()
                if number in back.because and key in new_keys and new_keys[key] not in new_targets
            }
            again = take_back(new_work, new_targets)
            more = {
                old_keys[key]: again.because[number]
                for key, number in new_keys.items()
                if number in again.because and key in old_keys and old_keys[key] not in back.because
            }
            if not more:
                break
            old_targets |= more
            back = take_back(old_work, old_targets)
        undo = tuple(
            Undo(says=says, of=of, because=because) for says, of, because in undo_words(old_work, back)
        )
        redo = tuple(self._redo(new_work, again))
        return undo, (*back.stuck, *again.stuck), redo, tuple(self._reread(old_work, back, new_work, again))

    def _old_targets(self, work: Work) -> Iterator[tuple[int, str]]:
        """What cannot stay: pieces that go or change, joints that are made otherwise."""
        for piece in sorted(self.comparison.old_pieces & set(self.old_state.present)):
            now = self.comparison.pairs.get(piece)
            was = self.old.part[piece].type.id
            why = f"{was} → {self.new.part[now].type.id}" if now else f"{was} is no longer used here"
            yield from self._of_piece(work, piece, why)
        for one in self.comparison.joints:
            if one.old and (one.apart or one.loosen):
                yield from _of_joint(work, one.old, "; ".join(one.says), whole=one.apart)

    def _new_targets(self, work: Work, old_keys: Collection[object]) -> Iterator[tuple[int, str]]:
        """What is to be made: new pieces, joints made otherwise, whatever is not done by now."""
        back = {now: was for was, now in self.comparison.pairs.items()}
        for piece in sorted(self.comparison.new_pieces & set(self.new_state.present)):
            name = self.new.part[piece].type.id
            why = f"{self.old.part[back[piece]].type.id} → {name}" if piece in back else f"{name} is new here"
            yield from self._of_piece(work, piece, why)
        for one in self.comparison.joints:
            if one.new and (one.apart or one.loosen):
                yield from _of_joint(work, one.new, "; ".join(one.says), whole=one.apart)
        for operation in work.operations:
            if _key(operation, None) not in old_keys:
                yield operation.number, f"{operation.name} is not done yet"

    def _of_piece(self, work: Work, piece: str, why: str) -> Iterator[tuple[int, str]]:
        """The operations to undo for a piece. Screws whose heads lie open change one by one: they are only
        turned, and nothing comes apart."""
        placed = work.machine.part[piece]
        in_slot = any(
            one.head_in_slot and piece in (one.screw, *one.washers)
            for one in (work.machine.joint[placed.joint].fastenings if placed.joint else ())
        )
        turns = list(_of_joint(work, placed.joint, why, whole=False))
        if placed.joint and sort_of(placed) in _ONE_BY_ONE and not in_slot and turns:
            yield from turns
        elif piece in work.bringer:
            yield work.bringer[piece], why

    # -- telling --------------------------------------------------------------------------------

    def _redo(self, work: Work, again: TakingBack) -> Iterator[Redo]:
        does: dict[str, dict[str, None]] = {}
        because: dict[str, dict[str, None]] = {}
        for number in reversed(again.order):
            operation = work.operations[number]
            if operation.verb == "read":
                continue  # told as a reading
            for step in self._steps_of(operation):
                does.setdefault(step, {})[operation.name] = None
                papers = self._papers(operation)
                because.setdefault(step, {}).update(dict.fromkeys(papers or self._why(again.because[number])))
        for step, deeds in self._further({work.operations[number].of for number in again.order}):
            does.setdefault(step, {}).update(dict.fromkeys(deeds))
            papers = [reason_words(one) for one in self.reasons.get(("step", step), ())]
            because.setdefault(step, {}).update(dict.fromkeys(papers))
        for one in self.new.steps[: self.reached + 1]:
            whole = one.id in self.catch_up
            if not whole and one.id not in does:
                continue
            papers = [reason_words(reason) for reason in self.reasons.get(("step", one.id), ())]
            yield Redo(
                step=one.id,
                title=one.title,
                whole=whole,
                does=() if whole else tuple(does[one.id]),
                because=(self.catch_up[one.id], *papers) if whole else tuple(because.get(one.id, ())),
            )

    def _steps_of(self, operation: Operation) -> list[str]:
        """The step that does an operation, among those done or caught up with; the last of several."""
        if operation.pieces:
            step = self.brought.get(operation.pieces[0], "")
            return [step] if step in self.done or step in self.catch_up else []
        found = [
            step.id
            for step in self.new.steps
            if step.id in self.done or step.id in self.catch_up
            for action in step.actions
            if action.verb == operation.verb
            and (operation.of in action.joints or {one.id for one in operation.fast} & set(action.fastenings))
        ]
        return found[-1:]

    @staticmethod
    def _why(because: str) -> list[str]:
        return [] if because in _GOES_WITHOUT_SAYING else [because]

    def _papers(self, operation: Operation) -> list[str]:
        """What papers say of what an operation is done to."""
        sort = "place" if _places_a_part(operation) else "joint"
        return [reason_words(one) for one in self.reasons.get((sort, operation.of), ())]

    def _further(self, redone: Collection[str]) -> Iterator[tuple[str, list[str]]]:
        """What steps that are done now also do, or do otherwise, and joints that are tightened anew."""
        old_steps = {self.matched.steps.get(step.id): step for step in self.old.steps}
        for step in self.new.steps:
            before = old_steps.get(step.id)
            if step.id not in self.done or before is None:
                continue
            was = Counter(atom for action in before.actions for atom in atoms(action, self.matched))
            now = Counter(atom for action in step.actions for atom in atoms(action))
            known = {atom[:2] for atom in was}
            deeds = [
                f"{verb} {thing or how[-1]}" + (" as the step says now" if (verb, thing) in known else "")
                for verb, thing, how in now - was
                if verb != "read" and (verb not in WORK_VERBS or (verb, thing) in known)
            ]
            if deeds:
                yield step.id, deeds
        for change in self.comparison.joints:
            joint = self.new.joint.get(change.new)
            if joint is None or joint.id in redone or not self._is_made("tighten", joint.id):
                continue
            for name in self._steps_of(Operation(number=0, verb="tighten", of=joint.id, unit=joint.unit)):
                yield name, [f"tighten {joint.id} ({'; '.join(change.says)})"]

    def _reread(
        self, old_work: Work, back: TakingBack, new_work: Work, again: TakingBack
    ) -> Iterator[Reread]:
        """Readings that no longer hold, and those the new version has read by now and the old one had not."""
        why: dict[str, str] = {}
        for work, way in ((old_work, back), (new_work, again)):
            for number in way.order:
                operation = work.operations[number]
                if operation.verb == "read" and operation.of in self.new_state.reads:
                    why.setdefault(operation.of, way.because[number])
        for number in back.order:
            for name in self._read_on(old_work.operations[number]):
                if name in self.new_state.reads:
                    why.setdefault(name, f"{old_work.operations[number].of} is loosened")
        for change in self.comparison.of("reading"):
            if change.id in self.new_state.reads and change.does != GONE:
                why[change.id] = "; ".join(change.says)
        for one in self.new.characteristics:
            if one.id in why:
                yield Reread(characteristic=one.id, limit=one.limit, unit=one.unit, because=why[one.id])

    def _read_on(self, operation: Operation) -> Iterator[str]:
        """The characteristics that were read on a joint's parts when its screws were snug already."""
        joint = self.old.joint.get(operation.of)
        if joint is None or operation.verb not in ("start", "snug", "tighten"):
            return
        snug = [
            at
            for (name, level), at in self.old_state.tight_at.items()
            if level >= Tightness.SNUG and name in ids_of(operation)
        ]
        for one in self.old.characteristics:
            reads = self.old_state.reads.get(one.id, [])
            if snug and reads and set(one.of) & set(joint.parts) and min(snug) < reads[-1]:
                yield one.id

    def _swaps(self) -> Iterator[Swap]:
        pairs = self.comparison.pairs
        rows: dict[tuple[str, str], list[tuple[str, bool]]] = {}
        for was in self.old.part:
            if was in self.comparison.old_pieces:
                new = self.new.part[pairs[was]].type.id if was in pairs else ""
                built = was in self.old_state.present
                rows.setdefault((self.old.part[was].type.id, new), []).append((was, built))
        taken = set(pairs.values())
        for now in self.new.part:
            if now in self.comparison.new_pieces and now not in taken:
                built = now in self.new_state.present
                rows.setdefault(("", self.new.part[now].type.id), []).append((now, built))
        for (old, new), pieces in rows.items():
            where = dict.fromkeys(_home(self.old if old else self.new, name) for name, _ in pieces)
            built_pieces = sum(built for _, built in pieces)
            yield Swap(old=old, new=new, pieces=len(pieces), built=built_pieces, where=tuple(where))


def reason_words(reason: Reason) -> str:
    """A paper's reason in one line."""
    edition = f", edition {reason.edition}" if reason.edition else ""
    page = f", page {reason.page}" if reason.page else ""
    return f"“{reason.title}”{edition}{page}" + (f": {reason.says}" if reason.says else "")


def _home(machine: Machine, piece: str) -> str:
    return machine.part[piece].joint or piece


def _key(operation: Operation, matched: Matched | None) -> tuple[object, ...]:
    """What makes an operation the same in both versions."""
    of, fastenings = operation.of, operation.fastenings
    if matched is not None and operation.verb != "read":
        of = matched.place(of) if _places_a_part(operation) else matched.joint(of)
        fastenings = tuple(matched.fastening(one) for one in fastenings)
    return (operation.verb, of, fastenings, operation.sort)


def _places_a_part(operation: Operation) -> bool:
    """Whether an operation's `of` is a part; else it is a joint, which may have the same name."""
    return operation.verb == "place" and operation.sort != "bracket"


def _of_joint(work: Work, joint: str, why: str, *, whole: bool) -> Iterator[tuple[int, str]]:
    """The operations of a joint: all of them, or those that turn its screws further than started."""
    for one in work.operations:
        turns = one.verb in ("snug", "tighten")
        if joint and one.of == joint and not _places_a_part(one) and one.verb != "read" and (whole or turns):
            yield one.number, why
