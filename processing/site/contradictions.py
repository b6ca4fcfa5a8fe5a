# SPDX-License-Identifier: GPL-2.0-or-later
"""Which evidence to believe: blunders among like observations, contradictions between kinds."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, wrap_half
from ..progress import SILENT, Progress
from .contradictions_kinds import between_kinds, widen_kinds
from .judged import PLURAL, Judged, determined, free_kinds, singular
from .least_squares import CRITICAL, Solution, solve
from .observations import COMPASS, Observations

DECIDES = 6.0
"""To call one observation the blunder and not another, leaving it out must lower the weighted sum
of squares by this much more: odds of e^3, 20 to 1, for normal errors."""


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
    if any(free_kinds(observations, judged.use)):
        between_kinds(judged, _snoop(judged, progress, apart=True))
    solution = _snoop(judged, progress, apart=False)
    if widen_kinds(judged, solution):
        solution = solve(judged.observations, judged.use)
    return judged, solution


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
    compass, geotags = free_kinds(observations, use) if apart else (False, False)
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
        return determined(judged.observations, use)
    while True:
        use[item] = False
        if not determined(judged.observations, use):
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
    if not determined(judged.observations, without):
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
    judged.warnings.append(f"The {singular(kind)} of {name} is not used: it {text}.")


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
