"""Nuts, washers, heat-set inserts and slot nuts: what has a hole of a thread's size through it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from trysquare.catalogue.rows import rows
from trysquare.catalogue.threads import thread
from trysquare.catalogue.values import Thread
from trysquare.ground.placement import Placement
from trysquare.intake.bodies import FaceKind, Recognition, Shape, Sort
from trysquare.intake.recognise_turned import (
    SAME_MM,
    Round,
    Turned,
    facing_socket,
    ring_of_flats,
    turned_views,
)

FLATS_RATIO = 0.03  # nuts are drawn at their largest width across flats, or at the least
HEIGHT_RATIO = 0.09
WASHER_MM = 0.12  # on diameters of washers
LEAST_ROUND_RAD = 1.9 * math.pi
CIRCLE_MM = 0.05  # points of one circle scatter by less
WIDEST_GAP_RAD = 0.9  # between neighbours on a circle: a hexagon has 1.05
ALIKE = 3.5  # times as far off: nuts for one slot differ so between makers, in length still more
ALIKE_AT_MOST = 0.7
EDGE_MM = 0.6  # the edges of washers up to M8 are broken by less


def nut_of(shape: Shape) -> Recognition | None:
    """The nut, washer, insert or slot nut that a shape is, or None."""
    for view in turned_views(shape, 2):
        hole = hole_mm(view)
        if hole <= 0:
            continue
        for read in (_nut, _slot_nut, _washer_or_insert):
            found = read(view, hole)
            if found is not None:
                return found
    return None


def hole_mm(view: Turned) -> float:
    """Diameter of the hole that goes through the whole shape; 0 when none does.

    A modelled thread has no round: then the nearest points to the axis tell, which are its root.
    """
    whole = [
        each
        for each in view.inner()
        if each.sweep_rad > LEAST_ROUND_RAD
        and (each.length_mm > 0.5 * view.length_mm or _goes_on(view, each))
    ]
    if whole:
        return 2 * whole[-1].radius_mm
    if not len(view.points_mm) or view.others < 2:
        return 0.0
    return 2 * float(np.hypot(view.points_mm[:, 0], view.points_mm[:, 1]).min())


def _goes_on(view: Turned, bore: Round) -> bool:
    """Whether a short round is the hole of a thin ring: chamfers or fillets lead from it to both ends."""
    for gap, at in ((bore.low_mm - view.low_mm, bore.low_mm), (view.high_mm - bore.high_mm, bore.high_mm)):
        edges = (
            each
            for each in view.rounds
            if each.kind in (FaceKind.CONE, FaceKind.TORUS)
            and each.low_mm < at + SAME_MM
            and each.high_mm > at - SAME_MM
            and each.length_mm > gap - SAME_MM
        )
        if gap > EDGE_MM or (gap > SAME_MM and not any(edges)):
            return False
    return True


def threads_of_hole(diameter_mm: float) -> list[tuple[float, Thread]]:
    """Threads whose nut could be drawn with this hole, as (share of what is allowed, thread), best first.

    A nut's hole is drawn at nominal diameter, at the thread's minor diameter or at the tap drill's.
    """
    found = []
    for row in rows("threads"):
        size = thread(row["name"])
        allowed = 0.03 * size.diameter_mm + 0.03
        share, extra = min(
            (abs(diameter_mm - size.diameter_mm) / allowed, 0.0),
            (abs(diameter_mm - size.minor_diameter_mm) / allowed, 0.1),
            (abs(diameter_mm - size.tap_drill_mm) / allowed, 0.3),
            key=sum,
        )
        if share <= 1:
            found.append((min(1.0, share + extra), size))
    return sorted(found, key=lambda pair: pair[0])


def _nut(view: Turned, hole: float) -> Recognition | None:
    for count in (6, 4):
        for ring in ring_of_flats(view.flats, count, inner=False):
            if ring.high_mm - ring.low_mm < 0.4 * view.length_mm:
                continue
            fits = sorted(_nut_fits(count, ring.across_mm, view.length_mm, hole), key=lambda fit: fit[0])
            evidence = (
                f"{'six' if count == 6 else 'four'} flats, {ring.across_mm:.3g} across",
                f"{view.length_mm:.3g} high",
                f"hole Ø{hole:.3g} through",
            )
            figures = {"across_flats_mm": ring.across_mm, "height_mm": view.length_mm}
            frame = facing_socket(
                view, upside_down=False, origin_mm=view.high_mm, angle_rad=ring.angle_rad + math.pi / 2
            )
            if fits:
                # the same body may be sold for slots: the joint decides
                lying = _slot_nut(view, hole) if count == 6 else None
                if lying is not None:
                    fits.append((fits[0][0] + 0.1, lying.designation))
                return _known(fits, Sort.NUT, evidence, frame, figures)
            slot = _slot_nut(view, hole)
            if slot is not None:
                return slot
            if count == 6 and threads_of_hole(hole):
                return Recognition(
                    sort=Sort.NUT, confidence=0.4, evidence=evidence, frame=frame,
                    doubts=("no nut of the tables has these measures",),
                    parameters={"across_flats_mm": ring.across_mm, "height_mm": view.length_mm},
                )  # fmt: skip
    return None


def _nut_fits(count: int, across: float, height: float, hole: float) -> Iterable[tuple[float, str]]:
    sizes = {size.name: share for share, size in threads_of_hole(hole)}
    for order, row in enumerate(rows("nuts")):
        is_hex = row["shape"] == "hex"
        if is_hex is not (count == 6) or row["thread"] not in sizes:
            continue
        flats, tall = float(row["across_flats_mm"]), float(row["height_mm"])
        off_flats = abs(across - flats) / (FLATS_RATIO * flats + 0.05)
        off_height = abs(height - tall) / (HEIGHT_RATIO * tall + 0.1)
        if off_flats <= 1 and off_height <= 1:
            penalty = 0.2 * sizes[row["thread"]] + off_flats * 0.3 + off_height * 0.5 + order * 1e-4
            yield penalty, f"{row['standard']} {row['thread']}"


def _known(
    fits: list[tuple[float, str]],
    sort: Sort,
    evidence: tuple[str, ...],
    frame: Placement,
    parameters: Mapping[str, float],
) -> Recognition:
    """The best fit, with what else fits nearly as well."""
    best = fits[0][0]
    rivals = tuple(name for penalty, name in fits[1:4] if penalty < best + 0.4)
    confidence = 0.97 - 0.2 * min(1.0, best)
    if len(fits) > 1 and fits[1][0] < best + 0.08:
        confidence = min(confidence, 0.88)  # the same measures under two standards
        if fits[1][1].split()[-1] != fits[0][1].split()[-1]:
            confidence = min(confidence, 0.75)  # even the thread is in doubt
    return Recognition(
        sort=sort,
        designation=fits[0][1],
        parameters=dict(parameters),
        confidence=confidence,
        evidence=evidence,
        alternatives=rivals,
        frame=frame,
    )


def _washer_or_insert(view: Turned, hole: float) -> Recognition | None:
    """A ring: nothing along the axis but rounds; an insert's knurl aside."""
    outer = 2 * view.reach_mm
    if view.length_mm < SAME_MM or len(view.ends) < 2:
        return None
    thick = view.length_mm
    parameters = {"inner_mm": hole, "outer_mm": outer, "thickness_mm": thick}
    evidence = (f"ring Ø{hole:.3g} to Ø{outer:.3g}", f"{thick:.3g} thick")
    plain = not view.flats and (not view.others or _is_turned(view))
    washers = []
    for row in rows("washers"):
        if row["standard"] == "ISO 7090":
            continue  # ISO 7089 with a chamfer, which few draw: the plain one is meant
        off = (
            abs(hole - float(row["inner_mm"])) / (WASHER_MM + 0.02 * hole),
            abs(outer - float(row["outer_mm"])) / (WASHER_MM + 0.03 * outer),
            abs(thick - float(row["thickness_mm"])) / (0.05 + 0.15 * thick),
        )
        if plain and max(off) <= 1:
            washers.append((sum(off) / 3, f"{row['standard']} {row['thread']}"))
    if washers:
        frame = facing_socket(view, upside_down=False, origin_mm=view.low_mm)
        return _known(sorted(washers), Sort.WASHER, evidence, frame, parameters)
    inserts = []
    sizes = {size.name: share for share, size in threads_of_hole(hole)}
    for row in rows("inserts"):
        if row["thread"] not in sizes:
            continue
        widths = (float(row["hole_mm"]), float(row["outer_mm"]))
        off_width = max(0.0, widths[0] - outer, outer - widths[1]) / 0.25
        off_length = abs(thick - float(row["length_mm"])) / 0.16
        if off_width <= 1 and off_length <= 1:
            name = f"heat-set insert {row['thread']}x{row['length_mm']}"
            inserts.append((0.2 * sizes[row["thread"]] + 0.4 * off_width + 0.4 * off_length, name))
    if inserts and thick > 0.4 * outer:
        frame = facing_socket(view, upside_down=False, origin_mm=view.high_mm)
        return _known(sorted(inserts), Sort.INSERT, evidence, frame, parameters)
    return None


