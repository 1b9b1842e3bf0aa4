"""Rules of alignment: read while snug, before final, not disturbed after; nothing left snug."""

from __future__ import annotations

from functools import cache

from trysquare.ground.findings import Finding
from trysquare.machine.values import Joint
from trysquare.sequence.row_orders import centre_outwards, is_good_row, rows_of
from trysquare.sequence.rules_absent import read_of_absent
from trysquare.sequence.state import Event, Tightness, reached
from trysquare.sequence.walk import Walk

_CRACKS = ("ABS", "ASA", "PC", "PMMA", "acrylic", "polycarbonate")


def alignment(walk: Walk, event: Event) -> list[Finding]:
    """Findings of one event, judged on the state before it."""
    found: list[Finding] = []
    if event.action.verb in ("align", "read"):
        found += _reading(walk, event)
    level = reached(event.action.verb)
    if level is not None:
        found += _rails_on(walk, event)
        found += _tightening(walk, event, level)
        found += _locking(walk, event, level)
    return found


def _level(walk: Walk, joint: Joint) -> Tightness:
    """The loosest screw of a joint."""
    return min((walk.state.tightness(one.id) for one in joint.fastenings), default=Tightness.ABSENT)


def _reading(walk: Walk, event: Event) -> list[Finding]:
    found: list[Finding] = []
    for name in event.action.reads:
        early = [joint.id for joint in walk.aligned.get(name, ()) if _level(walk, joint) < Tightness.SNUG]
        if early:
            found.append(
                Finding(
                    code="read-before-snug",
                    says=f"{name} is read although {', '.join(early[:3])} "
                    f"{'is' if len(early) == 1 else 'are'} not yet snug: what is read will move.",
                    joint=early[0],
                    step=event.step_id,
                    remedy=f"Snug {early[0]} first, then read.",
                )
            )
        found += read_of_absent(walk, event, name)
    return found


def _rails_on(walk: Walk, event: Event) -> list[Finding]:
    """Rails screwed onto a frame whose twist, which the machine limits, was never read: on a table that is
    not flat it is snugged as crooked as the table, and rails show it last. A rail on a member that still lies
    on the bench bends with no frame.

    Common practice, no source: the rock test comes before the rails.
    """
    rails = [joint for joint in event.joints if joint.recipe == "rail-on-slot"]
    if not rails:
        return []
    found: list[Finding] = []
    for one in walk.machine.characteristics:
        if one.sort != "twist" or walk.state.reads.get(one.id) or one.id in walk.said_twists:
            continue
        if not any(walk.state.group(part) & set(one.of) for joint in rails for part in joint.parts):
            continue
        walk.said_twists.add(one.id)
        found.append(
            Finding(
                code="rails-before-twist",
                says=f"{rails[0].id} is screwed on before {one.id} was read.",
                joint=rails[0].id,
                step=event.step_id,
                remedy="On a flat table, with its joints snug, feel whether the frame rocks, and read "
                f"{one.id}; turn the frame a quarter: a gap that stays where it was is the table's.",
            )
        )
    return found


def _valid_reading(walk: Walk, joint: Joint) -> bool:
    """Whether the joint's characteristic was read while this joint was snug."""
    snug = max(
        (walk.state.tight_at.get((one.id, Tightness.SNUG), -1) for one in joint.fastenings), default=-1
    )
    if any(walk.state.tightness(one.id) < Tightness.SNUG for one in joint.fastenings):
        return False
    return any(at > snug for at in walk.state.reads.get(joint.align, ()))


def _tightening(walk: Walk, event: Event, level: Tightness) -> list[Finding]:
    found: list[Finding] = []
    for joint in event.joints:
        turned = [one for one in event.screws if one.joint == joint.id]
        was = [walk.state.tightness(one.id) for one in turned]
        unread = level is Tightness.FINAL and joint.align and turned and not _valid_reading(walk, joint)
        if unread and joint.id not in walk.said_unread:
            walk.said_unread.add(joint.id)
            found.append(
                Finding(
                    code="final-before-read",
                    says=f"{joint.id} is tightened before {joint.align} was read with it snug.",
                    joint=joint.id,
                    parts=joint.parts,
                    step=event.step_id,
                    remedy=f"Snug it, read {joint.align}, correct, then tighten."
                    + _reference_rail(walk, joint),
                )
            )
        if level < Tightness.FINAL and Tightness.FINAL in was and joint.align:
            found.append(
                Finding(
                    code="loosened-after-truing",
                    says=f"{joint.id} was final and true ({joint.align}); this step loosens it again.",
                    joint=joint.id,
                    parts=joint.parts,
                    step=event.step_id,
                    remedy=f"Read {joint.align} again before it is tightened, or do this step before truing.",
                )
            )
    if level is Tightness.FINAL:
        found += _gantry_rails(walk, event)
        found += _stated_order(event)
        found += _disturbed(walk, event)
    return found


