"""Rules of the list: every part once, joints after their parts, head gaps, plugs, empty steps."""

from __future__ import annotations

from trysquare.catalogue.values import BlockSize
from trysquare.ground.findings import Finding
from trysquare.machine.values import Fastening, Joint, Machine
from trysquare.sequence.rules_reading import not_owned
from trysquare.sequence.state import Event, Tightness, reached
from trysquare.sequence.walk import Curing, Walk
from trysquare.stock.bringing import never_brought

GAP_PLAY_MM = 0.2  # least play between a head and the lip it slides under; common practice, no source


def listing(walk: Walk, event: Event) -> list[Finding]:
    """Findings of one event, judged on the state before it."""
    found: list[Finding] = []
    for name in event.again:
        first = walk.step_of(walk.state.present[name]) if name in walk.state.present else event.step_id
        found.append(
            Finding(
                code="placed-twice",
                says=f"{name} is placed in step {first} already.",
                parts=(name,),
                step=event.step_id,
                remedy="Take it out of one of the two steps.",
            )
        )
    level = reached(event.action.verb)
    if level is not None:
        found += _parts_first(walk, event, level)
        found += _gap(walk, event)
    if event.action.verb in ("press", "route"):  # of an insert the way in says so: slot-not-there
        found += _parts_first(walk, event, None)
    if event.action.verb == "release":
        found += _released(walk, event)
    found += _cured(walk, event)
    if event.action.verb in ("read", "align"):
        found += _read_elsewhere(walk, event)
        found += not_owned(walk, event)
    if event.action.verb == "route":
        found += _plugs(walk, event)
    return found


def _parts_first(walk: Walk, event: Event, level: Tightness | None) -> list[Finding]:
    found: list[Finding] = []
    coming = {piece.id for piece in event.pieces}
    for joint in event.joints:
        needed = set(joint.parts)
        turned = _named(joint, event)
        if turned and joint.id not in event.action.joints:
            needed = {part for one in turned for part in _needs(one) if part in joint.parts}
        if level is Tightness.STARTED:
            # A blind joint's screws are started in their own member, before the neighbour comes.
            heads = [one for one in turned if one.head_in_slot]
            if heads:
                needed = {one.host_part for one in heads}
        if event.action.verb == "press":
            needed = _carriers(walk, joint.id, event)
        if joint.cable is not None and event.action.verb != "route":
            needed = set()
        absent = sorted(part for part in needed if part not in walk.state.present and part not in coming)
        if absent:
            found.append(
                Finding(
                    code="joint-before-its-parts",
                    says=f"{event.action.verb} {joint.id}: {absent[0]} is not there yet.",
                    parts=tuple(absent),
                    joint=joint.id,
                    step=event.step_id,
                    remedy=f"Place {absent[0]} first.",
                )
            )
    return found


def _named(joint: Joint, event: Event) -> list[Fastening]:
    """The screws of a joint that an action means: all, unless it names single ones."""
    if joint.id in event.action.joints:
        return list(joint.fastenings)
    return [one for one in joint.fastenings if one.id in event.action.fastenings]


def _needs(fastening: Fastening) -> set[str]:
    """What one screw passes, bites into and whose slot it uses."""
    parts = {grip.part for grip in fastening.grips}
    return parts | {fastening.host_part, fastening.slot_member, fastening.room_part}


def _carriers(walk: Walk, joint: str, event: Event) -> set[str]:
    """What inserts go into: the parts with their holes."""
    own = walk.machine.joint[joint]
    return {own.parts[-1] for one in _named(own, event) if one.host_part in walk.machine.part}


def head_gap_mm(fastening: Fastening, machine: Machine) -> tuple[float, float] | None:
    """Least and largest gap under a blind joint's head that lets it slide into the neighbour's slot.

    The gap is from the member's end to the head's bearing face: more than the lip, and less than what
    the slot's depth leaves over the head. None for other screws.
    Source: geometry of the profile; play by common practice, no source.
    """
    if not fastening.head_in_slot:
        return None
    profile = machine.part[fastening.slot_member].type.profile
    if profile is None:
        return None
    return (
        profile.lip_mm + GAP_PLAY_MM,
        profile.depth_mm - fastening.screw_type.head_height_mm - GAP_PLAY_MM / 2,
    )


def _gap(walk: Walk, event: Event) -> list[Finding]:
    """A stated head gap outside what the slot allows."""
    found: list[Finding] = []
    if event.action.gap_mm is None:
        return found
    for joint in event.joints:
        for one in joint.fastenings:
            span = head_gap_mm(one, walk.machine)
            if span is None:
                continue
            if not span[0] - 1e-9 <= event.action.gap_mm <= span[1] + 1e-9:
                short = event.action.gap_mm < span[0]
                found.append(
                    Finding(
                        code="head-gap-wrong",
                        says=f"{joint.id}: a gap of {event.action.gap_mm:g} mm under the head "
                        f"{'does not pass the lip' if short else 'lets the head touch the slot floor'}; "
                        f"{span[0]:.1f} to {span[1]:.1f} mm slides.",
                        joint=joint.id,
                        parts=(one.screw, one.slot_member),
                        step=event.step_id,
                        value=event.action.gap_mm,
                        limit=span[0] if short else span[1],
                        unit="mm",
                        remedy=f"Leave {(span[0] + span[1]) / 2:.1f} mm.",
                    )
                )
                break
    return found


