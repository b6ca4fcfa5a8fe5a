# SPDX-License-Identifier: GPL-2.0-or-later
"""What a sheet or a drawing says about itself: dates, accuracy, datum, cautions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from ..words import word
from .contents import PlanContents, SiteAccuracy


def cautions() -> tuple[str, ...]:
    """What every plan must say."""
    return (
        word(
            "Not a structural or boundary document: defer to local codes and a licensed surveyor."
        ),
        word("Laser safety: observe the class on the instrument's own label."),
    )


def survey_dates(contents: PlanContents) -> str:
    """The day of the captures, or the first and the last; empty where no capture tells."""
    days = sorted({str(t)[:10] for t in contents.stations.column("captured_at") if t})
    if not days:
        return ""
    return days[0] if len(days) == 1 else word("{first} to {last}", first=days[0], last=days[-1])


def station_accuracy(contents: PlanContents) -> str:
    """The stations' standard errors in one sentence."""
    count = len(contents.stations)
    status = list(contents.stations.column("status"))
    apart = status.count("unconnected")
    largest = _largest(contents.stations.column("sigma_x_mm"))
    other = _largest(contents.stations.column("sigma_y_mm"))
    turned = _largest(contents.stations.column("sigma_orientation_deg"))
    stations = word("1 station") if count == 1 else word("{count} stations", count=count)
    if largest is None or other is None:
        sentence = word("{stations}, standard errors not known.", stations=stations)
    elif turned is None:
        sentence = word(
            "{stations}; largest standard error of a station (1 sigma) {error:.1f} mm, relative to "
            "the datum of the network.",
            stations=stations,
            error=max(largest, other),
        )
    else:
        sentence = word(
            "{stations}; largest standard error of a station (1 sigma) {error:.1f} mm, of an "
            "orientation {turned:.3f} deg, relative to the datum of the network.",
            stations=stations,
            error=max(largest, other),
            turned=turned,
        )
    if apart:
        sentence += " " + word(
            "{count} without a tie, sketched by compass and geotag: do not scale from there.",
            count=apart,
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
    if rms is None:
        return word(
            "Walls generalised for 1:{scale}, tolerance {tolerance:g} mm on the building.",
            scale=plot_scale,
            tolerance=tolerance,
        )
    return word(
        "Walls generalised for 1:{scale}, tolerance {tolerance:g} mm on the building; largest RMS "
        "of a face {rms:.1f} mm.",
        scale=plot_scale,
        tolerance=tolerance,
        rms=rms,
    )


def site_accuracy(site: SiteAccuracy | None, crs: str, local: bool = False) -> str:
    """Where the plan lies, and how well."""
    if site is None:
        return word("Plan coordinates (local, metres); not georeferenced.")
    place = (
        word("Drawn in plan coordinates (local, metres); georeferenced in {crs}.", crs=crs)
        if local
        else word("Coordinates in {crs}.", crs=crs)
    )
    return " ".join(part for part in (place, _fit_accuracy(site), site.decided_by) if part)


def _fit_accuracy(site: SiteAccuracy) -> str:
    placed, turned = math.isfinite(site.sigma_east_m), math.isfinite(site.sigma_rotation_deg)
    if placed and turned:
        return word(
            "Site fit (1 sigma): east {east:.3f} m, north {north:.3f} m, rotation {turn:.3f} deg.",
            east=site.sigma_east_m,
            north=site.sigma_north_m,
            turn=site.sigma_rotation_deg,
        )
    if placed:
        return word(
            "Site fit (1 sigma): east {east:.3f} m, north {north:.3f} m.",
            east=site.sigma_east_m,
            north=site.sigma_north_m,
        )
    if turned:
        return word("Site fit (1 sigma): rotation {turn:.3f} deg.", turn=site.sigma_rotation_deg)
    return word("The accuracy of the site fit is in the survey report.")


def drawing_notes(contents: PlanContents, plot_scales: Sequence[int]) -> list[str]:
    """The lines of the survey note of a drawing."""
    dates = survey_dates(contents)
    return [
        contents.job,
        word("Surveyed: {dates}", dates=dates) if dates else word("Surveyed: date not recorded"),
        station_accuracy(contents),
        *(wall_accuracy(contents, scale) for scale in plot_scales),
        site_accuracy(contents.site, contents.crs, contents.local),
        *cautions(),
    ]


def _largest(values: Sequence[Any]) -> float | None:
    found = [float(v) for v in values if v is not None and math.isfinite(float(v))]
    return max(found, default=None)