def _reference_rail(walk: Walk, joint: Joint) -> str:
    """What is meant where a rail is tightened before the other of its pair is there to be read against: the
    reference rail goes first, and only the follower is aligned to it. "" for any other joint.

    Common practice, no source.
    """
    others = [
        other
        for other in walk.aligned[joint.align]
        if other.id != joint.id
        and other.recipe == joint.recipe == "rail-on-slot"
        and _level(walk, other) < Tightness.SNUG
    ]
    if not others:
        return ""
    return (
        f" If it is the reference rail, which goes on first: take align out of joint {joint.id}, or give it "
        f"a characteristic of its own (straight, or square to the frame), and leave align in {others[0].id}."
    )


def _gantry_rails(walk: Walk, event: Event) -> list[Finding]:
    """Two rails tied by one gantry: the second becomes final only after the gantry has run on both."""
    found: list[Finding] = []
    after = {one.id for one in event.screws}
    for first, second, tie in walk.tied_rails:
        rails = [walk.machine.joint[first], walk.machine.joint[second]]
        done = [
            all(one.id in after or walk.state.tightness(one.id) is Tightness.FINAL for one in rail.fastenings)
            for rail in rails
        ]
        before = [
            all(walk.state.tightness(one.id) is Tightness.FINAL for one in rail.fastenings) for rail in rails
        ]
        if not all(done) or all(before):
            continue
        if not _has_run(walk, tie):
            found.append(
                Finding(
                    code="rails-final-before-run",
                    says=f"Both rails {first} and {second} are final before the gantry that ties them "
                    "has run.",
                    joint=next(joint.id for joint in event.joints if joint.id in (first, second)),
                    step=event.step_id,
                    remedy="Leave the follower rail snug, tie the gantry, run it to both ends, then tighten.",
                )
            )
    return found


def _has_run(walk: Walk, tie: tuple[str, ...]) -> bool:
    """A free-motion reading was made with the tying joints at least snug."""
    snug = -1
    for name in tie:
        joint = walk.machine.joint[name]
        if _level(walk, joint) < Tightness.SNUG:
            return False
        snug = max(
            snug,
            *(
                min(
                    walk.state.tight_at.get((one.id, level), 10**9)
                    for level in (Tightness.SNUG, Tightness.FINAL)
                )
                for one in joint.fastenings
            ),
        )
    return any(
        at > snug
        for characteristic in walk.machine.characteristics
        if characteristic.sort == "free-motion"
        for at in walk.state.reads.get(characteristic.id, ())
    )


def _stated_order(event: Event) -> list[Finding]:
    """A stated tightening order of a rail: outwards from the middle, or end to end, and complete."""
    found: list[Finding] = []
    stated = event.action.order
    if not stated:
        return found
    for joint in event.joints:
        mine = tuple(name for name in stated if name.rpartition(".")[0] == joint.id)
        if not joint.from_centre or not mine:
            continue
        names = {one.id for one in joint.fastenings}
        missing = sorted(names - set(mine), key=lambda name: int(name.rpartition(".")[2]))
        if missing:
            found.append(
                Finding(
                    code="screws-left-out",
                    says=f"The stated order for {joint.id} leaves out {', '.join(missing[:4])}.",
                    joint=joint.id,
                    step=event.step_id,
                    value=float(len(missing)),
                    limit=0.0,
                    unit="pieces",
                )
            )
        elif not all(
            is_good_row(row, tuple(name for name in mine if name in row))
            for row in rows_of(joint.fastenings).values()
        ):
            found.append(
                Finding(
                    code="tightened-from-the-ends",
                    says=f"The stated order for {joint.id} begins {', '.join(mine[:3])}: not outwards from "
                    "the middle.",
                    joint=joint.id,
                    step=event.step_id,
                    remedy=f"Tighten {', '.join(centre_outwards(joint.fastenings))}.",
                )
            )
    return found


