# SPDX-License-Identifier: GPL-2.0-or-later
"""What a report says of the instrument's systematic errors."""

from __future__ import annotations

import numpy as np

from ..captures.instrument_errors import (
    REACH_M,
    InstrumentErrors,
    effects,
    stated_errors,
    told,
)
from ..captures.model import Survey
from ..stations.model import Network
from ..stations.systematics import describe
from .html import Markup, bullets, paragraph, table

ROUNDING = 1e-9


def instrument_html(survey: Survey, network: Network) -> list[Markup]:
    """What the readings say about the instrument, and what they were freed of."""
    if network.systematics is None:
        looked = paragraph("Systematic errors of the instrument were not looked for.")
        return [*_stated(survey, network), looked]
    parts = [
        paragraph(
            "All captures are taken as one instrument's. What walls, targets and poses cannot take "
            "up tells its systematic errors (standard errors 1 sigma):"
        ),
        bullets(describe(network.systematics)),
    ]
    if network.corrected is not None:
        rows = [
            (name, value, effect)
            for name, value, effect in effects(network.corrected.vector)
            if not value.startswith(("0.00 mm", "0 ppm"))
        ]
        headers = ("Corrected", "Value", f"Effect at {REACH_M:g} m")
        parts.insert(0, table(headers, rows, (1,), "Taken out of all readings"))
    return [*_stated(survey, network), *parts]


def _stated(survey: Survey, network: Network) -> list[Markup]:
    """What the capture files state of the instrument, and were freed of at import."""
    found = np.zeros(3) if network.corrected is None else network.corrected.vector
    stations: dict[str, list[str]] = {}
    for capture in survey.captures:
        errors = stated_errors(capture)
        rest = np.array([errors.zero_m, errors.eccentricity_m, errors.angle_scale]) - found
        rest[np.abs(rest) < ROUNDING] = 0.0
        if phrases := told(InstrumentErrors(*rest.tolist())):
            stations.setdefault(", ".join(phrases), []).append(capture.station)
    return [
        paragraph(f"Given in the capture files and taken out, {', '.join(names)}: {text}.")
        for text, names in stations.items()
    ]