def _is_turned(view: Turned) -> bool:
    """Whether all points lie on circles round the axis: edges broken in a mesh are flats that lean."""
    x, y, z = view.points_mm.T
    angles = np.arctan2(y, x)
    places = np.column_stack([np.hypot(x, y), z]) / CIRCLE_MM
    round_it = np.zeros(len(places), dtype=bool)
    for shift in itertools.product((0.0, 0.5), repeat=2):  # what the edge of one grid parts, another does not
        _, circle = np.unique(np.round(places + np.array(shift)), axis=0, return_inverse=True)
        for number in np.unique(circle):
            here = np.flatnonzero(circle.reshape(-1) == number)
            there = np.sort(angles[here])
            if float(np.diff(there, append=there[0] + 2 * math.pi).max()) < WIDEST_GAP_RAD:
                round_it[here] = True
    return bool(round_it.all())


def _slot_nut(view: Turned, hole: float) -> Recognition | None:
    """A nut that lies in a T-slot: a body of the slot's width, a neck or none."""
    sizes = {size.name: share for share, size in threads_of_hole(hole)}
    if not sizes or len(view.points_mm) == 0:
        return None
    directions = {
        round((flat.angle_rad + turn) % math.pi, 6) for flat in view.flats for turn in (0.0, math.pi / 2)
    }
    fits = _slot_nut_fits(view, directions, sizes, 1.0)
    alike = not fits and _slot_nut_fits(view, directions, sizes, ALIKE)
    fits = fits or alike or []
    if not fits:
        return None
    fits.sort()
    best = fits[0]
    row = next(
        each for each in rows("slot_nuts")
        if f"{each['shape']} nut slot {each['slot_mm']} {each['thread']}" == best[1]
    )  # fmt: skip
    neck = float(row["neck_mm"])
    bearing = view.high_mm - neck if best[3] else view.low_mm + neck
    frame = facing_socket(view, upside_down=not best[3], origin_mm=bearing, angle_rad=best[2])
    along, across = _extent(view, best[2]), _extent(view, best[2] + math.pi / 2)
    evidence = (
        f"{along:.4g} × {across:.4g} × {view.length_mm:.3g} with a hole Ø{hole:.3g} through",
        f"neck {float(row['neck_width_mm']):g} wide" if neck else "no neck",
    )
    seen: dict[str, float] = {}
    for penalty, name, _angle, _up in fits:
        seen.setdefault(name, penalty)
    ranked = [(penalty, name) for name, penalty in seen.items()]
    figures = {"length_mm": along, "width_mm": across, "height_mm": view.length_mm}
    found = _known(ranked, Sort.SLOT_NUT, evidence, frame, figures)
    if not alike:
        return found
    drawn, of_row = (
        f"{along:.4g} × {across:.4g} × {view.length_mm:.3g}",
        ["length_mm", "width_mm", "height_mm"],
    )
    tabled = " × ".join(row[each] for each in of_row)
    return replace(
        found, confidence=min(found.confidence, ALIKE_AT_MOST),
        doubts=(f"drawn {drawn}, the table's is {tabled}: makers differ, its slot and thread decide",),
    )  # fmt: skip


