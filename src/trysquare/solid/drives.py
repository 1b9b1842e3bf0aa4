"""Solids of pulleys, idlers and lead screws."""

from __future__ import annotations

from dataclasses import dataclass

from manifold3d import Manifold, OpType

from trysquare.catalogue.values import LeadScrew, Pulley
from trysquare.ground.placement import Triple
from trysquare.solid.bodies import ABOVE_MM, aimed, bore, shaft

BELT_SIDE_MM = 0.5  # air between the belt's edge and a flange, common practice, no source
FLANGE_MM = 1.0  # thickness of a flange, common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Sections:
    """Where a pulley's sections lie along its axis, in the coordinates of `Pulley`.

    `running_mm` is the zone of the belt; flanges stand on both sides; `hub_mm` is the longer piece
    that is left beyond a flange, None when there is none worth naming.
    """

    running_mm: tuple[float, float]
    flanges_mm: tuple[tuple[float, float], ...]
    hub_mm: tuple[float, float] | None


def sections(pulley: Pulley) -> Sections:
    """Divides the pulley's length: belt zone, a flange on each side, the rest is hub."""
    half_mm = pulley.belt_width_mm / 2 + BELT_SIDE_MM
    low = max(pulley.belt_centre_mm - half_mm, 0.0)
    high = min(pulley.belt_centre_mm + half_mm, pulley.length_mm)
    flanges = []
    if low > 0:
        flanges.append((max(low - FLANGE_MM, 0.0), low))
    if high < pulley.length_mm:
        flanges.append((high, min(high + FLANGE_MM, pulley.length_mm)))
    below = flanges[0][0] if low > 0 else 0.0
    above = flanges[-1][1] if high < pulley.length_mm else pulley.length_mm
    rests = [(0.0, below), (above, pulley.length_mm)]
    longest = max(rests, key=lambda span: span[1] - span[0])
    hub = longest if longest[1] - longest[0] > 0.5 else None
    return Sections(running_mm=(low, high), flanges_mm=tuple(flanges), hub_mm=hub)


def set_screw_places(pulley: Pulley) -> tuple[tuple[Triple, Triple], ...]:
    """Where the pulley's set screws enter: (point on the hub's surface, direction outwards), at 90°,
    from +x and from +y, in the middle of the hub. Empty without set screws or hub."""
    hub = sections(pulley).hub_mm
    if not pulley.set_screw or hub is None:
        return ()
    middle_mm, out_mm = (hub[0] + hub[1]) / 2, pulley.hub_mm / 2
    return (
        ((out_mm, 0.0, middle_mm), (1.0, 0.0, 0.0)),
        ((0.0, out_mm, middle_mm), (0.0, 1.0, 0.0)),
    )


def set_screw_thread_mm(pulley: Pulley) -> float:
    """Nominal diameter out of the set screw's designation ("ISO 4026 M3x3" gives 3); 0 if none."""
    size = pulley.set_screw.rpartition(" M")[2].partition("x")[0]
    try:
        return float(size)
    except ValueError:
        return 0.0


def pulley_body(pulley: Pulley) -> Manifold:
    """A pulley or idler: running cylinder, flanges, hub, bore and radial holes of its set screws.
    Teeth are not drawn: the running cylinder is the circle over their tips."""
    parts = sections(pulley)
    bodies = [shaft(pulley.running_mm, *parts.running_mm)]
    bodies += [shaft(pulley.flange_mm, *flange) for flange in parts.flanges_mm]
    ends = (parts.flanges_mm[0][0] if parts.flanges_mm else 0.0,
            parts.flanges_mm[-1][1] if parts.flanges_mm else pulley.length_mm)  # fmt: skip
    hub_mm = max(pulley.hub_mm, pulley.bore_mm + 1.0)
    for low, high in ((0.0, ends[0]), (ends[1], pulley.length_mm)):
        if high > low:
            bodies.append(shaft(hub_mm, low, high))
    body = Manifold.batch_boolean(bodies, OpType.Add)
    cutters = [bore(pulley.bore_mm, -ABOVE_MM, pulley.length_mm + ABOVE_MM)]
    thread_mm = set_screw_thread_mm(pulley)
    if thread_mm > 0:
        for at_mm, out in set_screw_places(pulley):
            cutters.append(aimed(bore(thread_mm, -pulley.hub_mm / 2, ABOVE_MM), at_mm, out))
    return body - Manifold.batch_boolean(cutters, OpType.Add)


def lead_screw_body(screw: LeadScrew) -> Manifold:
    """A lead screw as a shaft of its outer diameter."""
    return shaft(screw.diameter_mm, 0.0, screw.length_mm)
