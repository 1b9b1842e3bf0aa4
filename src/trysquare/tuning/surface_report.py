"""What a bed's map means: which screw to turn and how far, what no screw can help, what heat does to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trysquare.truing.verdicts import Verdict, judge
from trysquare.tuning.report import CANNOT_TELL, TOLD, Line, Part, Report, Table
from trysquare.tuning.surface import Points, Screw, Surface, Turn, dome_mm, look_at_surface
from trysquare.tuning.surface_file import Map
from trysquare.tuning.values import Measured

# A map that covers less of the way between the screws says nothing of the bed. Common practice, no source.
LEAST_COVERED, LEAST_SCREWS, LEAST_REACH_MM = 0.5, 3, 30.0
# Fewer cannot show a dome beside the noise.
DOME_POINTS = 9
# What a first layer forgives over the whole bed. Common practice, no source.
LIMIT_MM = 0.1
# A turn smaller than this nobody can make: 1/24 of a turn, the half hour of a clock's hand.
LEAST_TURN = 1 / 24
SAME_PLACE_MM = 0.6  # probes round their places to the step, people to the millimetre


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceCase:
    """What is asked. `seen_from`: above or below, where the hand sits; `cold` the map before warming up."""

    hot: Map
    screws: Sequence[Screw]
    cold: Map | None = None
    limit_mm: float = LIMIT_MM
    probe_mm: float = 0.01
    seen_from: str = "above"
    lock_nut: bool = False
    screws_from: str = "as given"


def surface_report(case: SurfaceCase) -> tuple[Report, Surface]:
    """The report, and the surface that was found in the (hot) map. Raises ValueError for too odd a map."""
    points = case.hot.points_mm
    found = look_at_surface(points, case.screws, limit_mm=case.limit_mm, probe_mm=case.probe_mm)
    parts = [_level(case, found), _flatness(case, found)]
    if case.cold is not None:
        parts.append(_heat(case, case.cold))
    cautions = ("motion", "hot") if case.cold is not None else ("motion",)
    return Report(what="surface", title="Bed surface", parts=tuple(parts), cautions=cautions), found


def _kept(case: SurfaceCase, found: Surface) -> Points:
    good = np.ones(len(case.hot.points_mm), dtype=bool)
    good[list(found.dirt)] = False
    return np.asarray(case.hot.points_mm[good], dtype=np.float64)


def _mm(value: float, standard: float, basis: str = "") -> Measured:
    return Measured(value=value, standard_uncertainty=standard, unit="mm", basis=basis)


def _level(case: SurfaceCase, found: Surface) -> Part:
    """Tilt, and what each screw has to turn."""
    kept = _kept(case, found)
    # The highest and the lowest of many differ by noise too; each end counts once.
    span = _mm(
        float(np.ptp(kept[:, 2])), found.noise_mm * np.sqrt(2), "highest less lowest of the good points"
    )
    verdict = judge(span.value, span.standard_uncertainty, case.limit_mm).verdict
    small = _too_small(case)
    if small:
        return Part(
            of="bed-level", title="Level", verdict=CANNOT_TELL, says=(small,), main=span,
            lines=(Line(label="height span", value=span, says="of this part of the bed alone"),),
            data={"limit_mm": case.limit_mm, "points": len(case.hot.points_mm), "covers": False},
        )  # fmt: skip
    tilted = found.tilt_span_mm > max(2 * found.noise_mm, 0.1 * case.limit_mm)
    says = [_span_words(verdict, span, case.limit_mm)]
    doubts = _dirt(case, found)
    if verdict is not Verdict.GOOD:
        says += _what_to_do(case, found, tilted=tilted)
    tables = (_turn_table(case, found.turns),) if found.turns else ()
    return Part(
        of="bed-level",
        title="Level",
        verdict=str(verdict),
        says=tuple(says),
        doubts=tuple(doubts),
        lines=(
            Line(label="height span", value=span, says=f"may be {case.limit_mm:g}"),
            Line(label="tilt alone", value=_mm(found.tilt_span_mm, _tilt_u(kept, found.noise_mm))),
            Line(label="rounds expected", says=_rounds_words(found, case.limit_mm)),
        ),
        tables=tables,
        notes=_notes(case, found),
        main=span,
        data={
            "limit_mm": case.limit_mm,
            "points": len(case.hot.points_mm),
            "slope_x": round(found.plane.slope_x, 7),
            "slope_y": round(found.plane.slope_y, 7),
            "noise_mm": round(found.noise_mm, 5),
            "rounds": found.rounds,
            "turns": [
                {
                    "screw": turn.screw,
                    "lift_mm": round(turn.lift_mm, 4),
                    "lift_expanded_mm": round(2 * turn.lift_standard_uncertainty_mm, 4),
                    "turns_clockwise": round(turn.turns, 4),
                    "seen_from": case.seen_from,
                }
                for turn in found.turns
            ],
            "dirt": [
                {"line": case.hot.lines[index], "x_mm": x, "y_mm": y, "z_mm": z}
                for index, (x, y, z) in ((i, case.hot.points_mm[i].tolist()) for i in found.dirt)
            ],
        },
    )


def _too_small(case: SurfaceCase) -> str:
    """What to say of what is no map of this bed: a small part of it, or beside its screws; else ""."""
    x, y = case.hot.points_mm[:, 0], case.hot.points_mm[:, 1]
    reach = f"The map is {x.min():.4g} to {x.max():.4g} mm along x, {y.min():.4g} to {y.max():.4g} along y"
    if not np.ptp(case.hot.points_mm[:, 2]) > 0:
        return "All heights are the same number: that is a map before it was probed, or rounded. Probe again."
    if max(np.ptp(x), np.ptp(y)) < LEAST_REACH_MM:
        return f"{reach}: no bed is that small. Is it in mm, and do the places go all over the bed?"
    if len(case.screws) < LEAST_SCREWS:
        return ""
    for name, places in (("x", x), ("y", y)):
        at = [screw.x_mm if name == "x" else screw.y_mm for screw in case.screws]
        low, high = min(at), max(at)
        covered = min(high, places.max()) - max(low, places.min())
        if high > low and covered < LEAST_COVERED * (high - low):
            return (
                f"{reach}; the screws stand at {low:g} to {high:g} along {name}. Of so small a part the "
                "bed's level cannot be told: probe a grid all over it. Is its zero the screws' (--origin)?"
            )
    return ""


def _tilt_u(kept: Points, noise_mm: float) -> float:
    """Standard uncertainty of the tilt's span from the noise of the points."""
    return float(2 * noise_mm * np.sqrt(3 / len(kept)))


