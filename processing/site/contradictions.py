# SPDX-License-Identifier: GPL-2.0-or-later
"""Which evidence to believe: blunders among like observations, contradictions between kinds."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from ..angles import Floats, wrap_half
from ..progress import SILENT, Progress
from .least_squares import CRITICAL, Solution, solve
from .observations import COMPASS, CONTROL, FOOTPRINT, GEOTAG, KNOWN, Observations

DECIDES = 6.0
"""To call one observation the blunder and not another, leaving it out must lower the weighted sum
of squares by this much more: odds of e^3, 20 to 1, for normal errors."""

KNOWN_ROTATION_RAD = math.radians(15.0)
"""Beyond this standard error a rotation counts as unknown: its sine is no longer straight."""

FALSE_ALARM = 0.001

PLURAL = {
    GEOTAG: "geotags",
    COMPASS: "compass bearings",
    CONTROL: "control points",
    FOOTPRINT: "footprint ends",
}


@dataclass(eq=False)
class Judged:
    """The observations (some widened), which items are used ``(I,)``, why not or what to know of
    each, and warnings."""

    observations: Observations
    use: NDArray[np.bool_]
    reason: list[str]
    warnings: list[str] = field(default_factory=list)

    def used(self, kind: str) -> NDArray[np.bool_]:
        return self.use & self.observations.of_kind(kind)

    def names(self, items: NDArray[np.bool_]) -> str:
        return ", ".join(self.observations.name[i] for i in np.flatnonzero(items))

    def note(self, items: NDArray[np.bool_], text: str) -> None:
        for i in np.flatnonzero(items):
            self.reason[i] = f"{self.reason[i]}; {text}" if self.reason[i] else text


def rotation_known(observations: Observations, use: NDArray[np.bool_]) -> bool:
    """Whether bearings, or positions far enough apart, tell the rotation."""
    bearings = (use & observations.of_kind(COMPASS)).any()
    return bool(bearings or observations.sigma_rotation_by_spread(use) < KNOWN_ROTATION_RAD)


def _determined(observations: Observations, use: NDArray[np.bool_]) -> bool:
    return bool(use[: observations.positions].any() and rotation_known(observations, use))


def judge(
    observations: Observations, notes: tuple[str, ...], progress: Progress = SILENT
) -> tuple[Judged, Solution]:
    """Find blunders and contradictions; returns the verdict and the fit of what is used.

    First like is compared with like: the shared errors of bearings and of geotags are left free
    where something stronger is there to hold the fit, so that a bearing is tested against the other
    bearings through the adjusted orientations, a geotag against the other geotags. Then the free
    shared errors are tested against what they may be (declination, datum): the kinds contradict
    each other where they are larger, and the weaker kind is given up. Last, all that is left is
    tested together.
    """
    judged = Judged(observations, np.ones(len(observations), dtype=bool), list(notes))
    if any(_free(observations, judged.use)):
        _between_kinds(judged, _snoop(judged, progress, apart=True))
    solution = _snoop(judged, progress, apart=False)
    if _widen_kinds(judged, solution):
        solution = solve(judged.observations, judged.use)
    return judged, solution


def _free(observations: Observations, use: NDArray[np.bool_]) -> tuple[bool, bool]:
    """Whether something stronger holds the rotation while bearings are compared with bearings, and
    the position while geotags are compared with geotags."""
    geotags, controls, compasses = (
        use & observations.of_kinds(kinds) for kinds in ((GEOTAG,), KNOWN, (COMPASS,))
    )
    # Geotags that are free against the control points turn the plan by their own spread only.
    information = sum(
        observations.sigma_rotation_by_spread(items) ** -2.0 for items in (geotags, controls)
    )
    by_spread = information > KNOWN_ROTATION_RAD**-2.0
    return bool(compasses.any() and by_spread), bool(geotags.any() and controls.any())


def _snoop(judged: Judged, progress: Progress, *, apart: bool) -> Solution:
    """Reject blunders one at a time (data snooping: Baarda 1968; Ghilani, Adjustment Computations,
    section 21); where observations only contradict each other, keep and widen them. With `apart`
    the kinds are compared each with itself. Returns the fit of what is left."""
    while True:
        progress.at(0.5)
        solution = _solve(judged.observations, judged.use, apart)
        worst, rivals = _suspects(judged, solution)
        if not rivals.any():
            return solution
        if rivals.sum() > 1 and apart:
            # Like alone does not tell which one is wrong; all the evidence together may.
            together = solve(judged.observations, judged.use)
            worst_of_all, suspects = _suspects(judged, together)
            if rivals[worst_of_all] and suspects.sum() == 1:
                worst, rivals, solution = worst_of_all, suspects, together
        if not _agreement_without(judged, worst, solution, apart):
            rivals |= judged.used(judged.observations.kind[worst])
        elif rivals.sum() == 1 or _outvoted(judged, rivals, apart):
            _reject(judged, worst, solution)
            continue
        _widen_rivals(judged, rivals, float(np.nanmax(solution.standardised[rivals])))


def _solve(observations: Observations, use: NDArray[np.bool_], apart: bool) -> Solution:
    compass, geotags = _free(observations, use) if apart else (False, False)
    return solve(observations, use, free_compass=compass, free_geotags=geotags)


def _bounds(observations: Observations) -> Floats:
    """The bound of each item's standardised residual ``(I,)``."""
    rows = np.bincount(observations.item_of_row, minlength=len(observations))
    return np.where(rows == 2, CRITICAL[2], CRITICAL[1])


