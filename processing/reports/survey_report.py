# SPDX-License-Identifier: GPL-2.0-or-later
"""The report of a whole run: the JSON that programs read and the page that people read."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..angles import Floats, wrap_full_deg
from ..captures.model import Flag, Survey
from ..progress import SILENT, Progress
from ..site.model import SiteFit
from ..stations.model import Network
from ..walls.model import Plan, WallFaces
from .growth_section import Growth, growth_json, growth_section_html
from .html import Markup, bullets, facts, page, section, table
from .network_json import network_json, stations_json
from .network_section import network_section_html
from .plan_section import plan_section_html
from .site_section import site_section_html
from .values import MM, azimuth, degrees, figure, with_sigma

CAUTIONS = (
    "This plan is not a structural or boundary document.",
    "Boundaries and building control: follow the local codes and a licensed surveyor.",
    "Standard errors are 1 sigma; they hold for what was measured, at the instrument's height.",
    "Laser safety: observe the class on the instrument's own label.",
)


@dataclass(frozen=True, eq=False)
class Run:
    """What a run came to, and what a report tells of how: versions of the software by name,
    parameters by name, sentences that a person should know; how the plan grew from an earlier one,
    if it did; and the wall faces as measured."""

    survey: Survey
    network: Network
    plans: Sequence[Plan]
    fits: Sequence[SiteFit]
    versions: Mapping[str, str]
    parameters: Mapping[str, Any]
    warnings: Sequence[str]
    site_grid_crs: str = ""
    growth: Growth | None = None
    measured: WallFaces | None = None


def survey_report_json(run: Run) -> str:
    """The report as JSON text, keys in a fixed order, null for what is not known."""
    report = {
        "versions": dict(run.versions),
        "inputs": [{"file": name, "sha256": digest} for name, digest in run.survey.digests.items()],
        "parameters": dict(run.parameters),
        "readings": flag_counts(run.survey),
        "network": network_json(run.network),
        "stations": stations_json(run.network),
        "site": _sites(run.fits, run.site_grid_crs),
        "areas": [area for plan in run.plans for area in _areas(plan)],
        "warnings": list(run.warnings),
        **({"growth": growth_json(run.growth)} if run.growth is not None else {}),
    }
    return json.dumps(_known(report), indent=1, ensure_ascii=False) + "\n"


def flag_counts(survey: Survey) -> dict[str, int]:
    """How many readings carry each flag, over all captures."""
    flags = np.concatenate([c.flag for c in survey.captures]) if len(survey) else np.empty(0, int)
    return {flag.text or "usable": int((flags == flag).sum()) for flag in Flag}


def _sites(fits: Sequence[SiteFit], site_grid_crs: str) -> dict[str, Any] | None:
    """The first group's fit, with those of the other groups inside it; None without any."""
    if not fits:
        return None
    first, *others = (_site(fit) for fit in fits)
    return {**first, "site_grid_crs": site_grid_crs, "other_networks": others}


def _site(fit: SiteFit) -> dict[str, Any]:
    sigma = np.sqrt(np.diagonal(fit.covariance))
    return {
        "network": fit.network,
        "target_crs": fit.target_crs,
        "east_m": fit.east_m,
        "north_m": fit.north_m,
        "rotation_deg": float(wrap_full_deg(np.degrees(fit.rotation_rad))),
        "combined_scale_factor": fit.scale,
        "unit_m": fit.unit_m,
        "sigma_east_m": sigma[0],
        "sigma_north_m": sigma[1],
        "sigma_rotation_deg": float(np.degrees(sigma[2])),
        "declination_deg": float(np.degrees(fit.north.declination_rad)),
        "sigma_declination_deg": float(np.degrees(fit.north.sigma_declination_rad)),
        "declination_model": fit.north.model,
        "declination_date": fit.north.on.isoformat() if fit.north.on else None,
        "declination_longitude_deg": fit.north.longitude_deg,
        "declination_latitude_deg": fit.north.latitude_deg,
        "horizontal_intensity_nt": fit.north.horizontal_nt,
        "convergence_deg": float(np.degrees(fit.north.convergence_rad)),
        "datum": fit.datum or None,
        "decides_position": fit.decides_position,
        "decides_rotation": fit.decides_rotation,
        "evidence": [
            {
                "kind": e.kind,
                "name": e.name,
                "residual_east_m": e.residual_east_m,
                "residual_north_m": e.residual_north_m,
                "residual_deg": float(np.degrees(e.residual_rad)),
                "standardised": e.standardised,
                "used": e.used,
                "reason": e.reason,
            }
            for e in fit.evidence
        ],
        "bearings": [
            {
                "station": b.station,
                "magnetic_azimuth_deg": float(np.degrees(b.magnetic_azimuth_rad)),
                "magnetic_azimuth_sigma_deg": float(np.degrees(b.sigma_rad)),
                "compass_calibrated": b.calibrated,
                "off_the_others_deg": float(np.degrees(b.off_rad)),
                "standardised": b.standardised,
                "used": b.used,
            }
            for b in fit.bearings
        ],
        "warnings": list(fit.warnings),
    }


