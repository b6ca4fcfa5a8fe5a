# SPDX-License-Identifier: GPL-2.0-or-later
"""The datum of a free network: what the observations leave open, and inner constraints.

Observations of distances, angles and relative poses do not tell where the network as a whole lies:
it can be moved, turned and, without distances, scaled. Such a motion is an element of the Lie
algebra of similarities, (east shift, north shift, clockwise turn, stretch). The network is solved
with a minimum of pinned unknowns; the solution is then moved to fit the approximate coordinates
best, and covariances follow by the S-transformation (Baarda, *S-transformations and criterion
matrices*, 1973; Teunissen, *Zero order design*, 1985; inner constraints: Ghilani, *Adjustment
Computations*, 5th ed., sec. 16.7).
"""

from __future__ import annotations

import numpy as np
from scipy.linalg import expm, qr

from ..angles import Floats
from ..captures.model import Ints
from ..errors import SurveyError
from .adjustment_normals import Factor, Layout
from .observations import Bools, Unknowns
from .observations_equations import Equation

# A motion is left open when it changes no observation by more than this share of what the
# observation's own derivatives could: rounding is about 1e-15.
_UNSEEN = 1e-9


LEVER_M = 1.0
"""Of stations nearer together than this about their centroid (root mean square), the orientations
take part too, each as a point at this distance from its station. Where one place was captured twice
the places alone would turn the network by as much as they are uncertain over what parts them."""


class Motions:
    """The motions of a whole network, and their effect on the vector of unknowns.

    Turn and stretch are about the centroid of the places, the stretch and turn in units of the
    network's radius, so that the four are of one size. `scalar_turn (N,)` is how each scalar
    follows a clockwise turn: 1 for the azimuth of a surface, -1 for a compass offset, else 0.
    """

    def __init__(self, unknowns: Unknowns, equations: list[Equation]) -> None:
        self._unknowns = unknowns
        places = unknowns.place_xy_m()
        self.centre = places.mean(axis=0) if len(places) else np.zeros(2)
        spread = np.hypot(*(places - self.centre).T)
        self.radius = float(np.sqrt(np.mean(spread**2))) if spread.any() else 1.0
        self.scalar_turn = np.zeros(len(unknowns.scalar))
        for equation in equations:
            if equation.name == "surface_directions":
                self.scalar_turn[equation.kind.surface] = 1.0  # type: ignore[union-attr]
            if equation.name == "orientations":
                offset = equation.kind.offset  # type: ignore[union-attr]
                self.scalar_turn[offset[offset >= 0]] = -1.0

    def effects(self, vector: Floats) -> Floats:
        """Changes ``(U + 1, 4)`` of the extended vector of unknowns under the four motions."""
        now = self._unknowns.with_vector(vector[: self._unknowns.size])
        effect = np.zeros((self._unknowns.size + 1, 4))
        xy = (now.place_xy_m() - self.centre) / self.radius
        at = self._unknowns.place_column(np.arange(len(xy)))
        effect[at, 0] = effect[at + 1, 1] = 1.0
        effect[at, 2], effect[at + 1, 2] = xy[:, 1], -xy[:, 0]
        effect[at, 3], effect[at + 1, 3] = xy[:, 0], xy[:, 1]
        stations = np.arange(len(now.station))
        effect[self._unknowns.orientation_column(stations), 2] = 1.0 / self.radius
        scalars = self._unknowns.scalar_column(np.arange(len(now.scalar)))
        effect[scalars, 2] = self.scalar_turn / self.radius
        return effect

    def apply(self, vector: Floats, motion: Floats) -> Floats:
        """The vector of unknowns ``(U,)`` after a finite motion ``(4,)``."""
        east, north, turn, stretch = motion
        turn, stretch = turn / self.radius, stretch / self.radius
        generator = np.array([[stretch, turn, east], [-turn, stretch, north], [0.0, 0.0, 0.0]])
        affine = expm(generator)
        now = self._unknowns.with_vector(vector)
        out = vector.copy()
        xy = (now.place_xy_m() - self.centre) @ affine[:2, :2].T + affine[:2, 2] + self.centre
        at = self._unknowns.place_column(np.arange(len(xy)))
        out[at], out[at + 1] = xy[:, 0], xy[:, 1]
        out[self._unknowns.orientation_column(np.arange(len(now.station)))] += turn
        out[self._unknowns.scalar_column(np.arange(len(now.scalar)))] += turn * self.scalar_turn
        return out


