"""How tight: the tightening torque of each screw as the weakest of all that it loads."""

from __future__ import annotations

from dataclasses import dataclass

from trysquare.catalogue.engagement import least_engagement_mm
from trysquare.catalogue.holes import clearance_hole_mm
from trysquare.catalogue.strengths import strength
from trysquare.catalogue.torque_limits import (
    assumed_pull,
    friction,
    head_bearing_mm,
    torque_limit,
)
from trysquare.catalogue.values import Head, Nut, Screw, SlotNut
from trysquare.fit.faults import gathered
from trysquare.fit.lengths import named
from trysquare.fit.limits import SNUG_SHARE
from trysquare.fit.preload import preload_newton, rule_torque_newton_metre, tightening_torque_newton_metre
from trysquare.fit.soft import gives_way, plastic_clamped
from trysquare.ground.findings import Finding
from trysquare.machine.stack import engaged_mm, stack_of
from trysquare.machine.values import Fastening, Host, Machine

WEAKER_CLASS = "A2-70"  # of the two commonly sold (8.8 and A2-70) when a list says no class
THIN_NUT_CLASS = "04"  # what thin nuts are when nothing is said; ISO 898-2
LOW_HEAD_SHARE = 0.8  # ISO 7380-1 and ISO 10642: heads too low for the full load; from memory
VDI = "VDI 2230-1 at 90 % of proof strength"


@dataclass(frozen=True, slots=True, kw_only=True)
class Torque:
    """The largest torque a screw should get, and what sets it.

    `friction` of thread and head; `strength` the class reckoned with; `is_assumed`: the limit rests on a
    value nobody stated for this very part. `snug_newton_metre`: a quarter, for alignment.
    """

    newton_metre: float
    limited_by: str
    friction: float
    strength: str
    source: str
    snug_newton_metre: float
    is_assumed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One thing that a screw loads, and the torque it bears."""

    what: str
    newton_metre: float
    source: str
    is_assumed: bool = False


def torque_of(machine: Machine, fastening: Fastening) -> Torque | None:
    """The torque of a screw in its joint; None when nothing is known that limits it, and when something in
    the stack gives way (`gives_way`): such a screw is turned to a mark or a reading, to no torque."""
    return None if gives_way(machine, fastening) else strongest_torque(machine, fastening)


def strongest_torque(machine: Machine, fastening: Fastening) -> Torque | None:
    """What the hard parts of the joint bear, whether or not something soft lies between them."""
    limits = limits_of(machine, fastening)
    if not limits:
        return None
    weakest = min(limits, key=lambda limit: limit.newton_metre)
    return Torque(
        newton_metre=weakest.newton_metre,
        limited_by=weakest.what,
        friction=friction_of(machine, fastening),
        strength=class_of(fastening.screw_type),
        source=weakest.source,
        snug_newton_metre=SNUG_SHARE * weakest.newton_metre,
        is_assumed=weakest.is_assumed,
    )


def limits_of(machine: Machine, fastening: Fastening) -> list[Limit]:
    """All limits of one screw: itself, its thread's host, the slot nut's pull, plastics it clamps."""
    screw = fastening.screw_type
    if screw.head is Head.NONE:
        known = torque_limit("set screw", screw.thread.name)
        own = [Limit(what="set screw", newton_metre=known.value, source=known.source)] if known else []
        return [*own, *_host_limits(machine, fastening)]
    return [
        _screw_limit(machine, fastening),
        *_host_limits(machine, fastening),
        *_clamped(machine, fastening),
    ]


def torque_findings(machine: Machine) -> list[Finding]:
    """Joints whose paper states more torque than the weakest part of the joint bears."""
    found = []
    for joint in machine.joints:
        if joint.torque_newton_metre <= 0:
            continue
        for fastening in joint.fastenings:
            torque = strongest_torque(machine, fastening)
            if torque is None or joint.torque_newton_metre <= torque.newton_metre * 1.005:
                continue
            found.append(
                Finding(
                    code="torque-above-estimate" if torque.is_assumed else "torque-above-weakest",
                    says=f"{named(fastening)}: the paper says {joint.torque_newton_metre:g} N·m, the "
                    f"{torque.limited_by} bears {torque.newton_metre:.2f} N·m (friction {torque.friction:g}, "
                    f"class {torque.strength}; {torque.source}).",
                    parts=tuple(part for part in (fastening.screw, fastening.host_part) if part),
                    joint=joint.id,
                    value=joint.torque_newton_metre,
                    limit=torque.newton_metre,
                    unit="N·m",
                    at_mm=fastening.head_mm,
                    remedy=f"Tighten to {torque.newton_metre:.1f} N·m, or ask the paper's author why more.",
                    where=joint.where,
                )
            )
    return gathered(found)


def class_of(screw: Screw) -> str:
    """The property class reckoned with: the screw's own, else the weaker of the two commonly sold."""
    return screw.strength or (f"{WEAKER_CLASS}, assumed" if screw.head is not Head.NONE else "45H, assumed")


