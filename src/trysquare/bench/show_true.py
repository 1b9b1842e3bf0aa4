"""Truing: what the child said of a unit, as its page shows it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from trysquare.bench.figures import fixed, places_of, with_half
from trysquare.bench.now import Now
from trysquare.bench.problems import problem_of
from trysquare.bench.views import Drawn, Problem, SaidAt, StepLink

UNIT_WORDS = {"mm/100": "mm per 100 mm", "newton": "N", "ohm": "Ω"}
LOG = "log"  # where a reading stands that was said at the bench; truing.log_readings names it too
CLASSES = {"good": "good", "bad": "bad", "cannot tell": "cannot-tell", "not read": ""}
_SORTS = {
    "squareness": "Squareness", "twist": "Twist", "parallelism": "Parallelism", "offset": "Offset",
    "flatness": "Flatness", "flush": "Flush ends", "height-difference": "Height difference",
    "centring": "Centring", "free-motion": "Free motion", "resistance": "Resistance", "other": "",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ComponentView:
    """One number of a characteristic. `weight`: its verdict as a class."""

    says: str
    value: str
    verdict: str
    weight: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CharacteristicView:
    """A characteristic judged. `value`: its worst with U; `before`: what it was in earlier rounds."""

    id: str
    what: str
    value: str
    limit: str
    verdict: str
    weight: str
    means: str
    reason: str
    where: str
    why_not: str
    others: tuple[ComponentView, ...]
    before: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldView:
    """A reading to be typed. `of`, `row`: as it is posted; `expect`: what it should then say."""

    says: str
    of: str
    unit: str
    row: Mapping[str, str]
    expect: str = ""
    instrument: str = ""
    step: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedView:
    """A reading worth making; `fields` are typed together. `settles`: chances in words."""

    says: str
    instrument: str
    owned: bool
    free_zero: bool
    settles: str
    step: str
    fields: tuple[FieldView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeView:
    """A reading that was made. `counts`: in the verdicts above; `why`: why not; `aside`: it was set
    aside, or is from before a correction. `event`: in the log, "" when it
    stands in a file (then `where`)."""

    says: str
    values: str
    instrument: str
    round: int
    counts: bool
    aside: bool
    why: str
    causes: tuple[str, ...]
    where: str
    event: str
    said: SaidAt | None
    again: FieldView


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundView:
    """The frame as it was. `factor`: how many times the error is drawn."""

    number: int
    picture: Drawn
    factor: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitRow:
    """A unit with something to true, for the way from one to the other."""

    unit: str
    title: str
    href: str
    here: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueView:
    """A unit's truing. `says`: why there is no answer. `problems`: each with its reading's event in the log,
    "" for one that stands in a file. `again`: what to read once pushed; `still`: what this round was to read
    again and has not; `by_hand`: what a hand does about a characteristic read as it is; `direct`: what to
    read as it is, with the chance that it decides."""

    unit: str
    title: str
    href: str
    units: tuple[UnitRow, ...]
    steps: tuple[StepLink, ...] = ()
    at: StepLink | None = None
    says: str = ""
    problems: tuple[tuple[Problem, str], ...] = ()
    verdict: str = ""
    weight: str = ""
    picture: Drawn | None = None
    factor: str = ""
    earlier: tuple[RoundView, ...] = ()
    round: int = 1
    counted: int = 0
    characteristics: tuple[CharacteristicView, ...] = ()
    not_read: tuple[CharacteristicView, ...] = ()
    loosen: tuple[str, ...] = ()
    pushes: tuple[str, ...] = ()
    enough: bool = True
    within_play: bool = True
    again: tuple[FieldView, ...] = ()
    still: tuple[FieldView, ...] = ()
    next: tuple[AskedView, ...] = ()
    by_hand: tuple[tuple[str, str], ...] = ()
    direct: tuple[tuple[str, str], ...] = ()
    made: tuple[MadeView, ...] = ()
    doubts: tuple[tuple[str, str], ...] = ()
    unseen: tuple[str, ...] = ()
    own_errors: tuple[str, ...] = ()
    sorts: tuple[Mapping[str, Any], ...] = ()
    instruments: tuple[Mapping[str, Any], ...] = ()
    features: tuple[str, ...] = ()


def unit_rows(now: Now, here: str) -> tuple[UnitRow, ...]:
    """The units that have a characteristic read in one of their steps, in the order of the build."""
    order = now.shown.order
    if order is None:
        return ()
    wanted = {one.of for one in order.to_read}
    titles = {run.unit: run.title for run in order.runs if run.unit}
    units = dict.fromkeys(step.unit for step in order.steps if step.unit and wanted & set(step.reads))
    rows = [UnitRow(unit="", title="The whole machine", href="/true", here=not here)]
    return (*rows, *(
        UnitRow(unit=unit, title=titles.get(unit, unit), href=true_href(unit), here=unit == here)
        for unit in units
    ))  # fmt: skip


def true_href(unit: str) -> str:
    """A unit's page."""
    return f"/true/{quote(unit, safe='')}" if unit else "/true"


