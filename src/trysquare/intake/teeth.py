"""Teeth of a pulley that has them drawn: the grooves round its running surface, counted."""

from __future__ import annotations

import math

import numpy as np

from trysquare.intake.recognise_turned import SAME_MM, Round, Turned

LEAST_TEETH = 8
DEEP_MM = 0.3  # a groove is deeper, a chamfer or a drawing's slip is not
DEEPEST_RATIO = 0.3  # of the radius
UNEVEN = 0.2  # gaps between grooves differ by less than this share


def teeth_counted(view: Turned, running: Round) -> int:
    """How many grooves stand evenly round a running surface; 0 when it is plain or they are uneven.

    Points that lie deeper than the surface are put in order round the axis; the gaps between their
    clusters are the tips of the teeth.
    """
    points = view.points_mm
    within = (points[:, 2] > running.low_mm - SAME_MM) & (points[:, 2] < running.high_mm + SAME_MM)
    reach = np.hypot(points[:, 0], points[:, 1])
    deep = within & (reach < running.radius_mm - DEEP_MM) & (reach > running.radius_mm * (1 - DEEPEST_RATIO))
    if int(deep.sum()) < LEAST_TEETH:
        return 0
    angles = np.sort(np.arctan2(points[deep, 1], points[deep, 0]))
    gaps = np.diff(np.append(angles, angles[0] + 2 * math.pi))
    tips = gaps[gaps > gaps.max() / 2]
    uneven = float(np.ptp(tips)) > UNEVEN * float(tips.max())
    return 0 if len(tips) < LEAST_TEETH or uneven else len(tips)
