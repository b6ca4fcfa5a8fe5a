# SPDX-License-Identifier: GPL-2.0-or-later
"""The adjustment in the report for programs: figures, decisions, reliability, loops, stations."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..angles import wrap_full_deg
from ..stations.model import Network
from ..stations.statistics import error_ellipse
from .values import MM


def network_json(network: Network) -> dict[str, Any]:
    """Statistics, what a person decided and what is proposed, reliability and loops."""
    s, choices = network.statistics, network.choices
    return {
        "reference_variance": s.reference_variance,
        "degrees_of_freedom": s.degrees_of_freedom,
        "lower_bound_95": s.lower_bound,
        "upper_bound_95": s.upper_bound,
        "largest_standardised_residual": s.largest_standardised_residual,
        "unconnected_stations": s.unconnected_stations,
        "rejected_ties": s.rejected_ties,
        "groups": len(network.groups),
        "joined_since": list(network.joined_since),
        "observations": [
            {"kind": word, "all": count, "used": used} for word, count, used in s.observations
        ],
        "choices": {
            "hold": list(choices.held),
            "leave_out": list(choices.left_out),
            "ties_left_out": sorted(choices.ties_left_out),
            "sigma_factor": dict(sorted(choices.sigma_factor.items())),
        },
        "proposals": dict(network.proposals),
        "largest_unseen_errors": [
            {
                "observation": unseen.observation,
                "size_deg" if unseen.angular else "size_mm": (
                    float(np.degrees(unseen.size)) if unseen.angular else unseen.size * MM
                ),
                "station": unseen.station,
                "shift_mm": unseen.shift_m * MM,
            }
            for unseen in network.unseen
        ],
        "resting": [
            {
                "observation": rest.observation,
                "stations": list(rest.stations),
                "share": rest.share,
                "redundancy": rest.redundancy,
                "detectable_mm": rest.detectable_m * MM if np.isfinite(rest.shift_m) else None,
                "unseen_shift_mm": rest.shift_m * MM if np.isfinite(rest.shift_m) else None,
            }
            for rest in network.resting
        ],
        "loops": [
            {
                "stations": [network.station[k] for k in loop.stations],
                "length_m": loop.length_m,
                "misclosure_mm": loop.misclosure_m * MM,
                "misclosure_deg": float(np.degrees(loop.misclosure_rad)),
            }
            for loop in network.loops
        ],
    }


def stations_json(network: Network) -> list[dict[str, Any]]:
    """Poses with standard errors and 95 % ellipses."""
    sigma = network.sigma()
    blocks = np.array([network.block(i)[:2, :2] for i in range(len(network))]).reshape(-1, 2, 2)
    major, minor, azimuth = error_ellipse(blocks)
    return [
        {
            "station": name,
            "x": network.xy_m[i, 0],
            "y": network.xy_m[i, 1],
            "orientation_deg": float(wrap_full_deg(np.degrees(network.orientation_rad[i]))),
            "sigma_x_mm": sigma[i, 0] * MM,
            "sigma_y_mm": sigma[i, 1] * MM,
            "sigma_orientation_deg": float(np.degrees(sigma[i, 2])),
            "ellipse_major_95_mm": float(major[i]) * MM,
            "ellipse_minor_95_mm": float(minor[i]) * MM,
            "ellipse_azimuth_deg": float(np.degrees(azimuth[i])),
            "network": int(network.network[i]),
            "status": network.status[i].value,
        }
        for i, name in enumerate(network.station)
    ]
