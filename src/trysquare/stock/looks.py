"""The looks that can be made at a pile of parts, with the instruments that the builder owns.

A look reads one feature in one way: the length side by side, the length with the caliper. It knows for each
sort what it should show, and for each size how surely.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from trysquare.machine.values import Instrument
from trysquare.stock.features import Features, Size
from trysquare.stock.key_tree import Cells, Split
from trysquare.stock.readings import (
    BLANK_SLIP,
    FACE_SLIP,
    REDO_SECONDS,
    TELL_BY,
    Way,
    standard_uncertainty,
    ways,
)

ABSENT = ""
"""What a look at a size shows where the sort has no such thing: no hole to measure from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureWords:
    """How a feature is asked for. `ask` is an instruction; `unit` "mm" or "g"; `ways`: how it may be read;
    `absent`: said where the part has no such thing. `finding`: a way of looking that must come first, to
    find what is then measured."""

    ask: str
    ways: tuple[str, ...]
    unit: str = ""
    absent: str = ""
    finding: str = ""


_LENGTHS = ("eye", "side-by-side", "tape", "rule", "caliper")
_WIDTHS = ("eye", "tape", "rule", "caliper")

FEATURES: Mapping[str, FeatureWords] = {
    "form": FeatureWords(ask="Lay them apart by what they are", ways=("form",)),
    "length": FeatureWords(ask="Lay them by length", ways=_LENGTHS, unit="mm"),
    "width": FeatureWords(ask="Lay them by width", ways=_WIDTHS, unit="mm"),
    "thickness": FeatureWords(ask="Lay them by thickness", ways=("eye", "caliper"), unit="mm"),
    "diameter": FeatureWords(ask="Lay them by outer diameter", ways=("eye", "caliper"), unit="mm"),
    "head": FeatureWords(ask="Look at the head or the point", ways=("head",)),
    "head_diameter": FeatureWords(ask="Lay them by the head's diameter", ways=("eye", "caliper"), unit="mm"),
    "slot": FeatureWords(ask="Measure the mouth of the slot", ways=("caliper",), unit="mm"),
    "running": FeatureWords(ask="Measure where the belt runs", ways=("caliper",), unit="mm"),
    "ends": FeatureWords(ask="Look at both ends", ways=("ends",)),
    "any_hole": FeatureWords(ask="Turn each once round and look for holes on every face", ways=("any-hole",)),
    "hole_count": FeatureWords(
        ask="Turn each once round and count the holes (one right through counts once)", ways=("hole-count",)
    ),
    "faces": FeatureWords(ask="Count the holes on each face, going once round", ways=("faces",)),
    "end_with_hole": FeatureWords(ask="See to which end the holes are nearer", ways=("ends",)),
    "hole_1": FeatureWords(
        ask="Turn each once round; measure from an end to the nearest hole on any face", ways=_WIDTHS,
        unit="mm", absent="no hole", finding="any-hole",
    ),
    "hole_2": FeatureWords(
        ask="Turn each once round; from the end with the nearest hole, measure to the second one",
        ways=_WIDTHS, unit="mm",
        absent="no second hole", finding="hole-count",
    ),
    "hole_3": FeatureWords(
        ask="Turn each once round; from the end with the nearest hole, measure to the third one",
        ways=_WIDTHS, unit="mm",
        absent="no third hole", finding="hole-count",
    ),
    "hole_4": FeatureWords(
        ask="Turn each once round; from the end with the nearest hole, measure to the fourth one",
        ways=_WIDTHS, unit="mm",
        absent="no fourth hole", finding="hole-count",
    ),
    "bore": FeatureWords(
        ask="Turn each once round; measure the widest hole", ways=("eye", "caliper"), unit="mm",
        absent="no hole", finding="any-hole",
    ),
    "least_bore": FeatureWords(
        ask="Turn each once round; measure the narrowest hole", ways=("caliper",), unit="mm",
        absent="no hole", finding="any-hole",
    ),
    "thread": FeatureWords(ask="Try the thread with one that you know", ways=("thread",)),
    "threaded": FeatureWords(ask="Count the threads and try each", ways=("thread",)),
    "key": FeatureWords(ask="Try which key fits", ways=("key",)),
    "marking": FeatureWords(ask="Read the mark on the head", ways=("marking",)),
    "shape": FeatureWords(ask="Look at the shape", ways=("shape",)),
    "toothed": FeatureWords(ask="Look for teeth", ways=("shape",)),
    "teeth": FeatureWords(ask="Count the teeth", ways=("count-fine",)),
    "set_screws": FeatureWords(ask="See what holds it on its shaft", ways=("shape",)),
    "starts": FeatureWords(ask="Count the threads that begin at the end", ways=("count-fine",)),
    "hand": FeatureWords(ask="Hold them as in the picture and see the hand", ways=("hand",)),
    "mass": FeatureWords(ask="Weigh each", ways=("scale",), unit="g"),
    "material": FeatureWords(ask="See and feel what it is made of", ways=("material",)),
}  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False)  # no slots: cached_property keeps its answers in the instance
class Look:
    """One feature read in one way.

    `shows`: for each sort the label seen, `ABSENT` where there is nothing to measure, None where nobody
    knows. `values` and `uncertainties` (standard): of a measured feature, NaN where there is none or where
    it is beyond the instrument's reach. `mistaken`: labels, as shown and as taken, that are confused more
    often than by plain slips, and how often. `instrument`: id of the owned instrument, or "".
    """

    feature: str
    way: Way
    shows: tuple[str | None, ...]
    values: tuple[float, ...] = ()
    uncertainties: tuple[float, ...] = ()
    instrument: str = ""
    mistaken: Mapping[tuple[str, str], float] = field(default_factory=dict)

    @property
    def id(self) -> str:
        return f"{self.feature} {self.way.id}"

    @property
    def words(self) -> FeatureWords:
        return FEATURES[self.feature]

    @property
    def measured(self) -> bool:
        return bool(self.values)

    @cached_property
    def slips(self) -> float:
        """Share of these looks that go wrong altogether."""
        return self.way.slip + (ways()[self.words.finding].slip if self.words.finding else 0.0)

    @cached_property
    def effort_seconds(self) -> float:
        """Seconds for one piece."""
        finding = ways()[self.words.finding].effort_seconds if self.words.finding else 0.0
        return self.way.effort_seconds + finding

    @cached_property
    def cost(self) -> float:
        """Seconds for one piece, with what its slips cost on the average of the sorts."""
        often = [
            max((p for (shown, _), p in self.mistaken.items() if shown == label), default=self.slips)
            for label in self.shows
        ]
        return self.effort_seconds + REDO_SECONDS * sum(often) / len(often)

    @cached_property
    def split(self) -> Split:
        """The look as the tree's search knows it."""
        return Split(cost=self.cost, cells=self.cells, plain=self.plain)

    @cached_property
    def _unknown(self) -> int:
        return sum(1 << sort for sort, shown in enumerate(self.shows) if shown is None)

    @cached_property
    def _labelled(self) -> tuple[int, ...]:
        """A mask for each label, in the order of the sorts; sizes that can be read are none of them."""
        masks: dict[str, int] = {}
        for sort, shown in enumerate(self.shows):
            if shown is not None and not self.readable(sort):
                masks[shown] = masks.get(shown, 0) | 1 << sort
        return tuple(masks.values())

    @cached_property
    def _in_order(self) -> tuple[tuple[float, float, int], ...]:
        """Lower and upper end of each readable size and its sort, by the lower end."""
        readable = filter(self.readable, range(len(self.shows)))
        return tuple(sorted((*self.interval(sort), 1 << sort) for sort in readable))

    def readable(self, sort: int) -> bool:
        """Whether this look gives a number for this sort."""
        return self.measured and not math.isnan(self.values[sort])

    def interval(self, sort: int) -> tuple[float, float]:
        """Between which sizes a reading of this sort lies, but for one in some hundreds."""
        reach = TELL_BY * self.uncertainties[sort]
        return self.values[sort] - reach, self.values[sort] + reach

    def slip(self, shown: str, label: str | None, others: int) -> float:
        """How often what shows `shown` is taken for `label`, which is one of `others` that it could be."""
        known = self.mistaken.get((shown, label)) if label is not None else None
        return known if known is not None else self.slips / max(others, 1)

    def cells(self, mask: int) -> Cells:
        """The sorts told apart, labels first, then sizes from small to large; nothing is told as long as
        one of the sorts has an unknown feature here."""
        if mask & self._unknown:
            return ()
        found = [mask & cell for cell in self._labelled if mask & cell]
        end, cell = -math.inf, 0
        for low, high, bit in self._in_order:
            if not mask & bit:
                continue
            if cell and low > end:
                found.append(cell)
                cell = 0
            cell |= bit
            end = max(end, high)
        if cell:
            found.append(cell)
        return tuple(found)

    def plain(self, mask: int) -> bool:
        """Whether every part of the mask is cut just as the mask is."""
        if mask & self._unknown:
            return False
        if not self.measured:
            return True
        end, least = -math.inf, math.inf
        for low, high, bit in self._in_order:
            if mask & bit:
                if low > end:
                    least = math.inf
                least, end = min(least, high), max(end, high)
                if low > least:
                    return False  # told from one of its neighbours, not from another
        return True