def _slot_nut_fits(
    view: Turned, directions: Iterable[float], sizes: Mapping[str, float], slack: float
) -> list[tuple[float, str, float, bool]]:
    """Rows whose measures these are, as (penalty, designation, angle of its length, neck up).

    `slack`: how many times as far off as among nuts of one maker; then only a neck makes it a slot's nut.
    """
    fits: list[tuple[float, str, float, bool]] = []
    for angle in directions:
        along, across = _extent(view, angle), _extent(view, angle + math.pi / 2)
        for row in rows("slot_nuts"):
            if row["thread"] not in sizes or (slack > 1 and not float(row["neck_mm"])):
                continue
            off = (
                abs(along - float(row["length_mm"])) / (0.35 * slack**2),
                abs(across - float(row["width_mm"])) / (0.3 * slack),
                abs(view.length_mm - float(row["height_mm"])) / (0.3 * slack),
            )
            if max(off) > 1:
                continue
            body_mm = across if slack > 1 else float(row["width_mm"])
            up, off_neck, off_shoulder = _neck(view, angle, row, body_mm)
            if off_neck <= 1:
                penalty = sum(off) / 3 + 0.3 * off_neck + 0.3 * off_shoulder + 0.2 * sizes[row["thread"]]
                name = f"{row['shape']} nut slot {row['slot_mm']} {row['thread']}"
                fits.append((penalty, name, angle, up))
    return fits