def _span_words(verdict: Verdict, span: Measured, limit_mm: float) -> str:
    if verdict is Verdict.GOOD:
        return f"The bed is level and flat enough: its heights span {span}, {limit_mm:g} may be."
    if verdict is Verdict.BAD:
        return f"The bed's heights span {span}; {limit_mm:g} may be."
    return f"Whether the bed is level enough cannot be told: its heights span {span} against {limit_mm:g}."


def _what_to_do(case: SurfaceCase, found: Surface, *, tilted: bool) -> list[str]:
    if not tilted:
        return ["It is not tilted: no screw helps. What remains is the plate's own shape, see below."]
    if not found.turns:
        return ["It is tilted: give each screw's name and place with --screw to know its turn."]
    says = []
    todo = [turn for turn in found.turns if _worth_it(turn)]
    if not todo:
        return ["What is left to turn is less than a hand can make: leave the screws alone."]
    for turn in todo:
        way = "clockwise" if turn.turns > 0 else "anticlockwise"
        does = "draws the bed down" if turn.lift_mm < 0 else "lifts it"
        says.append(
            f"Turn {turn.screw} {_turn_words(abs(turn.turns))} {way}, seen from {case.seen_from}: "
            f"that {does} by {abs(turn.lift_mm):.2f} mm."
        )
    if case.lock_nut:
        says.append("Loosen each lock nut first; hold the screw while you tighten the nut, then probe again.")
    says.append("Then probe again; a turn is only right to about a seventh of itself.")
    return says


def _worth_it(turn: Turn) -> bool:
    return abs(turn.turns) >= LEAST_TURN and abs(turn.lift_mm) > 2 * turn.lift_standard_uncertainty_mm