def friction_of(machine: Machine, fastening: Fastening) -> float:
    """The friction the paper states for the joint, else that of the screw's surface as delivered."""
    stated = machine.joint[fastening.joint].friction if fastening.joint in machine.joint else 0.0
    surface = "stainless" if class_of(fastening.screw_type).startswith("A") else "steel"
    return stated or friction(surface).value


def _screw_limit(machine: Machine, fastening: Fastening) -> Limit:
    screw = fastening.screw_type
    return Limit(
        what="screw",
        newton_metre=_torque_at(machine, fastening, _preload(machine, fastening)),
        source=VDI + (", low head: 80 % of it" if _has_low_head(screw) else ""),
    )


def _preload(machine: Machine, fastening: Fastening) -> float:
    screw = fastening.screw_type
    share = LOW_HEAD_SHARE if _has_low_head(screw) else 1.0
    proof = strength(screw.strength or WEAKER_CLASS).yield_mpa
    return share * preload_newton(screw.thread, proof, friction_of(machine, fastening))


def _torque_at(machine: Machine, fastening: Fastening, preload: float) -> float:
    """Torque for a preload with this screw's head and friction. A countersunk head's cone is taken as
    flat, which asks for less torque than it bears."""
    screw = fastening.screw_type
    coefficient = friction_of(machine, fastening)
    bearing = head_bearing_mm(screw.standard, screw.thread.name, screw.head_diameter_mm)
    mean = (bearing + clearance_hole_mm(screw.thread.name)) / 2
    return tightening_torque_newton_metre(screw.thread, preload, coefficient, coefficient, mean)


def _has_low_head(screw: Screw) -> bool:
    return screw.head in (Head.BUTTON, Head.COUNTERSUNK)


def _host_limits(machine: Machine, fastening: Fastening) -> list[Limit]:
    match fastening.host:
        case Host.SLOT_NUT:
            return _slot_nut(machine, fastening)
        case Host.INSERT:
            return _practice(fastening, "insert", "insert")
        case Host.TAPPED | Host.BAR:
            return _tapped(machine, fastening)
        case Host.NUT:
            return _nut(machine, fastening)
        case _:
            return []


def _slot_nut(machine: Machine, fastening: Fastening) -> list[Limit]:
    part = machine.part.get(fastening.host_part)
    nut = part.type.standard if part is not None else None
    if not isinstance(nut, SlotNut):
        return []
    guess = assumed_pull(nut.slot_mm)
    pull = nut.pull_newton or guess.value
    return [
        Limit(
            what="slot nut",
            newton_metre=rule_torque_newton_metre(nut.thread.diameter_mm, pull),
            source=f"pull-out at {pull:g} N, T = 0.2·d·F; "
            + (nut.source if nut.pull_newton else guess.source),
            is_assumed=not nut.pull_newton,
        )
    ]


def _nut(machine: Machine, fastening: Fastening) -> list[Limit]:
    """A thin nut strips before the screw yields; a nut of full height carries its screw (ISO 898-2)."""
    part = machine.part.get(fastening.host_part)
    nut = part.type.standard if part is not None else None
    full, _ = least_engagement_mm("nut", "", fastening.screw_type.thread.name)
    if not isinstance(nut, Nut) or nut.height_mm >= full - 0.1 or fastening.screw_type.head is Head.NONE:
        return []
    proof = strength(nut.strength or THIN_NUT_CLASS).proof_mpa
    if not proof:  # stainless: its standard states no proof stress for thin nuts; half a full nut's
        proof = strength(nut.strength).yield_mpa / 2
    load = min(_preload(machine, fastening), 0.9 * proof * nut.thread.stress_area_mm2)
    return [
        Limit(
            what="thin nut",
            newton_metre=_torque_at(machine, fastening, load),
            source=f"90 % of the proof load of a thin nut, {proof:g} MPa; ISO 898-2, from memory",
        )
    ]


def _tapped(machine: Machine, fastening: Fastening) -> list[Limit]:
    """By material and by how much thread is engaged, in parts of what the engagement rule asks for."""
    thread_name = fastening.screw_type.thread.name
    material = fastening.host_material
    needed, _ = least_engagement_mm(str(fastening.host), material, thread_name)
    engaged = max(0.0, engaged_mm(stack_of(fastening), fastening.screw_type.length_mm))
    share = min(1.0, engaged / needed)
    if material == "aluminium":
        return _practice(fastening, "tapped aluminium", "aluminium thread", share)
    if material not in ("steel", "brass"):
        return _practice(fastening, "tapped plastic", "plastic thread", share)
    if share >= 1.0 or fastening.screw_type.head is Head.NONE:
        return []
    return [
        Limit(
            what=f"{material} thread",
            newton_metre=share * _torque_at(machine, fastening, _preload(machine, fastening)),
            source=f"{engaged:.1f} mm engaged of {needed:.1f} that carry the screw in full",
        )
    ]


def _clamped(machine: Machine, fastening: Fastening) -> list[Limit]:
    soft = plastic_clamped(machine, fastening)
    return _practice(fastening, "clamped plastic", soft) if soft else []


def _practice(fastening: Fastening, host: str, what: str, share: float = 1.0) -> list[Limit]:
    known = torque_limit(host, fastening.screw_type.thread.name)
    return [Limit(what=what, newton_metre=share * known.value, source=known.source)] if known else []
