# SPDX-License-Identifier: GPL-2.0-or-later
"""What an instrument itself reports against its capture."""

from __future__ import annotations

from math import cos, radians, sin

from .instrument_errors import stated_errors, told
from .model import Capture, Remark

TILT_DEG = 1.15
"""Beyond this tilt a distance of 10 m is more than 2 mm too long: 10 m (1 - cos t)."""


def reported_remarks(capture: Capture) -> tuple[Remark, ...]:
    """Remarks about tilt, compass and errors of the instrument as the header gives them; none when
    all is well or nothing is said. (What it says of movement is held against the readings:
    `movement`.)"""
    remarks = []
    if abs(capture.tilt_deg) > TILT_DEG:
        tilt = radians(abs(capture.tilt_deg))
        sentence = (
            f"The instrument stood tilted by {abs(capture.tilt_deg):g} deg: at 10 m a distance may "
            f"be {1e4 * (1.0 - cos(tilt)):.0f} mm too long, and the beam is up to "
            f"{10.0 * sin(tilt):.2f} m off the height of the cut. Level it and measure again."
        )
        remarks.append(Remark("level", sentence, again=True))
    if capture.compass_calibrated is False:
        sentence = "The compass was not calibrated: its bearing may be far off."
        remarks.append(Remark("compass", sentence))
    if phrases := told(stated_errors(capture)):
        sentence = f"The readings were freed of what the file states: {', '.join(phrases)}."
        remarks.append(Remark("instrument", sentence))
    return tuple(remarks)