def _turn_words(turns: float) -> str:
    """Turns as a hand makes them: by the angle, and as a part of a turn."""
    if turns >= 1:
        return f"{turns:.2f} turns"
    quarters = {1: "a quarter turn", 2: "half a turn", 3: "three quarters of a turn"}
    near = round(4 * turns)
    word = quarters[near] if near in quarters and abs(4 * turns - near) < 0.1 else f"{turns:.2f} of a turn"
    return f"{360 * turns:.0f}° ({word})"


def _turn_table(case: SurfaceCase, turns: Sequence[Turn]) -> Table:
    by_name = {screw.name: screw for screw in case.screws}
    rows = []
    for turn in turns:
        screw = by_name[turn.screw]
        how = (
            "fixed" if screw.locked else ("leave it" if not _worth_it(turn) else f"{360 * turn.turns:+.0f}°")
        )
        lift = f"{turn.lift_mm:+.3f} ± {2 * turn.lift_standard_uncertainty_mm:.3f}"
        place = f"{screw.x_mm:g}, {screw.y_mm:g}"
        rows.append((turn.screw, place, lift, f"{turn.turns:+.2f}", how, f"{screw.pitch_mm:g}"))
    return Table(
        title=f"Screws (+ is clockwise, seen from {case.seen_from})",
        columns=("screw", "x, y mm", "lift mm", "turns", "angle", "pitch mm"),
        rows=tuple(rows),
        right=frozenset({2, 3, 4, 5}),
    )


def _rounds_words(found: Surface, limit_mm: float) -> str:
    rounds = found.rounds
    if rounds < 0 or found.flatness_least_squares_mm >= limit_mm:
        return "none will do: the plate itself is not flat enough"
    if rounds == 0:
        return "none, it is done"
    return f"{rounds} of turning and probing"


def _dirt(case: SurfaceCase, found: Surface) -> list[tuple[str, str]]:
    told = []
    off = found.plane.off_mm(case.hot.points_mm)
    for index in found.dirt:
        x, y, _ = case.hot.points_mm[index].tolist()
        high = off[index] > 0
        why = "a crumb or a blob?" if high else "a hole, a missed touch, or the edge of the plate?"
        where = f"At x {x:g}, y {y:g} (line {case.hot.lines[index]}) it is {abs(off[index]):.2f} mm"
        way = "over" if high else "under"
        told.append(("dirt", f"{where} {way} the rest: {why} It is left out; wipe and probe it again."))
    return told


def _notes(case: SurfaceCase, found: Surface) -> tuple[str, ...]:
    notes = [f"Noise of the points about a smooth surface: {found.noise_mm:.3f} mm."]
    if found.turns:
        locked = [screw.name for screw in case.screws if screw.locked]
        base = f"the fixed {' and '.join(locked)}" if locked else "the screws' mean height"
        notes.append(f"Lifts bring the plane level with {base}. Screws: {case.screws_from}.")
        notes.append("If clockwise lifts your bed, its threads work the other way: --hand left.")
        x, y = case.hot.points_mm[:, 0], case.hot.points_mm[:, 1]
        far = [
            screw.name
            for screw in case.screws
            if not (
                x.min() - np.ptp(x) / 4 <= screw.x_mm <= x.max() + np.ptp(x) / 4
                and y.min() - np.ptp(y) / 4 <= screw.y_mm <= y.max() + np.ptp(y) / 4
            )
        ]
        if far:
            notes.append(f"Far outside the map, so less sure: {', '.join(far)}.")
    return tuple(notes)


