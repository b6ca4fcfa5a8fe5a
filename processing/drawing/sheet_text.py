# SPDX-License-Identifier: GPL-2.0-or-later
"""The words of a sheet: title block, area schedule, notes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..words import word
from .contents import PlanContents
from .notes import cautions, site_accuracy, station_accuracy, survey_dates, wall_accuracy
from .sheet import Need, Paper

LONGEST_NAME = 24


def storey(level: int) -> str:
    """A storey's words."""
    return word("Level 0 (ground)") if level == 0 else word("Level {level}", level=level)


def title_fields(
    contents: PlanContents, level: int, plot_scale: int, paper: Paper, number: int, of: int
) -> list[tuple[str, str]]:
    """Names and values of the title block, by the data fields of ISO 7200: title, document type,
    date, sheet, and for a plan the scale, storey and coordinate system."""
    sheet = (
        word("{size} landscape", size=paper.size)
        if paper.landscape
        else word("{size} portrait", size=paper.size)
    )
    return [
        (word("Title"), contents.job),
        (word("Document type"), word("Plan of existing interior")),
        (word("Storey"), storey(level)),
        (word("Scale"), word("1:{scale} (ground) on {paper}", scale=plot_scale, paper=sheet)),
        (word("Date of survey"), survey_dates(contents) or word("not recorded")),
        (
            word("Coordinate system"),
            contents.crs if contents.site else word("plan coordinates (local)"),
        ),
        (word("Sheet"), f"{number}/{of}"),
    ]


@dataclass(frozen=True)
class Schedule:
    """Rows (name, area) of the rooms of a storey, and the sum."""

    rows: tuple[tuple[str, str], ...]
    total: str


def area_schedule(contents: PlanContents, level: int, plot_scale: int) -> Schedule:
    """Areas in square metres on the ground with their standard errors, by name."""
    rooms = contents.rooms.where(level=level, plot_scale=plot_scale)
    rows, total = [], 0.0
    columns = (rooms.column(name) for name in ("name", "area_m2", "sigma_area_m2"))
    for name, area, sigma in sorted(zip(*columns), key=lambda row: str(row[0] or "")):
        words = str(name or word("unnamed"))
        short = words if len(words) <= LONGEST_NAME else words[: LONGEST_NAME - 1] + "…"
        error = f" ± {sigma:.3f}" if sigma is not None else ""
        rows.append((short, word("not known") if area is None else f"{area:.2f}{error}"))
        total += area or 0.0
    return Schedule(tuple(rows), f"{total:.2f}")


def notes(contents: PlanContents, level: int, plot_scale: int) -> str:
    """Accuracy, datum and cautions, a paragraph each."""
    grid = ""
    if contents.site is not None and abs(contents.units_per_m - 1.0) > 1e-7:
        grid = word(
            "Drawn at ground scale: a ground distance is its grid distance divided by the combined "
            "scale factor {factor:.6f}.",
            factor=contents.units_per_m,
        )
    return "\n".join(
        line
        for line in (
            word("Accuracy. {sentence}", sentence=station_accuracy(contents)),
            wall_accuracy(contents, plot_scale, level),
            word("Datum. {sentence}", sentence=site_accuracy(contents.site, contents.crs)),
            grid,
            word(
                "Ellipses at stations: 95 %, drawn 100 times too large. Dashed: seen by no reading."
            ),
            word(
                "Areas are between wall faces at the instrument's height; ± is one standard error."
            ),
            *(word("Caution. {sentence}", sentence=caution) for caution in cautions()),
        )
        if line
    )


def storey_frame(
    contents: PlanContents, level: int, plot_scale: int
) -> tuple[tuple[float, float], Need] | None:
    """The middle of a storey in drawing coordinates and what it needs on paper, measured along the
    plan's axes; None where nothing is drawn there."""
    shapes = [
        *contents.rooms.where(level=level, plot_scale=plot_scale).geometry,
        *contents.wall_faces.where(level=level, plot_scale=plot_scale).geometry,
        *contents.stations.where(level=level).geometry,
        *contents.targets.where(level=level, role="control").geometry,
    ]
    shapes = [shape for shape in shapes if shape is not None]
    if not shapes:
        return None
    xy = shapely.get_coordinates(np.array(shapes, dtype=object))
    turn = np.radians(contents.axis_deg)
    axes = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    low, high = (xy @ axes.T).min(axis=0), (xy @ axes.T).max(axis=0)
    middle = (low + high) / 2 @ axes
    width, height = (high - low) / contents.units_per_m
    rooms = len(contents.rooms.where(level=level, plot_scale=plot_scale))
    return (float(middle[0]), float(middle[1])), Need(level, float(width), float(height), rooms)
