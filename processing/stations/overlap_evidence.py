# SPDX-License-Identifier: GPL-2.0-or-later
"""What poses of one capture in another's frame are worth, by all that both measured."""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from .overlap import Agreement, Readings, View, agreement, readings_agree
from .overlap_refine import Refined

READINGS_WEIGHT_M = 10.0
"""Readings that all agree are worth this many metres of face."""

VERTEX_WEIGHT_M = 0.3
"""What an end of a face that both captures see is worth."""

THROUGH_SHARE, UNFIT_SHARE, SOUND_POWER = 1.1, 5.8, 4.4
"""What speaks against a pose takes e-folds of its worth: metres measured through, and the share of
readings that lie near what the other capture sees but not on it; and a power of the share of sound
readings. These are the weights of a conditional logit of the right pose among the others, on
simulated pairs; the worth itself goes into its odds with the power of 6.5."""


def rough_evidence(
    first: View, second: View, pose: Floats, tolerance_m: float
) -> tuple[Floats, Agreement, Readings]:
    """What approximate poses ``(H, 3)`` are worth, in metres, and why."""
    judged = agreement(first, second, pose, tolerance_m, np.radians(4.0))
    said = readings_agree(first, second, pose, tolerance_m)
    return said.sound**3 * (judged.score_m + READINGS_WEIGHT_M * said.shared), judged, said


def evidence(first: View, second: View, refined: Refined) -> tuple[Floats, Agreement, Readings]:
    """What refined poses ``(H, 3)`` are worth, in metres, and why.

    What agrees to the captures' noise counts by its length; what the other station measured
    through, and readings that lie near what it sees but not on it, take shares of that. The
    weights are those of a conditional logit of the right pose among the others, on simulated pairs.
    """
    sharp, wide = sharp_m(first, second), tolerance_m(first, second)
    judged = agreement(first, second, refined.pose, sharp, np.radians(2.0))
    said = readings_agree(first, second, refined.pose, sharp)
    touched = readings_agree(first, second, refined.pose, wide).contact
    agreed = judged.agreed_m + READINGS_WEIGHT_M * said.shared + VERTEX_WEIGHT_M * refined.vertices
    against = THROUGH_SHARE * judged.through_m + UNFIT_SHARE * np.maximum(touched - said.shared, 0)
    return agreed * said.sound**SOUND_POWER * np.exp(-against), judged, said


def sharp_m(first: View, second: View) -> float:
    """How near two faces lie that are one once the pose is refined."""
    return 0.0065 + 3.0 * float(np.hypot(first.noise_m, second.noise_m))


def tolerance_m(first: View, second: View) -> float:
    """How near two faces lie that are one, by the captures' noise."""
    return 0.03 + 3.0 * float(np.hypot(first.noise_m, second.noise_m))