def looks_at(features: Sequence[Features], instruments: Iterable[Instrument] = ()) -> tuple[Look, ...]:
    """All looks that tell anything among these sorts, one for each feature and way."""
    owned = _owned(instruments)
    found: list[Look] = []
    for name, words in FEATURES.items():
        for way_id in words.ways:
            way = ways()[way_id]
            seen = _seen(name, way, features)
            if seen is not None:
                found.append(seen)
            for instrument in owned.get(way_id, (None,) if way.half_width else ()):
                sized = _sized(name, way, features, instrument)
                if sized is not None:
                    found.append(sized)
    return tuple(look for look in found if _tells(look))


def _tells(look: Look) -> bool:
    """Whether some two sorts could be told, if nothing else stood between."""
    known = sum(1 << sort for sort, shown in enumerate(look.shows) if shown is not None)
    return len(look.cells(known)) > 1 or not look.plain(known)


def _owned(instruments: Iterable[Instrument]) -> dict[str, list[Instrument]]:
    """Instruments by the way they read; of two of one sort both stay, one may reach further."""
    found: dict[str, list[Instrument]] = {}
    for instrument in instruments:
        sort = instrument.sort.strip().lower().replace(" ", "-")
        if sort == "scale" and instrument.unit == "mm":
            sort = "rule"
        found.setdefault({"ruler": "rule", "steel-rule": "rule"}.get(sort, sort), []).append(instrument)
    return found