class InnerConstraints:
    """The open motions of a network and the places whose coordinates fix them, with the
    orientations of stations that stand close together (`LEVER_M`).

    `motions (4, r)` spans what the observations leave open; `pinned (r,)` are columns that, held,
    remove it. Raises SurveyError when the places taking part cannot fix the open motions.
    """

    def __init__(
        self,
        unknowns: Unknowns,
        equations: list[Equation],
        jacobians: list[Floats],
        places: Bools,
    ) -> None:
        mask = np.array(places, dtype=bool)
        count = len(unknowns.station) + len(unknowns.point)
        if mask.shape != (count,):
            raise SurveyError(f"Free network: places is {mask.shape}, expected ({count},).")
        self._motions = Motions(unknowns, equations)
        start = np.append(unknowns.vector, 0.0)
        effect = self._motions.effects(start)
        self.motions: Floats = _open_motions(effect, unknowns, equations, jacobians)
        at = unknowns.place_column(np.flatnonzero(mask))
        turns = _turning(unknowns, mask)
        self._coordinates: Ints = np.sort(np.concatenate([at, at + 1, turns]))
        self._start = unknowns.vector
        open_effect = effect @ self.motions
        if self.motions.shape[1]:
            held = open_effect[self._coordinates]
            if (
                np.linalg.matrix_rank(held, tol=1e-9 * max(1.0, np.abs(held).max(initial=0.0)))
                < (self.motions.shape[1])
            ):
                names = [*unknowns.station, *unknowns.point]
                found = [names[place] for place in np.flatnonzero(mask)]
                more = f" and {len(found) - 8} more" if len(found) > 8 else ""
                raise SurveyError(
                    "Free network: the places that take part do not fix position and orientation "
                    f"(found {', '.join(found[:8]) or 'none'}{more}; expected a station, or two "
                    "points apart)."
                )
        self.pinned: Ints = self._pins(unknowns, open_effect)

    def _pins(self, unknowns: Unknowns, effect: Floats) -> Ints:
        defect = effect.shape[1]
        if not defect:
            return np.empty(0, dtype=np.int64)
        _, _, pivots = qr(effect[:-1].T, mode="economic", pivoting=True)
        return np.asarray(pivots[:defect], dtype=np.int64)

    def fit(self, vector: Floats) -> Floats:
        """The vector of unknowns moved so that the coordinates taking part come nearest to the
        approximate ones (least squares)."""
        for _ in range(50):
            if not self.motions.shape[1]:
                break
            extended = np.append(vector, 0.0)
            here = (self._motions.effects(extended) @ self.motions)[self._coordinates]
            gap = self._start[self._coordinates] - vector[self._coordinates]
            step = np.linalg.lstsq(here, gap, rcond=None)[0]
            vector = self._motions.apply(vector, self.motions @ step)
            if np.abs(here @ step).max() <= 1e-13 * max(1.0, self._motions.radius):
                break
        return vector

    def transformation(self, vector: Floats, layout: Layout, factor: Factor) -> STransformation:
        """The S-transformation of covariances at an adjusted vector."""
        effect: Floats = self._motions.effects(np.append(vector, 0.0)) @ self.motions
        taking_part = np.zeros_like(effect)
        taking_part[self._coordinates] = effect[self._coordinates]
        gram: Floats = np.linalg.inv(taking_part.T @ effect)
        solved = np.zeros_like(effect)
        solved[layout.solved] = factor.solve(taking_part[layout.solved])
        across: Floats = solved @ gram
        core: Floats = gram.T @ (taking_part.T @ across)
        return STransformation(effect, across, core, taking_part @ gram.T)


class STransformation:
    """Turns covariances Q of the pinned network into those of the free one: S Q S' with
    S = I - G (B'G)^-1 B', G the effects of the open motions and B its rows that take part."""

    def __init__(self, effect: Floats, across: Floats, core: Floats, fixing: Floats) -> None:
        self._effect, self._across, self._core, self._fixing = effect, across, core, fixing

    def of_changes(self, change: Floats) -> Floats:
        """Changes ``(U, k)`` of the unknowns in the pinned datum as they are in the free one."""
        rows = len(change)
        return change - self._effect[:rows] @ (self._fixing[:rows].T @ change)

    def to_pinned(self, weights: Floats) -> Floats:
        """S'w: weights ``(U, k)`` of changes in the free datum as those of changes in the pinned
        one."""
        rows = len(weights)
        return weights - self._fixing[:rows] @ (self._effect[:rows].T @ weights)

    def apply(self, covariance: Floats, rows: Ints, columns: Ints) -> Floats:
        """Blocks ``(..., k, l)`` for rows ``(..., k)`` and columns ``(..., l)``."""
        g, h = self._effect[rows], self._effect[columns]
        m, n = self._across[rows], self._across[columns]

        def times(a: Floats, b: Floats) -> Floats:
            return a @ np.swapaxes(b, -1, -2)

        return covariance - times(g, n) - times(m, h) + times(g @ self._core, h)


def _turning(unknowns: Unknowns, places: Bools) -> Ints:
    """Columns of the orientations that take part beside the places."""
    xy = unknowns.place_xy_m()[places]
    apart = np.sqrt(np.mean(np.sum((xy - xy.mean(axis=0)) ** 2, axis=1))) if len(xy) else 0.0
    stations = np.flatnonzero(places[: len(unknowns.station)])
    return unknowns.orientation_column(stations if apart < LEVER_M else stations[:0])


def _open_motions(
    effect: Floats, unknowns: Unknowns, equations: list[Equation], jacobians: list[Floats]
) -> Floats:
    """An orthonormal basis ``(4, r)`` of the motions that change neither an observation nor a held
    unknown."""
    rows = [effect[:-1][unknowns.held]]
    size = np.maximum(np.abs(effect).max(axis=1), 1e-300)
    for equation, jacobian in zip(equations, jacobians):
        columns = equation.columns
        change = np.einsum("ndk,nkm->ndm", jacobian, effect[columns])
        reach = np.einsum("ndk,nk->nd", np.abs(jacobian), size[columns])
        rows.append((change / np.maximum(reach, 1e-300)[..., None]).reshape(-1, effect.shape[1]))
    stacked = np.concatenate(rows)
    if not len(stacked):
        return np.eye(effect.shape[1])
    _, singular, right = np.linalg.svd(np.linalg.qr(stacked, mode="r"))
    seen = np.zeros(effect.shape[1])
    seen[: len(singular)] = singular
    return right[seen < _UNSEEN].T
