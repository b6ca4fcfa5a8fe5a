# SPDX-License-Identifier: GPL-2.0-or-later
"""Where an earlier plan lay, kept for the plan that grew from it.

A fit of new evidence moves a plan by as much as the evidence is worth, metres for geotags. What was
drawn, staked out or handed over by the earlier plan would no longer fit. So a plan keeps its place
until new evidence is given or a new fit is asked for; what the fit would say is told.
"""

from __future__ import annotations

import cmath
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from pyproj import CRS, Transformer

from ..angles import Floats, wrap_half
from ..errors import SurveyError
from .accuracy import covariance_at
from .model import North, SiteFit

NOT_KNOWN = "not known"
STEP_M = 100.0
FIELDS = ("east_m", "north_m", "rotation_rad", "scale", "unit_m")
Motion = tuple[complex, complex]
"""(shift, factor) of stored = shift + factor plan, x + iy in the unit of the stored coordinates."""


def fit_text(fit: SiteFit) -> str:
    """What a plan notes of a fit, so that its place can be kept, as JSON."""
    return json.dumps(
        {
            **{name: getattr(fit, name) for name in FIELDS},
            "covariance": [float(value) for value in fit.covariance.ravel()],
            "target_crs": fit.target_crs,
            "datum": fit.datum,
            "decides_position": fit.decides_position,
            "decides_rotation": fit.decides_rotation,
        }
    )


def noted_fit(text: str, network: int) -> SiteFit:
    """The fit of a group from its note; SurveyError on another text."""
    try:
        said = json.loads(text)
        return SiteFit(
            network=network,
            target_crs=str(said["target_crs"]),
            unit_m=float(said["unit_m"]),
            east_m=float(said["east_m"]),
            north_m=float(said["north_m"]),
            rotation_rad=float(said["rotation_rad"]),
            scale=float(said["scale"]),
            covariance=np.array(said["covariance"], dtype=float).reshape(3, 3),
            north=_no_north(),
            evidence=(),
            decides_position=str(said["decides_position"]),
            decides_rotation=str(said["decides_rotation"]),
            datum=str(said["datum"]),
        )
    except (ValueError, KeyError, TypeError, RecursionError):
        raise SurveyError(
            f"Table survey_notes: the fit of network {network} is not what this plugin wrote."
        ) from None


def placed_fit(motion: Motion, target_crs: str, unit_m: float, network: int) -> SiteFit:
    """The fit that a motion of plan points into the target CRS tells; its errors are not known
    (NaN)."""
    shift, factor = motion
    return SiteFit(
        network=network,
        target_crs=target_crs,
        unit_m=unit_m,
        east_m=shift.real * unit_m,
        north_m=shift.imag * unit_m,
        rotation_rad=-cmath.phase(factor),
        scale=abs(factor) * unit_m,
        covariance=np.full((3, 3), np.nan),
        north=_no_north(),
        evidence=(),
        decides_position=NOT_KNOWN,
        decides_rotation=NOT_KNOWN,
    )


def through(grid: CRS, target: CRS, motion: Motion) -> Motion:
    """The motion into a target CRS of what a motion puts onto a site grid over it."""
    change = Transformer.from_crs(grid, target, always_xy=True)
    x, y = change.transform([0.0, STEP_M], [0.0, 0.0])
    origin, step = complex(x[0], y[0]), complex(x[1], y[1])
    factor = (step - origin) / STEP_M
    return origin + factor * motion[0], factor * motion[1]


def motion_of(fit: SiteFit) -> Motion:
    """The motion of plan points into the target CRS, in its unit."""
    factor = fit.scale * cmath.exp(-1j * fit.rotation_rad) / fit.unit_m
    return complex(fit.east_m, fit.north_m) / fit.unit_m, factor


@dataclass(frozen=True)
class Difference:
    """How far a new fit would put a group from where it lies: at the middle of its stations (m),
    and turned (rad); with the standard errors of the fit there."""

    network: int
    east_m: float
    north_m: float
    turned_rad: float
    sigma_position_m: float
    sigma_rotation_rad: float

    @property
    def sentence(self) -> str:
        """That difference as a person reads it."""
        away = math.hypot(self.east_m, self.north_m)
        return (
            f"{away:.3f} m (east {self.east_m:+.3f} m, north {self.north_m:+.3f} m) and turned by "
            f"{math.degrees(self.turned_rad):+.4f} deg; its standard errors are "
            f"{self.sigma_position_m:.3f} m and {math.degrees(self.sigma_rotation_rad):.4f} deg"
        )


def difference(kept: SiteFit, new: SiteFit, middle_m: Floats) -> Difference:
    """Of two fits of one group into one target CRS, at plan points' middle ``(2,)``."""
    shift = (new.to_target(middle_m) - kept.to_target(middle_m)) * new.unit_m
    return Difference(
        new.network,
        float(shift[0]),
        float(shift[1]),
        float(wrap_half(new.rotation_rad - kept.rotation_rad)),
        float(np.sqrt(np.trace(covariance_at(new, middle_m)))),
        float(np.sqrt(new.covariance[2, 2])),
    )


def kept_fits(
    earlier: Mapping[int, SiteFit], new: Sequence[SiteFit], numbers: Sequence[int]
) -> tuple[SiteFit, ...]:
    """The fits that place the groups ``numbers``: each where its ``earlier`` fit puts it, with what
    the new fit knows of north and of the evidence; groups that are all new by their new fit, which
    counts where the first group has one."""
    by_number = {fit.network: fit for fit in new}
    fits = []
    for number in numbers:
        was, now = earlier.get(number), by_number.get(number)
        if was is None:
            fits += [now] if now is not None else []
            continue
        was = replace(was, network=number)
        if now is not None:
            unknown = not np.isfinite(was.covariance).all()
            was = replace(
                was,
                north=now.north,
                evidence=now.evidence,
                bearings=now.bearings,
                warnings=now.warnings,
                covariance=now.covariance if unknown else was.covariance,
                decides_position=now.decides_position if unknown else was.decides_position,
                decides_rotation=now.decides_rotation if unknown else was.decides_rotation,
            )
        fits.append(was)
    return tuple(fits)


def _no_north() -> North:
    unknown = float("nan")
    return North(unknown, unknown, "", None, unknown)
