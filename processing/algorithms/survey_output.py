# SPDX-License-Identifier: GPL-2.0-or-later
"""What comes out of captures before they are adjusted: stations, readings and their report."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ..progress import Progress

if TYPE_CHECKING:
    from ..angles import Floats
    from ..captures.model import Survey


def recorded(
    survey: Survey,
    xy_m: Floats,
    orientation_rad: Floats,
    progress: Progress,
    title: str,
    place: Callable[[int, Floats], Floats] | None = None,
) -> tuple[dict[str, Any], str]:
    """The tables STATIONS and READINGS of captures whose stations are drawn at ``xy_m (S, 2)`` and
    turned by ``orientation_rad (S,)``, and the page of OUTPUT_HTML.

    `place` takes a network's number and metres to where they are drawn. What the report tells is
    told in the log too.
    """
    from ..angles import turn
    from ..captures.noise import with_noise
    from ..layers import rows
    from ..reports.capture_summary import capture_summary_html

    positions = [
        turn(capture.xy_m, float(orientation_rad[i])) + xy_m[i]
        for i, capture in enumerate(survey.captures)
    ]
    progress.at(0.3)
    # The layers keep what is said of the noise; the report tells what the readings show.
    told = replace(survey, warnings=with_noise(survey).warnings)
    for sentence in (*told.skipped, *told.warnings):
        progress.say(sentence)
    progress.at(0.6)
    tables = {
        "STATIONS": rows.recorded_stations(survey, xy_m, orientation_rad),
        "READINGS": rows.readings(survey, positions, [0] * len(survey)),
    }
    if place is not None:
        tables = {name: table.placed(place) for name, table in tables.items()}
    progress.at(1.0)
    return tables, capture_summary_html(told, title)