def true_view(
    now: Now,
    unit: str,
    answer: Mapping[str, Any],
    drawn: Sequence[Drawn | None],
) -> TrueView:
    """The page. `drawn`: the picture now, then those of earlier rounds."""
    rows = unit_rows(now, unit)
    title = next((row.title for row in rows if row.here), unit)
    asked = _steps(now, unit)
    entries = {one.said.seq: one.said.id for found in now.state.readings.values() for one in found}
    problems = tuple(
        (problem_of(one), entries.get(one["line"], "") if one["file"] == LOG else "")
        for one in answer.get("problems", ())
    )
    if "characteristics" not in answer:
        says = str(answer.get("says", ""))
        if not says and problems:
            says = "It cannot be computed until this is put right:"
        return TrueView(unit=unit, title=title, href=true_href(unit), units=rows, steps=asked, says=says,
                        problems=problems)  # fmt: skip
    earlier = answer["earlier"]
    seen = [_characteristic(one, earlier) for one in answer["characteristics"]]
    advice = answer["advice"] or {}
    events = {one.said.id: one.said for found in now.state.readings.values() for one in found}
    verdicts = [one.verdict for one in seen]
    verdict = next((word for word in ("bad", "cannot tell", "good") if word in verdicts), "not read")
    return TrueView(
        unit=unit,
        title=title,
        href=true_href(unit),
        units=rows,
        steps=asked,
        at=now.shown.link(answer["step"]),
        problems=problems,
        verdict=verdict,
        weight=CLASSES[verdict],
        picture=drawn[0] if drawn else None,
        factor=_factor(answer["plot"]),
        earlier=tuple(
            RoundView(number=one["round"], picture=picture, factor=_factor(one["plot"]))
            for one, picture in zip(earlier, drawn[1:], strict=False)
            if picture is not None
        ),
        round=answer["round"],
        counted=answer["readings_counted"],
        characteristics=tuple(one for one in seen if one.verdict != "not read"),
        not_read=tuple(one for one in seen if one.verdict == "not read"),
        loosen=tuple(advice.get("loosen", ())),
        pushes=tuple(one["says"] for one in advice.get("pushes", ())),
        enough=bool(advice.get("enough", True)),
        within_play=bool(advice.get("within_play", True)),
        again=tuple(_again(one) for one in answer["again"]),
        still=tuple(_again(one) for one in answer["still"]),
        next=tuple(_asked(one) for one in answer["next"]),
        by_hand=tuple((one["characteristic"], one["says"]) for one in answer["by_hand"]),
        direct=tuple(
            (one["says"], "" if one["chance"] is None else f"settles it with {one['chance']:.0%}")
            for one in answer["direct"]
        ),
        made=tuple(
            sorted(
                (
                    made
                    for one, says in zip(answer["readings"], answer["says"], strict=True)
                    for made in _made(now, one, says, events)
                ),
                key=lambda made: -made.said.seq if made.said is not None else 0,
            )
        ),
        doubts=tuple((one["says"], one["remedy"]) for one in answer["doubts"]),
        unseen=tuple(answer["unseen"]),
        own_errors=tuple(
            f"{name} itself is out by {with_half(one['value_mm'], one['expanded_mm'], 'mm')} at full reach"
            for name, one in answer["own_errors"].items()
        ),
        sorts=tuple(answer["sorts"]),
        instruments=tuple(answer["instruments"]),
        features=tuple(answer["features"]),
    )


def _factor(plot: Mapping[str, Any]) -> str:
    return f"{plot['factor']:g}" if plot["factor"] else ""


