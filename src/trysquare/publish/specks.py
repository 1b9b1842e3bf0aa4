"""Small pieces that a small picture leaves out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from trysquare.ground.placement import Array
from trysquare.publish.step_shown import StepScene
from trysquare.solid.drawing import Scene

SPECK_MM = 1.3  # of the picture
NEAR_MM = 45.0  # of the machine, as it is seen


def without_specks(scene: StepScene, boxes: Mapping[str, Array], scale: float) -> StepScene:
    """The scene without small pieces that are there already, far from all that comes: at this scale each is
    a speck, and hundreds of them cost most of the time."""
    new = np.array([boxes[name] for name in scene.new if name in boxes]).reshape(-1, 2, 2)
    strong = set(scene.new) | set(scene.reads.values())
    kept = []
    for piece in scene.scene.pieces:
        box = boxes.get(piece.id)
        if piece.id in strong or box is None or float((box[1] - box[0]).max()) * scale >= SPECK_MM:
            kept.append(piece)
            continue
        apart = np.maximum(new[:, 0] - box[1], box[0] - new[:, 1]).max(axis=1, initial=-np.inf)
        if len(new) and float(apart.min()) < NEAR_MM:
            kept.append(piece)
    return replace(scene, scene=Scene(tuple(kept)))
