# SPDX-License-Identifier: GPL-2.0-or-later
"""What comes out of captures before they are adjusted: stations, readings and their report."""

from __future__ import annotations

from collections.abc import Callable, Iterator
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
) -> tuple[dict[str, Any], Iterator[str]]:
    """The tables STATIONS and READINGS of captures whose stations are drawn at ``xy_m (S, 2)`` and
    turned by ``orientation_rad (S,)``, and the page of OUTPUT_HTML, both made as they are written.

    `place` takes a network's number and metres to where they are drawn. What the report tells is
    told in the log too.
    """
    from ..captures.noise import NoiseEstimate, noise_warnings
    from ..captures.spool import in_memory
    from ..layers import rows
    from ..reports.capture_summary import capture_summary_parts

    # The layers keep what is said of the noise; the report tells what the readings show.
    noise = NoiseEstimate()
    for capture in progress.over(survey.captures):
        noise.add(in_memory(capture))
    warnings = (*survey.warnings, *noise_warnings(survey.names, noise.result()))
    told = replace(survey, warnings=warnings)
    for sentence in (*told.skipped, *told.warnings):
        progress.say(sentence)
    tables: dict[str, Any] = {
        "STATIONS": rows.recorded_stations(survey, xy_m, orientation_rad),
        "READINGS": rows.recorded_readings(survey, xy_m, orientation_rad),
    }
    if place is not None:
        tables = {name: table.placed(place) for name, table in tables.items()}
    progress.at(1.0)
    return tables, capture_summary_parts(told, title)
