"""Cable runs: from terminal to terminal along points and through what they pass. They have no solid."""

from __future__ import annotations

import numpy as np

from trysquare.catalogue.values import Wire
from trysquare.machine.recipes.builder import JointBuilder
from trysquare.machine.values import CableRun


def cable_run(joint: JointBuilder) -> None:
    """Length along the path and everything a wiring table needs."""
    wire = joint.standard_of("wire", Wire, "a wire such as wire AWG 20 or wire 0.5 mm2")
    begin = joint.scene.point(joint.raw.get("from", ""), joint.unit, joint.where("from"))
    end = joint.scene.point(joint.raw.get("to", ""), joint.unit, joint.where("to"))
    if wire is None or begin is None or end is None:
        return
    passed = []
    openings = []
    for word in joint.raw.get("through", ()):
        if ":" in word:
            holes = joint.scene.holes(word, joint.unit, joint.where("through"))
            if holes is not None:
                passed.append(holes[0])
                openings.append(holes[1][0].diameter_mm)
        elif (found := joint.scene.find(word, joint.unit, joint.where("through"))) is not None:
            passed.append(found)
            openings.append(0.0)
    frame = joint.scene.unit_placement[joint.unit]
    via = [frame.point(point) for point in joint.raw.get("via_mm", ())]
    points = np.array([begin[1], *via, end[1]])
    length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    joint.joins(begin[0], end[0], *passed)
    joint.cable = CableRun(
        joint=joint.id,
        wire=wire.designation,
        cores=joint.raw["cores"],
        label=joint.raw["label"],
        from_terminal=joint.raw["from"],
        to_terminal=joint.raw["to"],
        ampere=joint.raw["ampere"],
        volt=joint.raw["volt"],
        length_mm=length + joint.raw.get("slack_mm", 0.0),
        points_mm=tuple((float(x), float(y), float(z)) for x, y, z in points),
        through=tuple(part.id for part in passed),
        openings_mm=tuple(openings),
        plug_mm=joint.raw.get("plug_mm", 0.0),
        role=joint.raw["role"],
        fuse_ampere=joint.raw.get("fuse_ampere", 0.0),
        contact_ampere=joint.raw.get("contact_ampere", 0.0),
        pins=tuple(joint.raw.get("pins", ())),
        pins_seen=joint.raw.get("pins_seen", "wire side"),
        to_pins=tuple(joint.raw.get("to_pins", ())),
        to_pins_seen=joint.raw.get("to_pins_seen", "wire side"),
        from_part=begin[0].id,
        to_part=end[0].id,
    )
