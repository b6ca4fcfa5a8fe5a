# SPDX-License-Identifier: GPL-2.0-or-later
"""The observations in a report, tie by tie: what was observed, residuals, tests, what is out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..angles import wrap_half
from ..captures.model import Survey
from ..stations.model import Network, TieKind
from ..stations.targets import TargetSightings, sightings_of
from ..stations.tie_names import sighting_name
from .html import Markup, paragraph, table
from .network_names import far_name, left_out_ties
from .values import MM, degrees, figure, natural

OVERLAPS = (
    "Overlaps: root mean square over the walls that two captures have in common, the worst of "
    "their tests, and what is detectable on the least controlled of them"
)
TESTED = ("Standardised", "Redundancy", "Detectable (mm)", "Detectable (deg)")
RESIDUALS = ("Residual (mm)", "Residual (deg)")


def ties_html(survey: Survey, network: Network) -> list[Markup]:
    """What is out and why, then the observations used by their kind."""
    t = network.ties
    order = sorted(range(len(t)), key=lambda i: natural(t.name[i]))
    out = set(left_out_ties(network))
    parts = [
        _rejected(network, [i for i in order if i in out]),
        paragraph(
            "Standardised residuals are residuals over their own standard errors, a priori; a "
            "redundancy of 0 means that nothing controls the observation, of 1 that it adds "
            "nothing of its own. Detectable is the error that is found with 80 % (∞: none is)."
        ),
    ]
    for kind, title in (
        (TieKind.OVERLAP, OVERLAPS),
        (TieKind.SURFACE, "Directions of the surfaces around targets"),
        (TieKind.COMPASS, "Compass bearings"),
    ):
        rows = [i for i in order if t.used[i] and t.kind[i] is kind]
        if rows:
            parts.append(_other(network, rows, title))
    sightings = [i for i in order if t.used[i] and t.kind[i] is TieKind.TARGET]
    if sightings:
        parts.insert(2, _sightings(survey, network, sightings))
    return parts


def _tested(network: Network, i: int) -> tuple[str, ...]:
    t = network.ties
    none = np.full(len(t), np.nan)
    length = none if t.detectable_m is None else t.detectable_m
    angle = none if t.detectable_rad is None else t.detectable_rad
    return (
        figure(t.standardised[i], 2),
        figure(t.redundancy[i], 2),
        figure(length[i] * MM, 1),
        degrees(angle[i], 2),
    )


def _rejected(network: Network, rows: Sequence[int]) -> Markup:
    if not rows:
        return paragraph("No tie was rejected or left out.")
    t = network.ties
    cells = [
        (
            t.name[i],
            t.kind[i].value,
            figure(t.residual_m[i] * MM, 1),
            degrees(t.residual_rad[i], 3),
            figure(t.standardised[i], 2),
            t.reason[i],
        )
        for i in rows
    ]
    headers = ("Tie", "Kind", *RESIDUALS, "Standardised", "Reason")
    return table(headers, cells, range(2, 5), "Rejected or left out, with the reason")


def _sightings(survey: Survey, network: Network, rows: Sequence[int]) -> Markup:
    """Observed direction and distance of each sighting, and what each of them misses."""
    t, s = network.ties, sightings_of(survey)
    place = _sighting_of_ties(survey, network, s)
    cells = []
    for i in rows:
        station, target = int(t.from_station[i]), int(t.to_target[i])
        observed = place.get(i)
        values: tuple[str, ...] = ("–",) * 4
        if observed is not None and target >= 0:
            angle, distance = float(s.angle_rad[observed]), float(s.distance_m[observed])
            east, north = network.targets.xy_m[target] - network.xy_m[station]
            turn = float(
                wrap_half(np.arctan2(east, north) - network.orientation_rad[station] - angle)
            )
            values = (
                degrees(angle % (2 * np.pi), 4),
                degrees(turn, 4),
                figure(distance, 4),
                figure((np.hypot(east, north) - distance) * MM, 1),
            )
        cells.append(
            (network.station[station], far_name(network, i), *values, *_tested(network, i))
        )
    headers = (
        "From", "To", "Direction (deg)", "Residual (deg)", "Distance (m)", "Residual (mm)", *TESTED
    )  # fmt: skip
    return table(
        headers,
        cells,
        range(2, 10),
        "Sightings of targets: instrument direction and horizontal distance as observed, residuals "
        "as adjusted less observed, the worse test of the two",
    )


def _sighting_of_ties(survey: Survey, network: Network, s: TargetSightings) -> dict[int, int]:
    """The sighting of each target tie. A target sighted more than once from a station has as many
    ties of one name, in the order of its sightings."""
    by_name: dict[str, list[int]] = {}
    for k, (station, target) in enumerate(zip(s.station, s.target)):
        by_name.setdefault(sighting_name(survey.names[station], s.name[target]), []).append(k)
    t, found = network.ties, {}
    for i, name in enumerate(t.name):
        if t.kind[i] is TieKind.TARGET and by_name.get(name):
            found[i] = by_name[name].pop(0)
    return found


def _other(network: Network, rows: Sequence[int], title: str) -> Markup:
    t = network.ties
    with_reason = any(t.reason[i] for i in rows)
    cells = [
        (
            network.station[t.from_station[i]],
            far_name(network, i),
            figure(t.residual_m[i] * MM, 1),
            degrees(t.residual_rad[i], 3),
            *_tested(network, i),
            *((t.reason[i],) if with_reason else ()),
        )
        for i in rows
    ]
    headers = ("From", "To", *RESIDUALS, *TESTED, *(("Remark",) if with_reason else ()))
    return table(headers, cells, range(2, 8), title)
