# SPDX-License-Identifier: GPL-2.0-or-later
"""What an instrument itself reports against its capture."""

from __future__ import annotations

from math import cos, radians

from .model import Capture

TILT_DEG = 1.15
"""Beyond this tilt a distance of 10 m is more than 2 mm too long: 10 m (1 - cos t)."""


def reported_faults(capture: Capture) -> list[str]:
    """Sentences about movement, tilt and compass as the header gives them; none when all is well
    or nothing is said."""
    sentences = []
    if capture.moved:
        sentences.append(
            "The instrument was moved during this capture: measure it again; its readings do not "
            "belong to one set-up."
        )
    if abs(capture.tilt_deg) > TILT_DEG:
        longer = 1e4 * (1.0 - cos(radians(capture.tilt_deg)))
        sentences.append(
            f"The instrument stood tilted by {abs(capture.tilt_deg):g} deg: at 10 m a distance may "
            f"be {longer:.0f} mm too long. Level it and measure again."
        )
    if capture.compass_calibrated is False:
        sentences.append("The compass was not calibrated: its bearing may be far off.")
    return sentences