def _steps(now: Now, unit: str) -> tuple[StepLink, ...]:
    """The unit's steps that read something."""
    order = now.shown.order
    if order is None:
        return ()
    found = [one for one in order.steps if one.reads and (one.unit == unit or not unit)]
    links = [now.shown.link(one.id) for one in found]
    return tuple(one for one in links if one is not None)


def _characteristic(one: Mapping[str, Any], earlier: Sequence[Mapping[str, Any]]) -> CharacteristicView:
    unit = UNIT_WORDS.get(one["unit"], one["unit"])
    worst = one["components"][one["worst"]] if one["worst"] is not None else None
    read = one["verdict"] != "not read"
    others = [each for each in one["components"] if each is not worst and each["verdict"] != "not read"]
    before = []
    for was in earlier:
        then = next((x for x in was["characteristics"] if x["characteristic"] == one["characteristic"]), None)
        if then is not None and then["worst"] is not None and then["verdict"] != "not read":
            value = then["components"][then["worst"]]
            said = with_half(value["value"], value["expanded"], "")
            before.append((int(was["round"]), f"{said} {unit}: {then['verdict']}"))
    what = _SORTS.get(one["sort"], "")
    return CharacteristicView(
        id=one["characteristic"],
        what=f"{what}: {one['characteristic']}" if what else one["characteristic"],
        value=f"{with_half(worst['value'], worst['expanded'], unit)}" if worst and read else "",
        limit=f"{fixed(one['limit'], places_of(one['limit']))} {unit}",
        verdict=one["verdict"],
        weight=CLASSES[one["verdict"]],
        means=worst["meaning"] if worst and read else "",
        reason=one["reason"],
        where=worst["says"] if worst and read else "",
        why_not=one["why_not"],
        others=tuple(
            ComponentView(
                says=each["says"], value=with_half(each["value"], each["expanded"], unit),
                verdict=each["verdict"], weight=CLASSES[each["verdict"]],
            )
            for each in others
        ),
        before=tuple(before),
    )  # fmt: skip


def _again(one: Mapping[str, Any]) -> FieldView:
    return FieldView(
        says=one["says"], of=one["of"], unit=one["unit"], row=one["row"], instrument=one["instrument"],
        step=one["step"], expect=with_half(one["value"], one["expanded"], one["unit"]),
    )  # fmt: skip


def _asked(one: Mapping[str, Any]) -> AskedView:
    return AskedView(
        says=one["says"],
        instrument=one["instrument"],
        owned=one["owned"],
        free_zero=one["free_zero"],
        settles=", ".join(f"{name} {chance:.0%}" for name, chance in one["chances"]),
        step=one["step"],
        fields=tuple(
            FieldView(says=each["says"], of=each["of"], unit=each["unit"], row=each["row"])
            for each in one["readings"]
        ),
    )


def _made(now: Now, one: Mapping[str, Any], says: str, events: Mapping[str, Any]) -> list[MadeView]:
    """Repeats of one reading: those of a file in a row, each of the log by itself, so that it can go."""
    unit = UNIT_WORDS.get(one["unit"], one["unit"])
    names = one["reading"]
    why = one["why_not"] or one["doubt"]
    if one["blunder"]:
        blunder = one["blunder"]
        expected = with_half(blunder["expected"], blunder["expanded"], unit)
        why = f"contradicts the others: {expected} was to be expected"
    groups: dict[str, list[float]] = {}
    for name, value in zip(names, one["values"], strict=True):
        groups.setdefault(name if name in events else "", []).append(value)
    row = {"sort": one["sort"], "from": one["from"], "to": one["to"], **one.get("row", {})}
    found = []
    for name, values in groups.items():
        said = now.said(events[name]) if name else None
        found.append(
            MadeView(
                says=says,
                values=f"{', '.join(f'{value:g}' for value in values)} {unit}".replace("-", "\u2212"),
                instrument=one["instrument"],
                round=one.get("round", 1),
                counts=one["counts"],
                aside=bool(one["why_not"]),
                why=why,
                causes=tuple(each["says"] for each in one["causes"]),
                where="" if name else f"{one['where']['file']}:{one['where']['line']}",
                event=name,
                said=said,
                again=FieldView(
                    says=says, of=one["what"], unit=unit, row={k: v for k, v in row.items() if v},
                    instrument=one["instrument"], step=one.get("step", ""),
                ),
            )
        )  # fmt: skip
    return found
