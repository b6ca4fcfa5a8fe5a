# SPDX-License-Identifier: GPL-2.0-or-later
"""What a sheet or a drawing says about itself: dates, accuracy, datum, cautions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from .contents import PlanContents, SiteAccuracy

CAUTIONS = (
    "Not a structural or boundary document: defer to local codes and a licensed surveyor.",
    "Laser safety: observe the class on the instrument's own label.",
)


def survey_dates(contents: PlanContents) -> str:
    """The day of the captures, or the first and the last; empty where no capture tells."""
    days = sorted({str(t)[:10] for t in contents.stations.column("captured_at") if t})
    if not days:
        return ""
    return days[0] if len(days) == 1 else f"{days[0]} to {days[-1]}"


def station_accuracy(contents: PlanContents) -> str:
    """The stations' standard errors in one sentence."""
    count = len(contents.stations)
    status = list(contents.stations.column("status"))
    apart = sum(word == "unconnected" for word in status)
    largest = _largest(contents.stations.column("sigma_x_mm"))
    other = _largest(contents.stations.column("sigma_y_mm"))
    turned = _largest(contents.stations.column("sigma_orientation_deg"))
    sentence = f"{count} station{'' if count == 1 else 's'}"
    if largest is None or other is None:
        sentence += ", standard errors not known."
    else:
        sentence += (
            f"; largest standard error of a station (1 sigma) {max(largest, other):.1f} mm"
            + (f", of an orientation {turned:.3f} deg" if turned is not None else "")
            + ", relative to the datum of the network."
        )
    if apart:
        sentence += (
            f" {apart} without a tie, sketched by compass and geotag: do not scale from there."
        )
    return sentence


def wall_accuracy(contents: PlanContents, plot_scale: int, level: int | None = None) -> str:
    """How far faces lie from their readings at a plot scale, and the tolerance (0.25 mm on paper,
    common practice)."""
    walls = contents.wall_faces.where(plot_scale=plot_scale)
    if level is not None:
        walls = walls.where(level=level)
    rms = _largest(walls.column("rms_mm"))
    tolerance = 0.25 * plot_scale
    sentence = f"Walls generalised for 1:{plot_scale}, tolerance {tolerance:g} mm on the building"
    return sentence + (f"; largest RMS of a face {rms:.1f} mm." if rms is not None else ".")


def site_accuracy(site: SiteAccuracy | None, crs: str, local: bool = False) -> str:
    """Where the plan lies, and how well."""
    if site is None:
        return "Plan coordinates (local, metres); not georeferenced."
    sentence = (
        f"Drawn in plan coordinates (local, metres); georeferenced in {crs}."
        if local
        else f"Coordinates in {crs}."
    )
    if math.isfinite(site.sigma_east_m):
        sentence += (
            f" Site fit (1 sigma): east {site.sigma_east_m:.3f} m, north {site.sigma_north_m:.3f} m"
        )
        if math.isfinite(site.sigma_rotation_deg):
            sentence += f", rotation {site.sigma_rotation_deg:.3f} deg"
        sentence += "."
    elif math.isfinite(site.sigma_rotation_deg):
        sentence += f" Site fit (1 sigma): rotation {site.sigma_rotation_deg:.3f} deg."
    else:
        sentence += " The accuracy of the site fit is in the survey report."
    return sentence + (f" {site.decided_by}" if site.decided_by else "")


def drawing_notes(contents: PlanContents, plot_scales: Sequence[int]) -> list[str]:
    """The lines of the survey note of a drawing."""
    dates = survey_dates(contents)
    return [
        contents.job,
        f"Surveyed: {dates}" if dates else "Surveyed: date not recorded",
        station_accuracy(contents),
        *(wall_accuracy(contents, scale) for scale in plot_scales),
        site_accuracy(contents.site, contents.crs, contents.local),
        *CAUTIONS,
    ]


def _largest(values: Sequence[Any]) -> float | None:
    found = [float(v) for v in values if v is not None and math.isfinite(float(v))]
    return max(found, default=None)
