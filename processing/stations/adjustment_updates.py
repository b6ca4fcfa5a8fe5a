# SPDX-License-Identifier: GPL-2.0-or-later
"""An adjustment brought up to date when an observation leaves or comes back, without solving anew.

The inverse of normal equations to which a few rows are added, or from which they are taken, follows
from the one before by Sherman, Morrison and Woodbury (Hager, *SIAM Review* 31, 1989); in adjustment
this is sequential least squares (Teunissen, *Adjustment theory*, 2000, ch. 6). With C the
covariances of all adjusted observations with those that change, Q_r of these among themselves and
Sigma_r a priori, residuals become v + C K v_r and covariances Q + C K C', where
K = (Sigma_r - Q_r)^-1 for rows that leave and -(Sigma_r + Q_r)^-1 for rows that come.
"""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from .adjustment import Adjustment
from .observations import Bools, Observations
from .observations_equations import Equation

MOST_UPDATES = 64
"""After so many a new solution costs less than the sum over those before."""

# The equations are linear enough where they differ from their linear form by so many standard
# errors of an observation: a test of 3.29 is then told to 0.3 %.
_LINEAR_IN_SIGMAS = 0.01


class Updated:
    """What `statistics_of` asks of an adjustment, after changes of what is used.

    Everything is of the linear equations at the adjustment's unknowns: exact where these stay there
    (`solve_linear`), and as good as `is_linear` says where they move.
    """

    def __init__(self, adjustment: Adjustment) -> None:
        self.observations: Observations = adjustment.observations
        self.used: Bools = adjustment.used
        self.residual: Floats = adjustment.residual
        self.sum_of_squares = adjustment.sum_of_squares
        self.degrees_of_freedom = adjustment.degrees_of_freedom
        self._solution = adjustment.solution
        self._covariance = adjustment.observation_covariance()
        self._change = np.zeros(adjustment.solution.jacobian.shape[1])
        self._follow: list[Floats] = []
        self._across: list[Floats] = []
        self._core: list[Floats] = []

    def observation_covariance(self) -> list[tuple[Equation, Floats]]:
        """Covariances ``(n, d, d)`` of the adjusted observations, by kind with its equations."""
        return self._covariance

    @property
    def vector(self) -> Floats:
        """The vector of unknowns as the linear equations move it, in the pinned datum."""
        return self._solution.vector_after(self._change)

    @property
    def changed(self) -> bool:
        """Whether anything left or came back."""
        return bool(self._core)

    @property
    def many(self) -> bool:
        """Whether so much has changed that a new solution costs less."""
        return len(self._core) >= MOST_UPDATES

    def is_linear(self) -> bool:
        """Whether the equations still are what their linear form says, and changes are not many."""
        if self.many:
            return False
        off = self._solution.residual_after(self._change) - self.residual
        return bool((np.abs(off) <= _LINEAR_IN_SIGMAS * self._solution.sigma).all())

    def switch(self, rows: slice, *, on: bool) -> None:
        """Take one scalar row, or all `rows` of a correlated item, in or out. What leaves must be
        controlled by what stays."""
        jacobian = self._solution.jacobian
        follow = self._solution.solve(jacobian[rows].T.toarray())
        across: Floats = jacobian @ follow
        for moved, before, core in zip(self._follow, self._across, self._core):
            passed_on = core @ before[rows].T
            follow += moved @ passed_on
            across += before @ passed_on
        own = 0.5 * (across[rows] + across[rows].T)
        prior = self._prior(rows)
        core = -np.linalg.inv(prior + own) if on else np.linalg.inv(prior - own)
        gap = self.residual[rows]
        self._change = self._change + follow @ (core @ gap)
        self.residual = self.residual + across @ (core @ gap)
        self.sum_of_squares -= float(gap @ core @ gap)
        self.degrees_of_freedom += len(gap) if on else -len(gap)
        self.used = self.used.copy()
        self.used[rows] = on
        self._covariance = [
            (e, block + _outer(across[e.rows].reshape(*block.shape[:2], -1), core))
            for e, block in self._covariance
        ]
        self._follow.append(follow)
        self._across.append(across)
        self._core.append(core)

    def _prior(self, rows: slice) -> Floats:
        """The a-priori covariance ``(k, k)`` of one scalar row or one correlated item."""
        for equation, _ in self._covariance:
            if equation.rows.start <= rows.start < equation.rows.stop:
                item, first = divmod(rows.start - equation.rows.start, equation.kind.components)
                last = first + rows.stop - rows.start
                return np.asarray(equation.covariance[item, first:last, first:last])
        raise IndexError(rows)


def _outer(across: Floats, core: Floats) -> Floats:
    return np.asarray(across @ core @ np.swapaxes(across, 1, 2))
