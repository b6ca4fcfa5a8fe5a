# SPDX-License-Identifier: GPL-2.0-or-later
"""Contradictions between kinds of evidence: the weaker kind is given up, or its errors widened."""

from __future__ import annotations

import math

import numpy as np
from scipy.stats import chi2

from .judged import PLURAL, Judged, determined, free_kinds
from .least_squares import CRITICAL, Solution
from .observations import COMPASS, CONTROL, FOOTPRINT, GEOTAG

FALSE_ALARM = 0.001


def between_kinds(judged: Judged, solution: Solution) -> None:
    """Test the shared errors that were left free in a fit, and give up the weaker kind where they
    are larger than declination, or change of datum, can be."""
    observations = judged.observations
    free_compass, free_geotags = free_kinds(observations, judged.use)
    if free_geotags:
        shift, q = solution.parameters[4:], solution.covariance[4:, 4:]
        q = q + observations.sigma_datum_m**2 * np.eye(2)
        w = math.sqrt(float(shift @ np.linalg.solve(q, shift)))
        if w > CRITICAL[2]:
            _give_up_positions(judged, float(np.hypot(*shift)), w)
    if free_compass:
        turned = float(solution.parameters[3])
        sigma = math.hypot(math.sqrt(solution.covariance[3, 3]), observations.sigma_declination_rad)
        w = abs(turned) / sigma
        if w > CRITICAL[1]:
            _give_up_rotation(judged, turned, w, math.sqrt(solution.covariance[2, 2]))


def _give_up_positions(judged: Judged, metres: float, w: float) -> None:
    sigma = {kind: _together(judged, kind) for kind in (GEOTAG, _known_kind(judged))}
    sigma[GEOTAG] = math.hypot(sigma[GEOTAG], judged.observations.sigma_datum_m)
    weak, strong = sorted(sigma, key=lambda kind: -sigma[kind])
    _give_up(judged, weak, strong, f"{metres:.2f} m", w)


def _give_up_rotation(judged: Judged, turned: float, w: float, sigma_others: float) -> None:
    observations = judged.observations
    sigma_compass = math.hypot(_together(judged, COMPASS), observations.sigma_declination_rad)
    known = _known_kind(judged)
    strong = known if judged.used(known).sum() > 1 else GEOTAG
    size = f"{abs(math.degrees(turned)):.1f} deg in rotation"
    if sigma_compass > sigma_others:
        _give_up(judged, COMPASS, strong, size, w)
        return
    # Positions are needed for east and north: they are weakened, not given up.
    judged.observations = observations.widened(judged.used(strong), w)
    judged.note(judged.used(strong), f"contradicts the compass bearings: widened {w:.1f} times")
    judged.warnings.append(
        f"The spread of the {PLURAL[strong]} contradicts the compass bearings by {size} "
        f"({w:.1f} standard errors); the compass bearings are stronger and are followed, the "
        f"{PLURAL[strong]} are kept with standard errors {w:.1f} times as large."
    )


def _known_kind(judged: Judged) -> str:
    """Control points where there are two, or no footprint; else the footprint."""
    few = judged.used(CONTROL).sum() < 2
    return FOOTPRINT if few and judged.used(FOOTPRINT).any() else CONTROL


def _give_up(judged: Judged, weak: str, strong: str, size: str, w: float) -> None:
    items = judged.used(weak)
    without = judged.use & ~items
    known = determined(judged.observations, without)
    verb = "are not used" if known else "are kept, since nothing else gives the rotation"
    if known:
        judged.use = without
        judged.note(items, f"contradicts the {PLURAL[strong]} by {size} ({w:.1f} standard errors)")
    judged.warnings.append(
        f"The {PLURAL[weak]} ({judged.names(items)}) contradict the {PLURAL[strong]} by {size} "
        f"({w:.1f} standard errors); the {PLURAL[strong]} are stronger and are followed, the "
        f"{PLURAL[weak]} {verb}."
    )


def _together(judged: Judged, kind: str) -> float:
    """Standard error of the weighted mean of a kind's used items."""
    return float((judged.observations.sigma[judged.used(kind)] ** -2.0).sum() ** -0.5)


def widen_kinds(judged: Judged, solution: Solution) -> bool:
    """Where a kind scatters more than its standard errors say and no single item is to blame, make
    the errors as large as the scatter (a chi-square test of each kind at 0.1 %). Returns whether
    that happened."""
    before = judged.observations
    for kind in (CONTROL, FOOTPRINT, COMPASS, GEOTAG):
        items = judged.used(kind)
        if not items.any():
            continue
        rows = np.bincount(judged.observations.item_of_row, minlength=len(items))
        freedom = float((np.nan_to_num(solution.redundancy) * rows)[items].sum())
        if freedom < 0.5:
            continue
        total = float(solution.chi_square[items].sum())
        if chi2.sf(total, freedom) < FALSE_ALARM:
            factor = math.sqrt(total / freedom)
            judged.observations = judged.observations.widened(items, factor)
            judged.note(items, f"standard error widened {factor:.1f} times")
            judged.warnings.append(
                f"The {PLURAL[kind]} scatter {factor:.1f} times as much as their standard errors "
                "say; these are widened accordingly."
            )
    return judged.observations is not before