def _suspects(judged: Judged, solution: Solution) -> tuple[int, NDArray[np.bool_]]:
    """The item that most likely is a blunder, and all items ``(I,)`` over their bound that may as
    well be it (none: nothing is over its bound)."""
    bound = _bounds(judged.observations)
    checked = judged.use & np.isfinite(solution.standardised)
    excess = np.where(checked, np.nan_to_num(solution.standardised) ** 2 - bound**2, -np.inf)
    worst = int(np.argmax(excess))
    return worst, (excess > 0) & (excess > excess[worst] - DECIDES)


def _agreement_without(judged: Judged, item: int, solution: Solution, apart: bool) -> bool:
    """Whether something agrees once an item, and then each next suspect, is left out: east, north
    and rotation are still found, and of the item's kind two are left, or one that others check."""
    kind = judged.observations.of_kind(judged.observations.kind[item]) & judged.use
    within = kind & (solution.standardised <= _bounds(judged.observations))
    use = judged.use.copy()
    use[item] = False
    if within.sum() > max(1, kind.sum() // 2):
        return _determined(judged.observations, use)
    while True:
        use[item] = False
        if not _determined(judged.observations, use):
            return False
        left = Judged(judged.observations, use, [])
        item_next, suspects = _suspects(left, _solve(judged.observations, use, apart))
        if not suspects.any():
            break
        item = item_next
    of_kind = use & kind
    if of_kind.sum() > 1 or not of_kind.any():
        return True
    return bool(np.isfinite(solve(judged.observations, use).standardised[of_kind]).all())


def _outvoted(judged: Judged, suspects: NDArray[np.bool_], apart: bool) -> bool:
    """Whether the suspects are blunders each by itself, not two sides of one contradiction: more
    of their kinds are left than suspected, and these contradict every one of them."""
    without = judged.use & ~suspects
    for kind in PLURAL:
        of_kind = judged.observations.of_kind(kind)
        if (suspects & of_kind).any() and (without & of_kind).sum() <= (suspects & of_kind).sum():
            return False
    if not _determined(judged.observations, without):
        return False
    predicted = _solve(judged.observations, without, apart).standardised
    return bool((predicted[suspects] > _bounds(judged.observations)[suspects]).all())


def _reject(judged: Judged, item: int, solution: Solution) -> None:
    kind, name = judged.observations.kind[item], judged.observations.name[item]
    # The size of the blunder: an observation shows the share of it that its redundancy says.
    own = solution.residual[judged.observations.item_of_row == item]
    residual = own / max(float(solution.redundancy[item]), 1e-3)
    w = float(solution.standardised[item])
    if kind == COMPASS:
        size = f"{math.degrees(float(wrap_half(residual[0]))):+.0f} deg"
        text = (
            f"differs by {size} from the other bearings through the adjusted orientations "
            f"(standardised {w:.1f}): local attraction, for instance steel near the instrument"
        )
    else:
        text = (
            f"lies {np.hypot(*residual):.2f} m from where the rest puts it (standardised {w:.1f})"
        )
    judged.use[item] = False
    judged.note(np.arange(len(judged.use)) == item, text)
    judged.warnings.append(f"The {_singular(kind)} of {name} is not used: it {text}.")


def _widen_rivals(judged: Judged, rivals: NDArray[np.bool_], factor: float) -> None:
    kinds = sorted({judged.observations.kind[i] for i in np.flatnonzero(rivals)})
    judged.observations = judged.observations.widened(rivals, factor)
    text = f"contradiction that nothing decides: standard error widened {factor:.1f} times"
    judged.note(rivals, text)
    what = " and ".join(PLURAL[k] for k in kinds)
    judged.warnings.append(
        f"The {what} of {judged.names(rivals)} contradict each other, or the rest, and nothing "
        f"tells which one is wrong; they are kept with standard errors {factor:.1f} times as large."
    )


def _between_kinds(judged: Judged, solution: Solution) -> None:
    """Test the shared errors that were left free in a fit, and give up the weaker kind where they
    are larger than declination, or change of datum, can be."""
    observations = judged.observations
    free_compass, free_geotags = _free(observations, judged.use)
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
    known = _determined(judged.observations, without)
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


def _widen_kinds(judged: Judged, solution: Solution) -> bool:
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


def _singular(kind: str) -> str:
    return PLURAL[kind][:-1]
