"""Where a machine's bed is adjusted: its screws through springs, in the coordinates of the bed's map."""

from __future__ import annotations

from dataclasses import dataclass

from trysquare.machine.values import Fastening, Joint, Machine
from trysquare.tuning.surface import Screw

UPRIGHT = 0.99  # cosine of a screw's axis to z: a bed's screws stand
_SOFT = ("spring", "silicone")  # words of what lets a screw adjust instead of clamp


@dataclass(frozen=True, slots=True, kw_only=True)
class BedScrews:
    """The screws; `origin_mm` is the machine's x, y where the map has 0, 0; `from_words` tells its basis."""

    screws: tuple[Screw, ...]
    origin_mm: tuple[float, float]
    from_words: str


def bed_screws(machine: Machine, origin_mm: tuple[float, float] | None = None) -> BedScrews | None:
    """None when the machine has no upright screws through springs, or nothing says where the map's zero is.

    Without `origin_mm` the map counts the tool's travel: its zero is where the nozzle (or the tool) stands
    with x and y at 0.
    """
    joints = [(joint, fastening) for joint in machine.joints for fastening in _adjusting(machine, joint)]
    if not joints:
        return None
    basis = "as given"
    if origin_mm is None:
        found = _tool_zero(machine)
        if found is None:
            return None
        origin_mm, basis = found
    screws = tuple(
        Screw(
            name=joint.id.rpartition("/")[2],
            x_mm=round(fastening.head_mm[0] - origin_mm[0], 3),
            y_mm=round(fastening.head_mm[1] - origin_mm[1], 3),
            pitch_mm=fastening.screw_type.thread.pitch_mm,
        )
        for joint, fastening in joints
    )
    return BedScrews(
        screws=screws, origin_mm=origin_mm, from_words=f"{machine.name}'s, the map's zero by {basis}"
    )


def _adjusting(machine: Machine, joint: Joint) -> list[Fastening]:
    """The joint's upright screws, if it holds a spring; else none."""
    soft = False
    for word in joint.parts:
        part = machine.part.get(word)
        if part is not None:
            said = f"{part.type.id} {part.type.name} {part.type.material}".casefold()
            soft = soft or any(each in said for each in _SOFT)
    return [one for one in joint.fastenings if soft and abs(one.axis[2]) > UPRIGHT]


def _tool_zero(machine: Machine) -> tuple[tuple[float, float], str] | None:
    axes = {axis.id: axis for axis in machine.axes}
    if not {"x", "y"} <= set(axes):
        return None
    both = set(axes["x"].moves) & set(axes["y"].moves)
    for word in ("nozzle", "tool", "probe"):
        near = sorted(one for one in both if one.rpartition("/")[2] == word)
        if near:
            x, y, _ = machine.part[near[0]].placement.origin_mm.tolist()
            return (x - axes["x"].at_mm, y - axes["y"].at_mm), f"{near[0]} with x and y at 0"
    return None
