"""Pulleys, bearings, shafts and plates; whatever is none of these is an own part.

Sizes of bearings are common knowledge of the trade and stand here from memory.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from trysquare.catalogue.designation import written
from trysquare.catalogue.drives import smooth_idler, toothed
from trysquare.catalogue.rows import numbers, rows
from trysquare.catalogue.threads import thread
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.catalogue.values import Pulley
from trysquare.ground.placement import Array, Placement, cross, facing
from trysquare.intake.bodies import Face, FaceKind, Hole, Recognition, Shape, Sort
from trysquare.intake.recognise_holes import axes_of_holes, holes_of
from trysquare.intake.recognise_nuts import hole_mm
from trysquare.intake.recognise_turned import SAME_MM, Turned, facing_socket, turned_views
from trysquare.intake.teeth import teeth_counted

# bore, outer diameter, width; name. ISO 15:2017, small deep-groove ball bearings, from memory
BEARINGS = (
    (3.0, 10.0, 4.0, "623"), (4.0, 13.0, 5.0, "624"), (5.0, 16.0, 5.0, "625"), (6.0, 19.0, 6.0, "626"),
    (8.0, 22.0, 7.0, "608"), (3.0, 8.0, 3.0, "693"), (4.0, 11.0, 4.0, "694"), (5.0, 13.0, 4.0, "695"),
    (6.0, 15.0, 5.0, "696"), (8.0, 19.0, 6.0, "698"), (5.0, 14.0, 5.0, "605"), (6.0, 17.0, 6.0, "606"),
    (7.0, 19.0, 6.0, "607"), (10.0, 26.0, 8.0, "6000"), (12.0, 28.0, 8.0, "6001"), (8.0, 16.0, 5.0, "688"),
    (5.0, 11.0, 4.0, "685"), (10.0, 19.0, 5.0, "6800"), (12.0, 21.0, 5.0, "6801"), (15.0, 24.0, 5.0, "6802"),
)  # fmt: skip
SHAFT_DIAMETERS_MM = (3.0, 4.0, 5.0, 6.0, 6.35, 8.0, 10.0, 12.0, 16.0)
LEAST_SLENDER = 3.0  # a shaft is at least so many times as long as thick
THREE = 3
SMOOTH_MM = 0.15  # of a running surface's diameter
TOOTHED_MM = 0.4  # the same where its teeth were counted
PLATE_THIN = 0.35  # a plate's thickness to the second of its sizes
FLAT_SHARE = 0.4  # of a plate's shadow that is flat on either side: edges may be rounded
LEAST_FILLED = 0.75  # of shadow times thickness: edges and pockets take the rest
SURELY_FILLED = 0.93


def pulley_of(shape: Shape) -> Recognition | None:
    """A toothed pulley or an idler: a running surface between flanges, round a bore."""
    for view in turned_views(shape, 1):
        bore = hole_mm(view)
        if bore <= 0 or view.reach_mm <= 0:
            continue
        running = [
            each for each in view.outer(0.8 * 5)
            if 2 * each.radius_mm < 2 * view.reach_mm - 1 and 2 * each.radius_mm > bore + 1
        ]  # fmt: skip
        fits = []
        for each in running:
            counted = teeth_counted(view, each)
            fits += [
                (*fit, counted)
                for part in _pulleys(2 * each.radius_mm, bore, counted)
                if (fit := _pulley_fit(view, part, TOOTHED_MM if counted else SMOOTH_MM)) is not None
            ]
        if fits:
            penalty, part, up, counted = min(fits, key=lambda fit: (fit[0], fit[1].designation))
            frame = facing_socket(view, upside_down=not up, origin_mm=view.low_mm if up else view.high_mm)
            frame = _to_set_screws(shape, frame) if part.set_screw else frame
            return Recognition(
                sort=Sort.PULLEY,
                designation=part.designation,
                parameters={"running_mm": part.running_mm, "bore_mm": bore, "length_mm": view.length_mm},
                confidence=0.95 - 0.3 * min(1.0, penalty),
                evidence=(
                    f"running surface Ø{part.running_mm:.4g} between flanges Ø{2 * view.reach_mm:.4g}",
                    f"bore Ø{bore:.3g}, {view.length_mm:.4g} long",
                    *((f"{counted} teeth counted",) if counted else ()),
                ),
                frame=frame,
            )
    return None


def _pulleys(running_mm: float, bore_mm: float, counted: int) -> list[Pulley]:
    """Pulleys and idlers of the tables with this running surface, bore and, unless 0, number of teeth."""
    found: list[Pulley] = []
    for row in rows("pulleys"):
        pitch, width = float(row["pitch_mm"]), float(row["belt_width_mm"])
        line = next(
            float(each["pitch_line_mm"]) for each in rows("belts") if float(each["pitch_mm"]) == pitch
        )
        reckoned = (running_mm + 2 * line) * math.pi / pitch
        teeth = counted or round(reckoned)
        near = [each for each in numbers(row["bores_mm"]) if abs(each - bore_mm) < 0.12]
        if abs(teeth - reckoned) < (0.6 if counted else 0.12) and near:
            try:
                found.append(toothed(row["kind"], pitch, teeth, near[0], width))
            except UnknownDesignation:
                continue
    for row in rows("smooth_idlers") if not counted else ():
        if abs(float(row["running_mm"]) - running_mm) < 0.1:
            near = [each for each in numbers(row["bores_mm"]) if abs(each - bore_mm) < 0.12]
            found += [smooth_idler(float(row["running_mm"]), each) for each in near]
    return found


def _pulley_fit(view: Turned, part: Pulley, within_mm: float) -> tuple[float, Pulley, bool] | None:
    off = [abs(view.length_mm - part.length_mm) / 1.0, abs(2 * view.reach_mm - part.flange_mm) / 1.2]
    if max(off) > 1:
        return None
    zones = [each for each in view.outer() if abs(2 * each.radius_mm - part.running_mm) < within_mm]
    if not zones:
        return None
    middle = (zones[0].low_mm + zones[0].high_mm) / 2
    up = abs(middle - view.low_mm - part.belt_centre_mm) <= abs(view.high_mm - middle - part.belt_centre_mm)
    at = middle - view.low_mm if up else view.high_mm - middle
    off.append(abs(at - part.belt_centre_mm) / 1.0)
    return (sum(off) / 3, part, up) if off[-1] <= 1 else None


def _to_set_screws(shape: Shape, frame: Placement) -> Placement:
    """Turns x to the first of two radial holes at a right angle, so that the second is on y."""
    z = frame.turn[:, 2]
    out = []
    for axis in axes_of_holes(shape, math.pi):
        if abs(float(axis.direction @ z)) < 1e-3:
            away = axis.at((axis.low_mm + axis.high_mm) / 2) - frame.origin_mm
            flat = away - z * float(away @ z)
            if np.linalg.norm(flat) > 0.5:
                out.append(flat / np.linalg.norm(flat))
    for first in out:
        for second in out:
            if float(cross(first, second) @ z) > 0.99:
                return Placement(np.column_stack([first, second, z]), frame.origin_mm)
    return frame


def bearing_of(shape: Shape) -> Recognition | None:
    """A ball bearing by bore, outer diameter and width; balls and seals may be drawn or not."""
    for view in turned_views(shape, 1):
        bore, outer = hole_mm(view), 2 * view.reach_mm
        if bore <= 0 or view.flats:
            continue
        for inner_mm, outer_mm, width_mm, name in BEARINGS:
            if max(abs(bore - inner_mm), abs(outer - outer_mm), abs(view.length_mm - width_mm)) < 0.05:
                parted = _is_parted(shape, view)
                return Recognition(
                    sort=Sort.BEARING,
                    parameters={"bore_mm": bore, "outer_mm": outer, "width_mm": view.length_mm},
                    confidence=0.92 if parted else 0.75,
                    evidence=(
                        f"ring {bore:.4g} × {outer:.4g} × {view.length_mm:.4g}: sizes of a bearing {name}",
                        *(("its two rings are drawn apart",) if parted else ()),
                    ),
                    doubts=() if parted else ("a spacer can have the same sizes",),
                    frame=facing_socket(view, upside_down=False, origin_mm=view.low_mm),
                )
    return None


def _is_parted(shape: Shape, view: Turned) -> bool:
    """Whether a ring shows that it is two, with balls, seals or a gap between them: a spacer has none."""
    if any(face.kind is FaceKind.SPHERE for face in shape.faces):
        return True
    middle = [each for each in (*view.outer(), *view.inner()) if each.radius_mm < view.reach_mm - 0.2]
    return sum(not each.hollow for each in middle) > 0 and len(middle) >= THREE


def shaft_of(shape: Shape) -> Recognition | None:
    """A round bar: no hole, nothing but rounds about one axis, ends and perhaps a flat."""
    for view in turned_views(shape, 1):
        outer = view.outer(0.3 * view.length_mm)
        if not outer or hole_mm(view) > 0:
            continue
        diameter = 2 * outer[0].radius_mm
        if (
            view.length_mm < LEAST_SLENDER * diameter
            or 2 * view.reach_mm > diameter + SAME_MM
            or len(view.flats) > 2
        ):
            continue
        spiral = view.others > 2
        known = min(SHAFT_DIAMETERS_MM, key=lambda size: abs(size - diameter))
        length = round(view.length_mm, 3)
        screws = tuple(
            f"lead screw {row['diameter_mm']}x{row['pitch_mm']} starts {row['starts']}"
            f" length {written(length)}"
            for row in rows("lead_screws")
            if abs(float(row["diameter_mm"]) - diameter) < 0.1
        )
        return Recognition(
            sort=Sort.LEAD_SCREW if spiral and screws else Sort.SHAFT,
            parameters={"diameter_mm": diameter, "length_mm": view.length_mm},
            confidence=0.7 if abs(known - diameter) < 0.03 else 0.55,
            evidence=(
                f"round bar Ø{diameter:.4g}, {view.length_mm:.5g} long",
                *(("with a spiral",) if spiral else ()),
            ),
            doubts=("a lead screw drawn without its thread looks the same",) if screws else (),
            alternatives=screws,
            frame=facing_socket(view, upside_down=False, origin_mm=view.low_mm),
        )
    return None


def plate_of(shape: Shape) -> Recognition | None:
    """A flat piece: two great planes back to back, its holes square to them."""
    planes = sorted(
        (face for face in shape.faces if face.kind is FaceKind.PLANE), key=lambda face: -face.area_mm2
    )
    if len(planes) < 2:
        return None
    top = planes[0]
    backs = [face for face in planes if float(face.direction @ top.direction) < -0.999999]
    if not backs:
        return None
    area = sum(face.area_mm2 for face in backs)
    z = top.direction
    extents = np.ptp(shape.points_mm @ facing(z), axis=0)
    thick = float(extents[2])
    frame = _plate_frame(shape, z)
    local = frame.back(shape.points_mm)
    size = np.ptp(local, axis=0)
    shadow = _shadow_mm2(shape, z)
    if thick > PLATE_THIN * float(min(size[:2])) or min(top.area_mm2, area) < FLAT_SHARE * shadow:
        return None
    filled = shape.volume_mm3 / max(thick * shadow, 1e-9)
    sides = sum(_is_side(face, z) for face in shape.faces)
    if not LEAST_FILLED < filled < 1.01 or sides < 3:
        return None
    holes = tuple(_threaded(hole) for hole in holes_of(shape, frame))
    square = [hole for hole in holes if abs(abs(hole.direction[2]) - 1) < 1e-6]
    return Recognition(
        sort=Sort.PLATE,
        parameters={"size_x_mm": float(size[0]), "size_y_mm": float(size[1]), "thickness_mm": thick},
        confidence=0.85 if filled > SURELY_FILLED else 0.7,
        evidence=(
            f"{size[0]:.5g} × {size[1]:.5g}, {thick:.4g} thick",
            f"{len(square)} holes through or into its faces" if square else "no holes",
        ),
        frame=frame,
        holes=holes,
    )


def _shadow_mm2(shape: Shape, z: Array) -> float:
    """Area of the shape's shadow along a direction, where nothing overhangs; more where something does."""
    a, b, c = (shape.points_mm[shape.triangles[:, number]] for number in range(3))
    return float(np.maximum(np.cross(b - a, c - a) @ z, 0).sum() / 2)


