"""What the machine asks of the boxes: pieces in groups that the same lots may serve, at the same compromise.

Substitutes are looked for only where they can matter: for parts that are short, and for those whose own
pieces could help a part that is. Everything else is served by what it asks for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trysquare.catalogue.values import Nut, RailSize, Screw, SlotNut
from trysquare.machine.values import Fastening, Machine, PartType
from trysquare.stock.grades import gains, grade_compromise, rank
from trysquare.stock.lots import StockLot
from trysquare.stock.member_substitutes import member_serves, plate_serves
from trysquare.stock.need import Need
from trysquare.stock.neighbours import Neighbours
from trysquare.stock.pieces import Piece
from trysquare.stock.standard_parts import standard_of
from trysquare.stock.substitutes import Compromise, nut_serves, screw_serves

NO_COMPROMISE = Compromise(points=0, sort="", says="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """Pieces of one part that the same lots may serve. `serve`: lot number → compromise.

    `places` are the piece ids in the order in which steps pick them up, `steps` the number of the step
    for each, one past the last for none. A bare list asks for more pieces than it has places.
    """

    part: str
    pieces: int
    places: tuple[str, ...]
    steps: tuple[int, ...]
    serve: Mapping[int, Compromise]


@dataclass(frozen=True, slots=True, kw_only=True)
class CutDemand:
    """Cuts of a belt or wire, in the order of steps, and the lots of rolls they may come from."""

    part: str
    places: tuple[str, ...]
    cuts_mm: tuple[float, ...]
    steps: tuple[int, ...]
    lots: tuple[int, ...]
    unmeasured: tuple[int, ...] = ()  # lots of it whose length nobody said


@dataclass(frozen=True, slots=True, kw_only=True)
class Demands:
    """All that is asked."""

    counted: tuple[Demand, ...]
    cut: tuple[CutDemand, ...]


def demands_of(
    machine: Machine, whole: Need, lots: Sequence[StockLot], machines: int = 1, *, substitutes: bool = True
) -> Demands:
    """The demands of a machine, and what may serve each when so many machines share the lots."""
    return _Asker(machine, whole, lots, machines).demands(substitutes=substitutes)


def serves_as_asked(offered: str, asked: str) -> bool:
    """Whether one designation is the other, or the other with a property class nobody asked for."""
    if offered == asked:
        return True
    if not offered.startswith(f"{asked} "):
        return False
    want, have = standard_of(asked), standard_of(offered)
    return isinstance(want, Screw | Nut) and type(have) is type(want) and not want.strength


class _Asker:
    """Groups pieces by what may serve them."""

    def __init__(self, machine: Machine, whole: Need, lots: Sequence[StockLot], machines: int) -> None:
        self.machine, self.whole, self.lots, self.machines = machine, whole, lots, machines
        self.step_at = {step.step: at for at, step in enumerate(whole.picking.steps)}
        self.by_part: dict[str, list[Piece]] = {}
        for piece in whole.picking.pieces.values():
            self.by_part.setdefault(piece.part, []).append(piece)
        for pieces in self.by_part.values():
            pieces.sort(key=self._step)
        self.lines = {line.part: line for line in whole.lines}
        self.exact = {
            part: [at for at, lot in enumerate(lots) if serves_as_asked(lot.part, part)]
            for part in self.lines
        }
        self.neighbours = Neighbours(machine)
        self.fastening: dict[str, Fastening] = {}
        for one in machine.fastening.values():
            self.fastening[one.screw] = one
            if one.host_part:
                self.fastening.setdefault(one.host_part, one)
        self.gain = self._gains()
        self._of_sort: dict[str, tuple[str, ...]] = {}
        self._known: dict[tuple[str, str], Compromise | None] = {}

    def _gains(self) -> Mapping[str, float]:
        """Only asked for where one part came in two makes."""
        makes: dict[str, set[int]] = {}
        for lot in self.lots:
            makes.setdefault(lot.part, set()).add(rank(lot.grade))
        return gains(self.machine) if any(len(found) > 1 for found in makes.values()) else {}

    def _step(self, piece: Piece) -> int:
        return self.step_at.get(self.whole.picking.step_of.get(piece.id, ""), len(self.step_at))

    def demands(self, *, substitutes: bool) -> Demands:
        counted: list[Demand] = []
        cut: list[CutDemand] = []
        searched = self._searched() if substitutes else frozenset()
        for part, line in self.lines.items():
            pieces = self.by_part.get(part, [])
            if line.cuts_mm:
                cut.append(self._cuts(part, pieces))
            else:
                counted += self._counted(part, line.pieces, pieces, search=part in searched)
        return Demands(counted=tuple(counted), cut=tuple(cut))

    def _cuts(self, part: str, pieces: Sequence[Piece]) -> CutDemand:
        lots = self.exact[part]
        return CutDemand(
            part=part,
            places=tuple(piece.id for piece in pieces),
            cuts_mm=tuple(piece.length_mm for piece in pieces),
            steps=tuple(self._step(piece) for piece in pieces),
            lots=tuple(at for at in lots if self.lots[at].length_mm > 0),
            unmeasured=tuple(at for at in lots if self.lots[at].length_mm <= 0),
        )

    def _counted(self, part: str, wanted: int, pieces: Sequence[Piece], *, search: bool) -> list[Demand]:
        groups: dict[tuple[tuple[int, Compromise], ...], list[Piece]] = {}
        for piece in pieces:
            serve = self._serve(part, piece, search=search)
            groups.setdefault(tuple(sorted(serve.items(), key=lambda pair: pair[0])), []).append(piece)
        found = [
            Demand(
                part=part,
                pieces=len(alike),
                places=tuple(piece.id for piece in alike),
                steps=tuple(self._step(piece) for piece in alike),
                serve=dict(key),
            )
            for key, alike in groups.items()
        ]
        if wanted > len(pieces):  # of a bare list: nobody knows where they go, so nothing else serves
            serve = self._as_asked(part, None)
            found.append(Demand(part=part, pieces=wanted - len(pieces), places=(), steps=(), serve=serve))
        return found

    def _as_asked(self, part: str, piece: Piece | None) -> dict[int, Compromise]:
        """The lots that are what is asked, the plainer makes at their price."""
        lots = self.exact[part]
        best_grade = min((self.lots[at].grade for at in lots), key=rank, default="")
        standard = self.machine.types[part].standard if part in self.machine.types else None
        gain = self.gain.get(piece.id, 1.0) if piece is not None else 1.0
        found: dict[int, Compromise] = {}
        for at in lots:
            worse = None
            if isinstance(standard, RailSize):
                worse = grade_compromise(self.lots[at].grade, best_grade, gain)
            found[at] = worse or NO_COMPROMISE
        return found

    def _serve(self, part: str, piece: Piece, *, search: bool) -> dict[int, Compromise]:
        found = self._as_asked(part, piece)
        if search:
            for offered in self._others(piece):
                if serves_as_asked(offered, part):
                    continue
                compromise = self._compromise(piece, offered)
                if compromise is not None:
                    found |= {at: compromise for at, lot in enumerate(self.lots) if lot.part == offered}
        return found

    def _searched(self) -> frozenset[str]:
        """Parts to look for substitutes of: those short, those whose pieces could help, and so on."""
        todo = [part for part in self.lines if self._is_short(part)]
        seen = set(todo)
        while todo:
            part = todo.pop()
            helpers = {
                offered
                for piece in self.by_part.get(part, ())
                for offered in self._others(piece)
                if self._compromise(piece, offered) is not None
            }
            for other in self.lines:
                if other not in seen and any(serves_as_asked(helper, other) for helper in helpers):
                    seen.add(other)
                    todo.append(other)
        return frozenset(seen)

    def _others(self, piece: Piece) -> tuple[str, ...]:
        """The parts in the boxes that are of the piece's sort at all: of its thread, profile or outline."""
        if piece.part not in self._of_sort:
            asked = self._sort_of(piece.part)
            self._of_sort[piece.part] = tuple(
                part
                for part in dict.fromkeys(lot.part for lot in self.lots)
                if asked is not None and part != piece.part and self._sort_of(part) == asked
            )
        return self._of_sort[piece.part]

    def _sort_of(self, part: str) -> tuple[object, ...] | None:
        part_type = self.machine.types.get(part)
        standard = part_type.standard if part_type is not None else standard_of(part)
        if isinstance(standard, Screw | Nut | SlotNut):
            return (type(standard), standard.thread.name)
        if part_type is None or not (part_type.profile or part_type.outline_mm):
            return None
        return (part_type.profile, part_type.length_mm, part_type.outline_mm)

    def _is_short(self, part: str) -> bool:
        """Whether the lots of a part are fewer than all that ask for it, or for it in a class, may want."""
        line = self.lines[part]
        if line.cuts_mm:
            return False
        held = sum(self.lots[at].pieces for at in self.exact[part])
        sharing = sum(
            other.pieces
            for name, other in self.lines.items()
            if name == part or set(self.exact[name]) & set(self.exact[part])
        )
        return held < self.machines * sharing

    def _compromise(self, piece: Piece, offered: str) -> Compromise | None:
        """What it costs to take another part for this piece; remembered, for many pieces ask."""
        key = (piece.id, offered)
        if key not in self._known:
            self._known[key] = self._judged(piece, offered)
        return self._known[key]

    def _judged(self, piece: Piece, offered: str) -> Compromise | None:
        asked_type = self.machine.types.get(piece.part)
        offered_type = self.machine.types.get(offered)
        if asked_type is not None and offered_type is not None and not asked_type.standard:
            return _own_part(asked_type, offered_type)
        standard = offered_type.standard if offered_type is not None else standard_of(offered)
        fastening = self.fastening.get(piece.id)
        if fastening is None:
            return None
        if piece.sort == "screw" and isinstance(standard, Screw):
            return screw_serves(self.machine, fastening, standard, self.neighbours)
        if piece.sort == "nut" and isinstance(standard, SlotNut | Nut):
            return nut_serves(self.machine, fastening, standard, self.neighbours)
        return None


def _own_part(asked: PartType, offered: PartType) -> Compromise | None:
    return member_serves(asked, offered) or plate_serves(asked, offered)