def _seen(name: str, way: Way, features: Sequence[Features]) -> Look | None:
    if way.half_width is None or way.half_width > 0:
        return None  # this way gives numbers
    shows = tuple(one.form if name == "form" else one.seen.get(name) for one in features)
    if len({shown for shown in shows if shown is not None}) < 2:
        return None
    mistaken = _mistaken(shows, features) if name in ("any_hole", "hole_count", "faces") else {}
    return Look(feature=name, way=way, shows=shows, mistaken=mistaken)


def _mistaken(shows: Sequence[str | None], features: Sequence[Features]) -> dict[tuple[str, str], float]:
    """Labels of holes that are confused by who looks at one face only: some face with holes is the same, or
    one with holes shows a blank face and is taken for one without."""
    found: dict[tuple[str, str], float] = {}
    for shown, one in zip(shows, features, strict=True):
        for label, other in zip(shows, features, strict=True):
            if shown is None or label is None or shown == label:
                continue
            shared = {len(view) for view in one.views if view in other.views}
            if any(shared):
                found[shown, label] = FACE_SLIP
            elif shared and not any(map(len, other.views)):
                found.setdefault((shown, label), BLANK_SLIP)
    return found


def _sized(name: str, way: Way, features: Sequence[Features], instrument: Instrument | None) -> Look | None:
    if name == "form" or (way.half_width is not None and not way.half_width):
        return None
    half_width = instrument.trusted_half_width_mm if instrument is not None else way.half_width or 0.0
    reach = instrument.reach_mm if instrument is not None and instrument.reach_mm else math.inf
    if way.id == "scale":
        reach = math.inf  # it has none in millimetres
    shows: list[str | None] = []
    values: list[float] = []
    uncertainties: list[float] = []
    for one in features:
        value, uncertainty = math.nan, math.nan
        if name not in one.sizes:
            shown: str | None = None
        elif (size := one.sizes[name]) is None:
            shown = ABSENT
        elif size.value > reach:
            shown = f"longer than {reach:g} mm"
        else:
            shown = f"{size.value:g}"
            value, uncertainty = size.value, _uncertainty(size, half_width, way)
        shows.append(shown)
        values.append(value)
        uncertainties.append(uncertainty)
    if all(math.isnan(value) for value in values):
        return None
    return Look(
        feature=name,
        way=way,
        shows=tuple(shows),
        values=tuple(values),
        uncertainties=tuple(uncertainties),
        instrument=instrument.id if instrument is not None else "",
    )


def _uncertainty(size: Size, half_width: float, way: Way) -> float:
    return standard_uncertainty(half_width, way.relative * size.value, size.spread)