def _extent(view: Turned, angle: float) -> float:
    along = view.points_mm[:, :2] @ np.array([math.cos(angle), math.sin(angle)])
    return float(along.max() - along.min())


def _neck(view: Turned, angle: float, row: Mapping[str, str], body_mm: float) -> tuple[bool, float, float]:
    """Which end the neck is on (True: high), how far its width is off, and how far its shoulder line is.

    `body_mm`: how wide the nut is beneath its neck.
    """
    y = view.points_mm[:, :2] @ np.array([-math.sin(angle), math.cos(angle)])
    z = view.points_mm[:, 2]
    widths = [
        2 * float(np.abs(y[np.abs(z - at) < SAME_MM]).max(initial=0.0)) for at in (view.high_mm, view.low_mm)
    ]
    neck, wide = float(row["neck_mm"]), float(row["neck_width_mm"])
    full = np.abs(np.abs(y) - body_mm / 2) < 0.16
    if not neck:
        # the body narrows downwards, or not at all
        up = widths[0] >= widths[1]
        top = view.high_mm if up else view.low_mm
        reach = float(np.abs(z[full] - top).max(initial=0.0))
        off = abs(max(widths) - body_mm) / 0.3
        return up, off, abs(reach - min(float(row["shoulder_mm"]), float(row["height_mm"]))) / 1.0
    choices = []
    for up, width in ((True, widths[0]), (False, widths[1])):
        top = view.high_mm if up else view.low_mm
        depth = np.abs(z[full] - top)
        shoulder = float(depth.min(initial=9.9))
        reach = float(depth.max(initial=0.0))
        choices.append(
            (
                abs(width - wide) / 0.4 + abs(shoulder - neck) / 0.4,
                up,
                abs(reach - neck - float(row["shoulder_mm"])),
            )
        )
    off, up, off_shoulder = min(choices)
    return up, off, min(1.0, off_shoulder / 1.0)
