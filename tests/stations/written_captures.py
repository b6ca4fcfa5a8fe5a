# SPDX-License-Identifier: GPL-2.0-or-later
"""Simulated captures as files of capture text."""

from __future__ import annotations

import numpy as np
from roomtie.processing.captures.model import Kind


def write_captures(folder, survey) -> None:
    """One file a capture: headers that tie it, and every reading with its zenith angle and kind."""
    folder.mkdir(parents=True, exist_ok=True)
    for capture in survey.captures:
        path = folder / f"{capture.station}.csv"
        path.write_text(text_of(capture), encoding="utf-8")


def text_of(capture) -> str:
    """A capture as text."""
    header = {
        "station": capture.station,
        "level": capture.level,
        "angle_unit": "deg",
        "distance_unit": "m",
        "rotation": "clockwise",
        "distance_sigma_mm": f"{1000 * capture.distance_sigma_m:g}",
        "angle_sigma_deg": f"{capture.angle_sigma_deg:g}",
    }
    if capture.has_compass:
        header["magnetic_azimuth_deg"] = f"{capture.magnetic_azimuth_deg % 360.0:.1f}"
        header["magnetic_azimuth_sigma_deg"] = f"{capture.magnetic_azimuth_sigma_deg:g}"
    if capture.has_geotag:
        header["longitude_deg"] = f"{capture.longitude_deg:.8f}"
        header["latitude_deg"] = f"{capture.latitude_deg:.8f}"
        header["geotag_sigma_m"] = f"{capture.geotag_sigma_m:g}"
    lines = [f"# {key}: {value}" for key, value in header.items()]
    lines.append("angle,distance,zenith,kind,target")
    for k in range(len(capture)):
        distance = capture.slope_distance_m[k]
        lines.append(
            f"{capture.angle_deg[k]:.4f},{'' if np.isnan(distance) else f'{distance:.4f}'},"
            f"{capture.zenith_deg[k]:.4f},{Kind(capture.kind[k]).text},{capture.target[k]}"
        )
    return "\n".join(lines) + "\n"