def _disturbed(walk: Walk, event: Event) -> list[Finding]:
    """A joint without a reading of its own, tightened between members that were already true to each
    other: it can pull them out again unless the characteristic is read afterwards."""
    found: list[Finding] = []
    for joint in event.joints:
        if joint.align or joint.belt is not None:
            continue
        members = walk.tied_members(joint)
        if len(members) < 2:
            continue
        for name, joints in walk.aligned.items():
            true = {part for other in joints for part in other.parts}
            finished = all(_level(walk, other) is Tightness.FINAL for other in joints)
            if finished and members <= true:
                walk.pending_rereads.setdefault(name, (event.at, joint.id))
    return found


def reread_findings(walk: Walk) -> list[Finding]:
    """What was true, then clamped anew by another joint, and never read again."""
    found: list[Finding] = []
    for name, (at, joint) in walk.pending_rereads.items():
        if not any(read > at for read in walk.state.reads.get(name, ())):
            found.append(
                Finding(
                    code="disturbed-after-truing",
                    says=f"{name} was true; {joint} then clamps its members anew and nobody reads it again.",
                    joint=joint,
                    step=walk.step_of(at),
                    remedy=f"Read {name} once more after this step.",
                )
            )
    return found


def _locking(walk: Walk, event: Event, level: Tightness) -> list[Finding]:
    found: list[Finding] = []
    used = [word for word in event.action.using if "threadlocker" in word.lower()]
    for joint in event.joints:
        early = bool(used) and level < Tightness.FINAL
        if early and joint.align and not _valid_reading(walk, joint):
            found.append(
                Finding(
                    code="locked-before-truing",
                    says=f"Threadlocker goes on {joint.id} before {joint.align} was read.",
                    joint=joint.id,
                    step=event.step_id,
                    remedy="Apply it after truing, one screw out at a time.",
                )
            )
        if (used or joint.locks) and level is not Tightness.STARTED:
            plastics = [part for part in joint.parts if _cracks(walk.machine.part[part].type.material)]
            if plastics and joint.id not in walk.said_cracks:
                walk.said_cracks.add(joint.id)
                found.append(
                    Finding(
                        code="threadlocker-cracks-plastic",
                        says=f"Threadlocker at {joint.id} touches {plastics[0]} "
                        f"({walk.machine.part[plastics[0]].type.material}), which it cracks.",
                        parts=tuple(plastics),
                        joint=joint.id,
                        step=event.step_id,
                        remedy="Use a nut that clamps its thread, or a patch screw, instead.",
                    )
                )
    return found


@cache
def _cracks(material: str) -> bool:
    words = material.replace("-", " ").replace("/", " ").split()
    return any(word.upper() == bad.upper() for word in words for bad in _CRACKS)


def left_snug(walk: Walk) -> list[Finding]:
    """At the end of the order: joints started or snug that nobody made final."""
    found: list[Finding] = []
    for joint in walk.machine.joints:
        if not joint.fastenings:
            continue
        loose = [one for one in joint.fastenings if walk.state.tightness(one.id) < Tightness.FINAL]
        if not loose:
            continue
        if all(walk.state.tightness(one.id) is Tightness.ABSENT for one in joint.fastenings):
            found.append(
                Finding(
                    code="joint-never-made",
                    says=f"No step makes {joint.id}.",
                    joint=joint.id,
                    parts=joint.parts,
                    remedy="Add start, snug and tighten where its parts are there.",
                )
            )
            continue
        worst = min(loose, key=lambda one: walk.state.tightness(one.id))
        level = walk.state.tightness(worst.id)
        at = max(
            (walk.state.tight_at.get((one.id, walk.state.tightness(one.id)), 0) for one in loose), default=0
        )
        found.append(
            Finding(
                code="left-snug",
                says=f"{joint.id}: {len(loose)} of {len(joint.fastenings)} screws are left "
                f"{ {0: 'out', 1: 'only started', 2: 'snug'}[int(level)] } at the end.",
                joint=joint.id,
                parts=joint.parts,
                step=walk.step_of(at),
                value=float(len(loose)),
                limit=0.0,
                unit="pieces",
                remedy="Add the matching tighten.",
            )
        )
    return found