def _areas(plan: Plan) -> list[dict[str, Any]]:
    rooms = plan.rooms
    return [
        {
            "room": rooms.room[i],
            "name": rooms.name[i],
            "level": int(rooms.level[i]),
            "plot_scale": rooms.plot_scale,
            "area_m2": rooms.area_m2[i],
            "sigma_area_m2": rooms.sigma_area_m2[i],
            "sigma_seen_m2": rooms.sigma_seen_m2[i],
            "perimeter_m": rooms.perimeter_m[i],
            "sigma_perimeter_mm": rooms.sigma_perimeter_m[i] * MM,
            "seen_share": rooms.seen_share[i],
        }
        for i in range(len(rooms))
    ]


def _known(value: Any) -> Any:
    """JSON has no NaN: what is not known becomes null."""
    if isinstance(value, dict):
        return {key: _known(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [_known(entry) for entry in value]
    if isinstance(value, (float, np.floating)):
        return float(value) if np.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    return value


def survey_report_html(title: str, run: Run, progress: Progress = SILENT) -> str:
    """The report as a page: what a client asks first on top, the evidence below."""
    counts = [(word, count) for word, count in flag_counts(run.survey).items() if count]
    progress.at(0.0)
    of_plans = plan_section_html(run.plans, run.measured)
    of_network = network_section_html(run.survey, run.network, progress.part(0.3, 0.9))
    progress.at(0.9)
    parts = [
        section("In short", _in_short(run.network, run.plans, run.fits), bullets(run.warnings)),
        growth_section_html(run.growth) if run.growth is not None else "",
        of_plans,
        of_network,
        site_section_html(run.fits, _outlines(run.plans), run.plans[0].rooms if run.plans else None)
        if run.fits
        else "",
        section(
            "Input",
            table(("Readings", "Count"), counts, (1,)),
            table(("File", "SHA-256"), run.survey.digests.items()),
            facts(run.parameters.items()),
            facts(run.versions.items()),
        ),
        section("Cautions", bullets(CAUTIONS)),
    ]
    return page(title, Markup("\n".join(parts)))


def _outlines(plans: Sequence[Plan]) -> dict[int, Floats]:
    """The ends of all walls by group, for the accuracy at the plan's far corner."""
    if not plans:
        return {}
    walls = plans[0].walls
    return {
        int(number): walls.drawn_m[walls.network == number].reshape(-1, 2)
        for number in np.unique(walls.network)
    }


def _metres(sigma_m: float) -> str:
    return f"{figure(sigma_m, 3)} m" if np.isfinite(sigma_m) else "not known"


def _in_short(network: Network, plans: Sequence[Plan], fits: Sequence[SiteFit]) -> Markup:
    sigma = network.sigma()[:, :2] * MM
    pairs: list[tuple[object, object]] = [("Stations", len(network))]
    if np.isfinite(sigma).any():
        pairs.append(("Largest standard error of a station", f"{np.nanmax(sigma):.1f} mm"))
    if plans:
        rooms = plans[0].rooms
        total = float(np.sum(rooms.area_m2))
        pairs.append(("Rooms", f"{len(rooms)}, together {total:.2f} m²"))
    if fits:
        first = fits[0]
        s = np.sqrt(np.diagonal(first.covariance))
        pairs += [
            ("Coordinate system", first.target_crs),
            ("Rotation", with_sigma(azimuth(first.rotation_rad, 4), degrees(s[2], 4), "deg")),
            ("Standard error of the place", f"east {_metres(s[0])}, north {_metres(s[1])}"),
            ("Place and direction rest on", f"{first.decides_position}; {first.decides_rotation}"),
        ]
    else:
        pairs.append(("Coordinate system", "plan coordinates; the plan is not georeferenced"))
    return facts(pairs)
