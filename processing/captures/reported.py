# SPDX-License-Identifier: GPL-2.0-or-later
"""What an instrument itself reports against its capture."""

from __future__ import annotations

from math import cos, radians

from .model import Capture, Remark

TILT_DEG = 1.15
"""Beyond this tilt a distance of 10 m is more than 2 mm too long: 10 m (1 - cos t)."""


def reported_remarks(capture: Capture) -> tuple[Remark, ...]:
    """Remarks about movement, tilt and compass as the header gives them; none when all is well or
    nothing is said."""
    remarks = []
    if capture.moved:
        sentence = (
            "The instrument was moved during this capture: measure it again; its readings do not "
            "belong to one set-up."
        )
        remarks.append(Remark("movement", sentence, again=True))
    if abs(capture.tilt_deg) > TILT_DEG:
        longer = 1e4 * (1.0 - cos(radians(capture.tilt_deg)))
        sentence = (
            f"The instrument stood tilted by {abs(capture.tilt_deg):g} deg: at 10 m a distance may "
            f"be {longer:.0f} mm too long. Level it and measure again."
        )
        remarks.append(Remark("level", sentence, again=True))
    if capture.compass_calibrated is False:
        sentence = "The compass was not calibrated: its bearing may be far off."
        remarks.append(Remark("compass", sentence))
    return tuple(remarks)


def reported_faults(capture: Capture) -> list[str]:
    """The sentences of `reported_remarks`."""
    return [remark.sentence for remark in reported_remarks(capture)]
