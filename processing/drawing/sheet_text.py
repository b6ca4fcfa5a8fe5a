# SPDX-License-Identifier: GPL-2.0-or-later
"""The words of a sheet: title block, area schedule, notes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from .contents import PlanContents
from .notes import CAUTIONS, site_accuracy, station_accuracy, survey_dates, wall_accuracy
from .sheet import Need, Paper

LONGEST_NAME = 24


def storey(level: int) -> str:
    """A storey's words."""
    return f"Level {level}" + (" (ground)" if level == 0 else "")


def title_fields(
    contents: PlanContents, level: int, plot_scale: int, paper: Paper, number: int, of: int
) -> list[tuple[str, str]]:
    """Names and values of the title block, by the data fields of ISO 7200: title, document type,
    date, sheet, and for a plan the scale, storey and coordinate system."""
    return [
        ("Title", contents.job),
        ("Document type", "Plan of existing interior"),
        ("Storey", storey(level)),
        ("Scale", f"1:{plot_scale} (ground) on {paper.name}"),
        ("Date of survey", survey_dates(contents) or "not recorded"),
        ("Coordinate system", contents.crs if contents.site else "plan coordinates (local)"),
        ("Sheet", f"{number}/{of}"),
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
        words = str(name or "unnamed")
        short = words if len(words) <= LONGEST_NAME else words[: LONGEST_NAME - 1] + "…"
        error = f" ± {sigma:.3f}" if sigma is not None else ""
        rows.append((short, "not known" if area is None else f"{area:.2f}{error}"))
        total += area or 0.0
    return Schedule(tuple(rows), f"{total:.2f}")


def notes(contents: PlanContents, level: int, plot_scale: int) -> str:
    """Accuracy, datum and cautions, a paragraph each."""
    grid = ""
    if contents.site is not None and abs(contents.units_per_m - 1.0) > 1e-7:
        grid = (
            f"Drawn at ground scale: a ground distance is its grid distance divided by the "
            f"combined scale factor {contents.units_per_m:.6f}."
        )
    return "\n".join(
        line
        for line in (
            f"Accuracy. {station_accuracy(contents)}",
            wall_accuracy(contents, plot_scale, level),
            f"Datum. {site_accuracy(contents.site, contents.crs)}",
            grid,
            "Ellipses at stations: 95 %, drawn 100 times too large. Dashed: seen by no reading.",
            "Areas are between wall faces at the instrument's height; ± is one standard error.",
            *(f"Caution. {caution}" for caution in CAUTIONS),
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
