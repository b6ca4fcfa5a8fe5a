# SPDX-License-Identifier: GPL-2.0-or-later
"""Taped distances against the plan: differences, verdicts, and the accuracy a client asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2, norm

from ..angles import Floats
from ..errors import SurveyError
from .distances import Distances, PlanDistance

CONFIDENCE = 0.95
TOLERANCE = float(norm.ppf(0.5 + CONFIDENCE / 2))
"""Standard errors of the difference within which a taped distance agrees (1.96)."""

FEWEST = 5
"""Fewer distances than this decide no accuracy class."""


@dataclass(frozen=True)
class Taped:
    """A taped distance: between which references, its length and standard error (m), and where it
    stands in the table, for messages."""

    first: str
    second: str
    length_m: float
    sigma_m: float
    where: str = ""


@dataclass(frozen=True, eq=False)
class Comparison:
    """``n`` taped distances beside the plan's. `difference_m (n,)` is plan less tape, `tolerance_m
    (n,)` what it may be at 95 %, from both errors."""

    taped: tuple[Taped, ...]
    plan: tuple[PlanDistance, ...]
    level: tuple[int | None, ...]
    network: tuple[int, ...]

    def __len__(self) -> int:
        return len(self.taped)

    @property
    def difference_m(self) -> Floats:
        return np.array([p.length_m - t.length_m for p, t in zip(self.plan, self.taped)])

    @property
    def sigma_m(self) -> Floats:
        """Standard errors ``(n,)`` of the differences."""
        return np.array([np.hypot(p.sigma_m, t.sigma_m) for p, t in zip(self.plan, self.taped)])

    @property
    def tolerance_m(self) -> Floats:
        return TOLERANCE * self.sigma_m

    @property
    def agrees(self) -> np.ndarray:
        """Which distances agree ``(n,)``."""
        return np.abs(self.difference_m) <= self.tolerance_m

    @property
    def verdicts(self) -> tuple[str, ...]:
        """A word for each: within tolerance, too long or too short on the plan."""
        return tuple(
            "within tolerance" if fine else "plan too long" if gap > 0 else "plan too short"
            for fine, gap in zip(self.agrees, self.difference_m)
        )


@dataclass(frozen=True)
class AccuracyClass:
    """Whether a plan meets a standard error that was asked for (m), from `n` taped distances.

    The sum of squared differences over the variances asked for (the class and the tape's own) is
    held against chi-square, one-sided at 95 % (Ghilani, *Adjustment Computations*, 5th ed., sec.
    4.10): `met` is False where the differences are larger than chance allows, None with fewer than
    five. `found_m` is the standard error the differences show once the tape's is taken out.
    """

    asked_m: float
    n: int
    statistic: float
    bound: float
    found_m: float

    @property
    def met(self) -> bool | None:
        return None if self.n < FEWEST else self.statistic <= self.bound


def compare(distances: Distances, taped: Sequence[Taped]) -> Comparison:
    """The taped distances beside those of a plan.

    Raises SurveyError, with the row, for a reference that is not of the plan.
    """
    plan, level, network = [], [], []
    for row in taped:
        try:
            plan.append(distances.between(row.first, row.second))
            network.append(distances.group_of(row.first))
        except SurveyError as error:
            raise SurveyError(f"{row.where}: {error}" if row.where else str(error)) from None
        own = distances.level_of(row.first)
        level.append(distances.level_of(row.second) if own is None else own)
    return Comparison(tuple(taped), tuple(plan), tuple(level), tuple(network))


def accuracy_class(comparison: Comparison, asked_m: float) -> AccuracyClass:
    """Whether the plan meets the standard error asked for a distance."""
    n = len(comparison)
    tape = np.array([row.sigma_m for row in comparison.taped])
    gap = comparison.difference_m
    statistic = float(np.sum(gap**2 / (asked_m**2 + tape**2)))
    bound = float(chi2.ppf(CONFIDENCE, n)) if n else 0.0
    found = float(np.sqrt(max(np.mean(gap**2) - np.mean(tape**2), 0.0))) if n else float("nan")
    return AccuracyClass(asked_m, n, statistic, bound, found)