def _flatness(case: SurfaceCase, found: Surface) -> Part:
    """What remains when every screw is right."""
    kept = _kept(case, found)
    zone = _mm(found.flatness_minimum_zone_mm, found.noise_mm * np.sqrt(2), "minimum zone")
    squares = _mm(found.flatness_least_squares_mm, found.noise_mm * np.sqrt(2), "least squares")
    lines = [Line(label="minimum zone", value=zone, says=f"may be {case.limit_mm:g}"),
             Line(label="least squares", value=squares)]  # fmt: skip
    if small := _too_small(case):
        return Part(of="bed-flatness", title="Flatness", verdict=CANNOT_TELL, says=(small,),
                    data={"points": len(kept), "covers": False})  # fmt: skip
    if len(kept) < DOME_POINTS:
        return Part(
            of="bed-flatness",
            title="Flatness",
            verdict=CANNOT_TELL,
            says=(f"{len(kept)} points do not tell a plate's shape: probe a grid of 3 × 3 or more.",),
            lines=tuple(lines),
            data={"points": len(kept)},
        )
    verdict = judge(zone.value, zone.standard_uncertainty, case.limit_mm).verdict
    bow = dome_mm(kept, found.noise_mm)
    lines.append(Line(label="bow", value=bow, says=_bow_words(bow)))
    says = {
        Verdict.GOOD: f"Levelled, the plate would keep within {zone}: flat enough.",
        Verdict.BAD: f"Levelled, it still spans {zone}: no screw can help.",
    }.get(verdict, f"Whether the plate is flat enough cannot be told: {zone} against {case.limit_mm:g}.")
    advice = [says]
    if verdict is not Verdict.GOOD:
        if abs(bow.value) > max(bow.expanded, 0.3 * zone.value):
            advice.append(
                f"Most of it is one bow, {_bow_words(bow)}: look whether screws or clamps strain the plate, "
                "and map it cold and hot (--cold)."
            )
        else:
            advice.append(
                "It is uneven, not bowed: look under the sheet for dirt, then compensate in numbers."
            )
    return Part(
        of="bed-flatness",
        title="Flatness",
        verdict=str(verdict),
        says=tuple(advice),
        lines=tuple(lines),
        main=zone,
        notes=("Flatness: the least distance of two parallel planes that hold all good points.",),
        data={
            "minimum_zone_mm": round(zone.value, 5),
            "least_squares_mm": round(squares.value, 5),
            "bow_mm": round(bow.value, 5),
            "bow_expanded_mm": round(bow.expanded, 5),
        },
    )


def _bow_words(bow: Measured) -> str:
    if abs(bow.value) <= bow.expanded:
        return "no more than the noise"
    return "the middle stands high" if bow.value > 0 else "the middle stands low"


def _heat(case: SurfaceCase, cold: Map) -> Part:
    """What changed between both maps at the places they share."""
    hot = case.hot.points_mm
    shared = []
    for x, y, z in cold.points_mm:
        near = np.hypot(hot[:, 0] - x, hot[:, 1] - y)
        index = int(np.argmin(near))
        if near[index] <= SAME_PLACE_MM:
            shared.append((x, y, hot[index, 2] - z))
    change = np.array(shared, dtype=np.float64).reshape(-1, 3)
    if len(change) < DOME_POINTS:
        few = (
            f"Only {len(change)} places are in both maps: probe the same grid cold and hot, "
            f"at least {DOME_POINTS} places."
        )
        return Part(of="bed-heat", title="Heat", verdict=CANNOT_TELL, says=(few,))
    found = look_at_surface(change, (), limit_mm=case.limit_mm, probe_mm=case.probe_mm * np.sqrt(2))
    good = np.ones(len(change), dtype=bool)
    good[list(found.dirt)] = False
    bow = dome_mm(change[good], found.noise_mm)
    rise = _mm(float(np.median(change[:, 2])), found.noise_mm * np.sqrt(np.pi / 2 / len(change)))
    clear = abs(bow.value) > bow.expanded
    matters = clear and abs(bow.value) > case.limit_mm / 4
    says = [
        f"Heat bows the plate by {bow}: {_bow_words(bow)}."
        if clear
        else f"Heat bows it no more than {bow.expanded:.3f} mm."
    ]
    if matters:
        says.append("So level it and map it as hot as it is used, after ten minutes of waiting.")
        says.append("A plate held stiffly at its corners cannot grow: leave its screws' springs room.")
    if found.tilt_span_mm > max(case.limit_mm / 4, 4 * found.noise_mm):
        says.append(
            f"It also tilts by {found.tilt_span_mm:.2f} mm when warm: one support grows more than others."
        )
    return Part(
        of="bed-heat",
        title="Heat",
        verdict=TOLD,
        says=tuple(says),
        lines=(
            Line(label="bow by heat", value=bow),
            Line(label="all rises by", value=rise),
            Line(label="tilt by heat", value=_mm(found.tilt_span_mm, _tilt_u(change, found.noise_mm))),
        ),
        main=bow,
        data={"places": len(change), "bow_change_mm": round(bow.value, 5)},
    )
