"""What a step says of itself beside its paper's words: what only the eye or a count at the bench can tell."""

from __future__ import annotations

from collections.abc import Sequence

from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.values import BeltSize, Head, RailSize
from trysquare.machine.recipes.rail_ends import ends_words
from trysquare.machine.values import BeltRun, Joint, Machine, Step
from trysquare.sequence.state import Event

_TURNING = ("start", "snug", "tighten")


def bench_words(machine: Machine, step: Step, event: Event) -> list[str]:
    """Sentences for one action: rails that fit one way only, grub screws on their flat, teeth of belts."""
    return [*_rail_ends(step, event), *_grubs(machine, step, event), *_teeth(machine, step, event)]


def _name(identity: str, unit: str) -> str:
    return identity.removeprefix(f"{unit}/") if unit else identity


def _rail_ends(step: Step, event: Event) -> list[str]:
    """For each rail placed that would miss its nuts end for end: which end goes where, and how to tell."""
    if event.action.verb != "place":
        return []
    found = []
    for piece in event.pieces:
        size = piece.type.standard
        if isinstance(size, RailSize) and size.turned_off_mm:
            words = ends_words(piece, size)
            found.append(
                f"{_name(piece.id, step.unit)}: {words}; it is the only thing that tells the ends apart: "
                "measure it."
            )
    return found


def _grubs(machine: Machine, step: Step, event: Event) -> list[str]:
    """Where grub screws meet a shaft with a flat: told once, when they are first turned in the step."""
    first = next((verb for verb in _TURNING if any(one.verb == verb for one in step.actions)), "")
    if not first or event.action.verb != first:
        return []
    joints = dict.fromkeys(
        machine.joint[one.joint]
        for one in event.screws
        if one.screw_type.head is Head.NONE and machine.joint[one.joint].recipe == "shaft-and-coupling"
    )
    names = [_name(joint.parts[1], step.unit) for joint in joints if _has_flat(machine, joint)]
    if not names:
        return []
    told = ", ".join(names)
    return [f"{told}: the first grub screw on the flat: turn the shaft until you see it through the hole."]


def _has_flat(machine: Machine, joint: Joint) -> bool:
    shafts = machine.part[joint.parts[0]].type.shafts
    return bool(shafts) and all(shaft.flat for shaft in shafts)


def _teeth(machine: Machine, step: Step, event: Event) -> list[str]:
    """How many teeth each open belt has between its clamps, where it is laid."""
    if event.action.verb != "route":
        return []
    runs = [joint.belt for joint in event.joints if joint.belt is not None and not joint.belt.closed]
    if not runs:
        return []
    counts = {run.joint: teeth_between_clamps(machine, run) for run in runs}
    told = ", ".join(f"{_name(name, step.unit)} {count}" for name, count in counts.items())
    said = [f"Count the teeth from clamp to clamp before the belt goes in: {told}."]
    for one, two in _pairs(machine, runs):
        names = f"{_name(one, step.unit)} and {_name(two, step.unit)}"
        said.append(
            f"{names} are a pair: the same count in both, for one tooth is {_pitch_mm(machine, one):g} mm of "
            "racking."
        )
    return said


def teeth_between_clamps(machine: Machine, run: BeltRun) -> int:
    """Teeth of a belt from clamp to clamp as drawn, to the whole tooth; a pair that may be equal, by `check`
    less than half a tooth apart, has one count."""
    other = _other(machine, run)
    both = (run.teeth + other.teeth) / 2 if other is not None and abs(run.teeth - other.teeth) < 0.5 else 0.0
    return round(both or run.teeth)


def _other(machine: Machine, run: BeltRun) -> BeltRun | None:
    """The belt that must be as long, whichever of the two names the other."""
    for joint in machine.joints:
        belt = joint.belt
        if belt is not None and (run.equal_to == joint.id or belt.equal_to == run.joint):
            return belt
    return None


def _pairs(machine: Machine, runs: Sequence[BeltRun]) -> list[tuple[str, str]]:
    """Each pair of equal belts of which at least one is laid, once, in their order."""
    found: dict[frozenset[str], tuple[str, str]] = {}
    for run in runs:
        other = _other(machine, run)
        if other is not None:
            found.setdefault(frozenset({run.joint, other.joint}), (run.joint, other.joint))
    return list(found.values())


def _pitch_mm(machine: Machine, joint: str) -> float:
    run = machine.joint[joint].belt
    size = lookup(run.belt) if run is not None else None
    return size.pitch_mm if isinstance(size, BeltSize) else 2.0
