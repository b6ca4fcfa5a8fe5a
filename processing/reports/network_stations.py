# SPDX-License-Identifier: GPL-2.0-or-later
"""The adjusted stations and targets in a report."""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from ..captures.model import Survey
from ..stations.model import Network, Status
from ..stations.statistics import error_ellipse
from .html import Markup, paragraph, table
from .values import MM, azimuth, degrees, figure, natural

STATUS_NOTE = {
    Status.UNCONNECTED: "no tie: sketched apart",
    Status.HELD: "held",
    Status.ADJUSTED: "",
    Status.AS_RECORDED: "as recorded",
}
ELLIPSE = ("95 % ellipse, semi-axes (mm)", "Azimuth of the major one (deg)")


def ellipse_cells(covariance_m2: Floats) -> list[tuple[str, str]]:
    """Semi-axes in mm and the azimuth of the major one in degrees, of covariances ``(n, 2, 2)``."""
    major, minor, azimuth = error_ellipse(np.reshape(covariance_m2, (-1, 2, 2)))
    return [
        (f"{figure(a * MM, 1)} × {figure(b * MM, 1)}", degrees(t, 0)) if a > 0 else ("–", "–")
        for a, b, t in zip(major, minor, azimuth)
    ]


def stations_html(survey: Survey, network: Network) -> list[Markup]:
    """Poses, standard errors and ellipses of all stations."""
    sigma = network.sigma()
    blocks = [network.block(i)[:2, :2] for i in range(len(network))]
    ellipses = ellipse_cells(np.array(blocks))
    rows = [
        (
            name,
            survey.captures[i].level,
            network.network[i],
            figure(network.xy_m[i, 0], 3),
            figure(network.xy_m[i, 1], 3),
            azimuth(network.orientation_rad[i], 3),
            figure(sigma[i, 0] * MM, 1),
            figure(sigma[i, 1] * MM, 1),
            degrees(sigma[i, 2], 4),
            *ellipses[i],
            _note(network, i),
        )
        for i, name in enumerate(network.station)
    ]
    headers = (
        "Station", "Level", "Group", "x (m)", "y (m)", "Orientation (deg)", "σ x (mm)",
        "σ y (mm)", "σ orientation (deg)", *ELLIPSE, "Remark",
    )  # fmt: skip
    return [
        paragraph(
            "Plan coordinates, plan north is +y; azimuths are clockwise from it. Standard errors "
            "are 1 sigma, for the datum stated above. A position lies in its 95 % ellipse (semi-"
            "axes 2.448 times those of the standard ellipse) with that probability."
        ),
        table(headers, rows, range(1, 11)),
    ]


def _note(network: Network, i: int) -> str:
    if network.station[i] in network.choices.left_out:
        return "left out by a person: sketched apart"
    return STATUS_NOTE[network.status[i]]


def targets_html(network: Network) -> list[Markup]:
    """Positions and ellipses of the sighted targets."""
    t = network.targets
    if not len(t):
        return []
    ellipses = ellipse_cells(t.covariance_m2)
    rows = [
        (
            name,
            t.network[k],
            t.sightings[k],
            figure(t.xy_m[k, 0], 3),
            figure(t.xy_m[k, 1], 3),
            *ellipses[k],
        )
        for k, name in sorted(enumerate(t.name), key=lambda pair: natural(pair[1]))
    ]
    headers = ("Target", "Group", "Sighted from", "x (m)", "y (m)", *ELLIPSE)
    return [table(headers, rows, range(1, 7))]