def _is_side(face: Face, z: Array) -> bool:
    """Whether a face is a straight side of a plate, or the round that is all that is left of one."""
    along = abs(float(face.direction @ z)) < 1e-6
    return along and (face.kind is FaceKind.PLANE or (face.kind is FaceKind.CYLINDER and not face.hollow))


def _plate_frame(shape: Shape, z: Array) -> Placement:
    """The plate's coordinates: lowest corner at the origin, x along its longest straight edge face."""
    sides = [
        face for face in shape.faces if face.kind is FaceKind.PLANE and abs(float(face.direction @ z)) < 1e-6
    ]
    if sides:
        y = max(sides, key=lambda face: face.area_mm2).direction
        x = cross(y, z)
        x = x / np.linalg.norm(x)
        turn = np.column_stack([x, cross(z, x), z])
    else:
        turn = facing(z)
    low = (shape.points_mm @ turn).min(axis=0)
    return Placement(turn, turn @ low)


def _threaded(hole: Hole) -> Hole:
    """The hole with the thread that its diameter speaks for: a tap drill's, or the nut's minor diameter."""
    for row in rows("threads"):
        size = thread(row["name"])
        if (
            min(abs(hole.diameter_mm - size.tap_drill_mm), abs(hole.diameter_mm - size.minor_diameter_mm))
            < 0.04
        ):
            return replace(hole, thread=size.name)
    return hole


def own_part(shape: Shape) -> Recognition:
    """What is left: a part of the machine's own, printed when it came as a mesh."""
    size = shape.size_mm
    meshed = shape.source in ("stl", "3mf")
    return Recognition(
        sort=Sort.OWN,
        parameters={f"size_{axis}_mm": float(each) for axis, each in zip("xyz", size, strict=True)},
        confidence=0.8 if meshed else 0.6,
        evidence=(
            "came as a mesh, as parts to be printed do" if meshed else "no standard part has its faces",
            f"{size[0]:.4g} × {size[1]:.4g} × {size[2]:.4g} in the file's directions",
        ),
        holes=tuple(_threaded(hole) for hole in holes_of(shape)),
    )