def _released(walk: Walk, event: Event) -> list[Finding]:
    found: list[Finding] = []
    for part in event.action.parts:
        if part not in walk.state.held:
            found.append(
                Finding(
                    code="released-but-not-held",
                    says=f"{part} is released, but no step holds it.",
                    parts=(part,),
                    step=event.step_id,
                    remedy="Add the hold, or take the release away.",
                )
            )
        elif isinstance(walk.machine.part[part].type.standard, BlockSize):
            walk.said_carriage.discard(part)
    return found


def _read_elsewhere(walk: Walk, event: Event) -> list[Finding]:
    """Parts named in a reading that none of its characteristics is about. Without any part named it is read
    where it is read; a joint stands for all its parts."""
    read = [one for one in walk.machine.characteristics if one.id in event.action.reads]
    about = {part for one in read for part in (*one.of, *one.against)}
    strange = [part for part in event.action.parts if part not in about]
    if not read or not strange:
        return []
    return [
        Finding(
            code="read-on-other-parts",
            says=f"{', '.join(one.id for one in read)} is to be read on {', '.join(strange[:3])}, but is "
            f"about {', '.join(read[0].of[:4])}.",
            parts=tuple(strange),
            step=event.step_id,
            remedy="Name the parts it is about, or the characteristic that is meant.",
        )
    ]


_LEAVES_ALONE = frozenset({"wait", "look", "read", "note", "check", "hold", "sign-off"})


def _cured(walk: Walk, event: Event) -> list[Finding]:
    """What cures is left alone, and cold, until its time is over; only `wait` lets time pass."""
    action = event.action
    found: list[Finding] = []
    touched = {*action.parts, *(part for joint in event.joints for part in joint.parts)}
    warm = action.celsius > 0
    for part, curing in list(walk.curing.items()):
        disturbs = part in touched and action.verb not in _LEAVES_ALONE and event.step != curing.step
        if curing.minutes > 0 and (disturbs or warm):
            found.append(
                Finding(
                    code="cures-still",
                    says=f"{part} is {'warmed' if warm else 'worked on'} while {curing.what} on it still "
                    f"needs {curing.minutes:g} min.",
                    parts=(part,),
                    joint=event.joints[0].id if event.joints else "",
                    step=event.step_id,
                    value=curing.minutes,
                    limit=0.0,
                    unit="min",
                    remedy=f"Add a wait of {curing.minutes:g} min before this step.",
                )
            )
            del walk.curing[part]
        elif action.verb == "wait":
            curing.minutes -= action.minutes
    for word in action.using:
        minutes = walk.machine.types[word].cure_minutes if word in walk.machine.types else 0.0
        if minutes:
            walk.curing |= {part: Curing(word, event.step, minutes) for part in sorted(touched)}
    return found


def _plugs(walk: Walk, event: Event) -> list[Finding]:
    """A connector fitted before its cable goes through a hole that is smaller."""
    found: list[Finding] = []
    for joint in event.joints:
        cable = joint.cable
        if cable is None or not cable.plug_mm or joint.id not in walk.state.crimped:
            continue
        for name, opening in zip(cable.through, cable.openings_mm, strict=False):
            if opening and cable.plug_mm > opening:
                found.append(
                    Finding(
                        code="plug-larger-than-hole",
                        says=f"Cable {cable.label} has its {cable.plug_mm:g} mm plug already and cannot pass "
                        f"the {opening:g} mm opening of {name}.",
                        parts=(name,),
                        joint=joint.id,
                        step=event.step_id,
                        value=cable.plug_mm,
                        limit=opening,
                        unit="mm",
                        remedy="Route the cable first, then crimp the housing.",
                    )
                )
    return found


def end_of_order(walk: Walk) -> list[Finding]:
    """What no step places, and steps that do nothing."""
    found = [
        Finding(
            code="never-placed",
            says=f"No step places {part.id} ({part.type.name}).",
            parts=(part.id,),
            remedy="Name it in a place action of the step where it comes.",
        )
        for part in never_brought(walk.machine)
        if not part.joint
    ]
    found += [
        Finding(
            code="empty-step",
            says=f"Step {step.id} ({step.title}) does nothing.",
            step=step.id,
            remedy="Give it actions, or remove it.",
        )
        for step in walk.machine.steps
        if not step.actions
    ]
    for joint in walk.machine.joints:
        if (joint.belt or joint.cable) and joint.id not in walk.state.routed:
            what = "belt" if joint.belt else "cable"
            found.append(
                Finding(
                    code="never-routed",
                    says=f"No step lays the {what} of {joint.id}.",
                    joint=joint.id,
                    remedy="Add a route action.",
                )
            )
    return found
