"""What a log means: the state of the build, replayed from its entries. Pure.

Nothing is decided here that an entry does not say. Order is by number; what was undone does not count; two
devices that could not know of each other and said different things are both kept, and named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from trysquare.record import readout
from trysquare.record.events import Logged
from trysquare.record.kinds import kinds
from trysquare.record.memory import Cell, Memory
from trysquare.record.spent import Timekeeper, seconds_of
from trysquare.record.state import BuildState, Conflict, StepState

__all__ = ["BuildState", "replay", "replay_on"]


def replay(logged: Iterable[Logged]) -> BuildState:
    """The state after these entries, from the first one on."""
    return replay_on(BuildState(), logged)


def replay_on(state: BuildState, logged: Iterable[Logged]) -> BuildState:
    """The state after further entries. `state` stays as it is; entries it holds already are passed over."""
    replayer = _Replayer(state)
    replayer.take(logged)
    return replayer.state()


class _Replayer:
    """Takes entries, keeps which things they change, and reads out only those in the end."""

    def __init__(self, state: BuildState) -> None:
        memory = state.memory
        self.before = state
        self.seq, self.hash, self.unknown = state.seq, state.hash, state.unknown
        self.cells = dict(memory.cells)
        self.fresh: dict[Cell, list[Logged]] = {}  # entries that came, by thing
        self.cells_of = dict(memory.cells_of)
        self.undos = dict(memory.undos)
        self.undoes = dict(memory.undoes)
        self.undone = set(state.undone)
        self.time = Timekeeper(memory.clocks, memory.spans)
        self.grown: dict[Cell, int] = {}  # things with new entries: how many they had
        self.changed: set[Cell] = set()  # things of which older entries changed
        self.conflicts: Mapping[Cell, tuple[Conflict, ...]] = memory.conflicts

    def take(self, logged: Iterable[Logged]) -> None:
        # A hundred thousand entries pass here, so names are looked up once.
        known, cells_by_kind = kinds(), readout.CELLS
        cells_of, count_time, fresh = self.cells_of, self.time.count, self.fresh
        for entry in logged:
            if entry.seq <= self.seq:
                continue
            self.seq, self.hash = entry.seq, entry.hash
            event = entry.event
            kind = event.kind
            count_time(entry)
            find = cells_by_kind.get(kind)
            if find is not None:
                cells = find(event)
            elif kind == "reading-set-aside":
                cells = tuple(
                    cell for cell in cells_of.get(str(event.data.get("of")), ()) if cell[0] == "readings"
                )
                self.changed.update(cells)
            elif kind == "undo":
                self._undo(entry)
                continue
            else:
                cells = ()
                self.unknown += kind not in known
            cells_of[event.id] = cells
            for cell in cells:
                entries = fresh.get(cell)
                if entries is None:
                    fresh[cell] = [entry]
                else:
                    entries.append(entry)

    def _undo(self, entry: Logged) -> None:
        target = str(entry.event.data.get("of"))
        self.cells_of[entry.event.id] = ()
        if target not in self.cells_of or target == entry.event.id:
            return  # it names nothing that was said before it
        self.undoes[entry.event.id] = target
        self.undos[target] = (*self.undos.get(target, ()), entry.event.id)
        while True:
            stands_undone = any(undo not in self.undone for undo in self.undos.get(target, ()))
            if stands_undone == (target in self.undone):
                return
            (self.undone.add if stands_undone else self.undone.discard)(target)
            self.changed.update(self.cells_of[target])
            if target not in self.undoes:
                return
            target = self.undoes[target]

    def state(self) -> BuildState:
        for cell, entries in self.fresh.items():
            held = self.cells.get(cell, ())
            self.grown[cell] = len(held)
            self.cells[cell] = (*held, *entries)
        touched: dict[str | None, list[Cell]] = {}
        for cell in {**self.grown, **dict.fromkeys(self.changed)}:
            touched.setdefault(cell[0], []).append(cell)
        before = self.before
        self.spans = self.time.spans()
        return BuildState(
            seq=self.seq,
            hash=self.hash,
            unknown=self.unknown,
            undone=frozenset(self.undone),
            steps=self._steps(touched),
            laid_out=self._laid_out(touched.get("part", ())),
            counted=self._last_words("count", before.counted, touched, readout.count_of),
            open_points=self._last_words("point", before.open_points, touched, _second(readout.open_point)),
            rulings=self._last_words("ruling", before.rulings, touched, _second(readout.ruled)),
            readings=self._readings(touched.get("readings", ())),
            deviations=self._all_words(("deviations",), before.deviations, readout.deviation_of),
            photos=self._all_words(("photos",), before.photos, readout.kept_file_of),
            files=self._all_words(("files",), before.files, readout.kept_file_of),
            notes=self._all_words(("notes",), before.notes, readout.note_of),
            marks=self._all_words(("marks",), before.marks, readout.mark_of),
            torqued=self._by_name("torqued", before.torqued, touched, readout.torqued_of),
            results=self._by_name("results", before.results, touched, _second(readout.result_of)),
            conflicts=self._conflicts(touched),
            memory=Memory(
                cells=self.cells,
                cells_of=self.cells_of,
                undos=self.undos,
                undoes=self.undoes,
                clocks=self.time.clocks(),
                spans=self.spans,
                conflicts=self.conflicts,
            ),
        )

    def _in_force(self, cell: Cell, begin: int = 0) -> Sequence[Logged]:
        entries = self.cells.get(cell, ())
        if not self.undone:
            return entries[begin:]
        return [entry for entry in entries[begin:] if entry.event.id not in self.undone]

    def _steps(self, touched: Mapping[str | None, list[Cell]]) -> Mapping[str, StepState]:
        said = {str(cell[1]) for topic in ("step", "step marks") for cell in touched.get(topic, ())}
        steps = dict(self.before.steps)
        for step in said | self.time.counted:
            known = steps.get(step, StepState(step=step))
            told = replace(
                readout.step_state(step, self._in_force(("step", step))),
                marks=self._all_words(("step marks", step), known.marks, readout.mark_of),
                seconds=seconds_of(self.spans.get(step, ())),
            )
            # A step of which nothing is left to say, since all was undone, is as if it had never been named.
            _set(steps, step, None if told == StepState(step=step) else told)
        return steps

    def _laid_out(self, cells: Iterable[Cell]) -> frozenset[tuple[str, str]]:
        cells = list(cells)
        if not cells:
            return self.before.laid_out
        parts = {(str(cell[1]), str(cell[2])): readout.is_laid_out(self._in_force(cell)) for cell in cells}
        return (self.before.laid_out - parts.keys()) | {part for part, lies in parts.items() if lies}

    def _readings(self, cells: Iterable[Cell]) -> Mapping[Any, Any]:
        readings = dict(self.before.readings)
        for cell in cells:
            found = readout.readings_of(self._in_force(cell))
            _set(readings, (cell[1], str(cell[2])), found or None)
        return readings

    def _last_words(
        self,
        topic: str,
        before: Mapping[str, Any],
        touched: Mapping[str | None, list[Cell]],
        reads: Callable[[str, Sequence[Logged]], Any],
    ) -> Mapping[str, Any]:
        """Values by name, of which the last word holds; without those of which nothing is said any more."""
        if topic not in touched:
            return before
        found = dict(before)
        for cell in touched[topic]:
            name = str(cell[1])
            _set(found, name, reads(name, self._in_force(cell)))
        return found

    def _by_name(
        self,
        topic: str,
        before: Mapping[str, tuple[Any, ...]],
        touched: Mapping[str | None, list[Cell]],
        reads: Callable[[str, Logged], Any],
    ) -> Mapping[str, tuple[Any, ...]]:
        """Values by name, of which every word is kept."""
        if topic not in touched:
            return before
        found = dict(before)
        for cell in touched[topic]:
            name = str(cell[1])
            words = self._all_words(cell, found.get(name, ()), partial(reads, name))
            _set(found, name, words or None)
        return found

    def _all_words(
        self, cell: Cell, before: tuple[Any, ...], reads: Callable[[Logged], Any]
    ) -> tuple[Any, ...]:
        """Every word on one thing; only the new ones are read out, unless older ones changed."""
        if cell in self.changed:
            return tuple(reads(entry) for entry in self._in_force(cell))
        if cell in self.grown:
            return (*before, *(reads(entry) for entry in self._in_force(cell, self.grown[cell])))
        return before

    def _conflicts(self, touched: Mapping[str | None, list[Cell]]) -> tuple[Conflict, ...]:
        cells = {cell for topic in readout.MAY_CONFLICT for cell in touched.get(topic, ())}
        of_cell = {cell: found for cell, found in self.before.memory.conflicts.items() if cell not in cells}
        for cell in cells:
            found = readout.conflicts_of(cell, self._in_force(cell)) if len(self.cells[cell]) > 1 else ()
            if found:
                of_cell[cell] = found
        self.conflicts = of_cell
        return tuple(
            sorted(
                (one for found in of_cell.values() for one in found),
                key=lambda one: (one.second.seq, one.about),
            )
        )


def _second(reads: Callable[[Any], Any]) -> Callable[[str, Any], Any]:
    """For what needs no name to be read out."""
    return lambda name, entries: reads(entries)  # noqa: ARG005 - the name is for those who need it


def _set(values: dict[Any, Any], name: Any, value: Any) -> None:
    if value is None:
        values.pop(name, None)
    else:
        values[name] = value
