"""What a number means in use: over the travel, on a test piece, for carriages and stops."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from functools import cache
from importlib import resources

from trysquare.catalogue.values import RailSize
from trysquare.machine.values import Axis, Characteristic
from trysquare.truing.bodies import Assembly
from trysquare.truing.characteristics import Component

WORKS_MM, BINDS_MM = 0.05, 0.1  # rails on members: up to here it works, from here it binds. common practice


@cache
def _rail_limits() -> dict[float, dict[str, str]]:
    text = (resources.files("trysquare.truing") / "tables" / "rail_limits.csv").read_text(encoding="utf-8")
    return {float(row["width_mm"]): row for row in csv.DictReader(text.splitlines())}


def rail_parallelism_mm(width_mm: float, *, preloaded: bool) -> float | None:
    """What two rails of a width may be out of parallel on a ground bed; None for a width not in the table.

    Source: makers' sheets of miniature rails, as in `tables/rail_limits.csv`.
    """
    row = _rail_limits().get(width_mm)
    return float(row["parallel_preloaded_mm" if preloaded else "parallel_light_mm"]) if row else None


def rail_height_difference_mm(width_mm: float, spacing_mm: float, *, preloaded: bool) -> float | None:
    """What two rails may differ in height at a spacing: a share of it. Source: as above."""
    row = _rail_limits().get(width_mm)
    if row is None:
        return None
    return float(row["height_per_mm_preloaded" if preloaded else "height_per_mm_light"]) * spacing_mm


def meaning(assembly: Assembly, characteristic: Characteristic, component: Component, value: float) -> str:
    """One sentence on what a component's value does to whoever uses the machine."""
    size = abs(value)
    make = {
        "squareness": _squareness,
        "twist": _twist,
        "parallelism": _parallelism,
        "offset": _offset,
        "height-difference": _height,
        "centring": _centring,
        "flush": _flush,
    }.get(characteristic.sort)
    return make(assembly, component, size) if make is not None else ""


def _squareness(assembly: Assembly, component: Component, size: float) -> str:
    per_100 = size if component.unit == "mm/100" else 100 * size / max(component.span_mm, 1.0)
    travels = [axis for axis in assembly.machine.axes if _concerns(assembly, axis, component.bodies)]
    words = [
        f"over the {component.span_mm:g} mm of its shorter side {per_100 * component.span_mm / 100:.2f} mm"
    ]
    if travels:
        longest = max(travels, key=lambda axis: axis.travel_mm)
        over = per_100 * longest.travel_mm / 100
        words = [f"over the {longest.travel_mm:g} mm of {longest.id} travel {over:.2f} mm"]
    words.append(f"a test square of 100 mm comes out {per_100:.2f} mm out")
    return "; ".join(words)


def _concerns(assembly: Assembly, axis: Axis, bodies: Sequence[int]) -> bool:
    """Whether an axis runs along one of these bodies."""
    return any(
        abs(sum(a * b for a, b in zip(axis.direction, assembly.bodies[index].along, strict=True))) > 0.9
        for index in bodies
    )


def _twist(assembly: Assembly, component: Component, size: float) -> str:  # noqa: ARG001  # as all are called
    words = f"on a flat plate the frame rocks by {size:.2f} mm"
    return f"{words}: more than 0.3 mm over 400 mm shows on the bed" if size > 0.3 else words


def _parallelism(assembly: Assembly, component: Component, size: float) -> str:
    rails = [
        assembly.bodies[index].placed.type.standard
        for index in component.bodies
        if isinstance(assembly.bodies[index].placed.type.standard, RailSize)
    ]
    if not rails:
        return (
            f"they are {size:.2f} mm further apart at one end of {component.span_mm:g} mm than at the other"
        )
    judged = "runs" if size <= WORKS_MM else "runs tight" if size <= BINDS_MM else "binds"
    ground = (
        rail_parallelism_mm(rails[0].width_mm, preloaded=False) if isinstance(rails[0], RailSize) else None
    )
    beside = f"; on a ground bed its maker asks for {1000 * ground:.0f} µm" if ground else ""
    return f"a carriage on both is squeezed by {size:.2f} mm from end to end and {judged}{beside}"


def _offset(assembly: Assembly, component: Component, size: float) -> str:  # noqa: ARG001  # as all are called
    return f"stops and end switch stand {size:.2f} mm off: so much travel is lost at one end"


def _height(assembly: Assembly, component: Component, size: float) -> str:
    standard = assembly.bodies[component.bodies[0]].placed.type.standard
    if isinstance(standard, RailSize):
        allowed = rail_height_difference_mm(standard.width_mm, component.span_mm, preloaded=False)
        if allowed is not None:
            return (
                f"{size:.3f} mm higher; carriages tied over {component.span_mm:.0f} mm bear {allowed:.3f} mm"
            )
    return f"one stands {size:.2f} mm higher"


def _centring(assembly: Assembly, component: Component, size: float) -> str:  # noqa: ARG001  # as all are called
    return f"the rail runs {size:.2f} mm beside the middle of its member"


def _flush(assembly: Assembly, component: Component, size: float) -> str:  # noqa: ARG001  # as all are called
    return f"a step of {size:.2f} mm; a plate screwed over it bends or tilts"
