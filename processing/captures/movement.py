# SPDX-License-Identifier: GPL-2.0-or-later
"""Whether the instrument stood still during its turn, told from the readings.

Two turns over the same directions (there and back, or more than one round) see the same walls: what
moved between them shows as a shift, fitted to all differences of distance. One closed turn shows
movement at its seam only: where a straight wall runs across it, the first and the last readings lie
on one line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from ..angles import Floats, unit
from .faces_fit import Moments, ReadingNoise, lines_of
from .lag import LARGEST_RAD
from .model import Capture, Flag, Remark
from .turns import FULL_RAD, SHARE, Compared, Turn, compare

LEAST_M = 0.005
"""Movements below this are passed over: a tolerance of 1:20 on the plan (common practice)."""

FLAG_M = 0.025
"""Turns that differ by this much or more, the tolerance of 1:100, belong to two set-ups: the later
readings are flagged."""

CHI2_SHIFT = 27.6
"""A shift is told from noise beyond this chi-square of two degrees of freedom (one in a million:
every capture is tested)."""

FEWEST = 60
"""Readings that a shift of the whole turn is fitted to at least."""

STEEPEST = 3.0
"""Tangent of the incidence (72 deg) beyond which a difference of distance says more about the angle
than about the place."""

WINDOWS = (8, 12, 18, 27, 40, 60)
"""Numbers of readings on either side of the seam that are tried as one straight wall."""

WIDEST_RAD = 0.5
"""They span this at most."""

SQUARE_ENOUGH = 0.3
"""Cosine of the incidence (73 deg) beyond which a wall across the seam tells nothing."""

BENT = 1e-4
"""Runs whose chi-square only so few straight walls exceed are not straight."""

SIGMAS = 5.0
"""A step at the seam is told from noise beyond this many standard errors (one in two million)."""

SAME_WALL_M = 0.15
"""A step larger than this is an edge between two things, not a wall seen twice."""

SAME_WALL_RAD = float(np.radians(2.0))
"""So is a bend larger than this."""


@dataclass(frozen=True, eq=False)
class Shift:
    """How a second turn stood against a first one: to the right and ahead of the zero direction
    (m), turned clockwise (rad), with the covariance ``(3, 3)``."""

    offset_m: Floats
    turn_rad: float
    covariance: Floats

    @property
    def length_m(self) -> float:
        return float(np.hypot(*self.offset_m))

    @property
    def sigma_m(self) -> float:
        """The standard error of the length."""
        along = self.offset_m / max(self.length_m, 1e-12)
        return float(np.sqrt(along @ self.covariance[:2, :2] @ along))

    @property
    def chi2(self) -> float:
        """Of no shift at all, two degrees of freedom."""
        return float(self.offset_m @ np.linalg.solve(self.covariance[:2, :2], self.offset_m))


def fit_shift(seen: Compared, noise: ReadingNoise) -> Shift | None:
    """The shift and rotation that explain how the second turn's distances differ from the first's.

    A wall whose normal has azimuth b, met at incidence i = a - b, is at ``r = p / cos i``. From a
    place moved by s and turned by w it is seen at ``r - (s . n) / cos i + r' w``. Least squares
    with the weights of Huber (k = 1.5), the scale told by the median residual. None when too few
    readings, or too few directions of walls, tell.
    """
    tangent = seen.slope / np.maximum(seen.seen_m, 1e-9)
    good = np.abs(tangent) < STEEPEST
    if good.sum() < FEWEST:
        return None
    t = tangent[good]
    across = np.sqrt(1.0 + t * t)
    azimuth = seen.angle_rad[good] - np.arctan(t)
    design = np.stack(
        [-np.sin(azimuth) * across, -np.cos(azimuth) * across, seen.slope[good]], axis=-1
    )
    sigma = seen.sigma_m(noise)[good]
    design = design / sigma[:, None]
    difference = (seen.distance_m - seen.seen_m)[good] / sigma
    scale = max(1.0, 1.4826 * float(np.median(np.abs(difference))))
    weight = np.minimum(1.0, 1.5 * scale / np.maximum(np.abs(difference), 1e-12))
    normal = np.eye(3)
    solution = np.zeros(3)
    for _ in range(12):
        normal = design.T @ (weight[:, None] * design)
        # Round surroundings do not tell the turn; it is less than the largest lag.
        normal[2, 2] += LARGEST_RAD**-2
        least, most = np.linalg.eigvalsh(normal[:2, :2])
        if least < 1e-4 * most or most <= 0.0:
            return None
        solution = np.linalg.solve(normal, design.T @ (weight * difference))
        residual = difference - design @ solution
        scale = max(1.0, 1.4826 * float(np.median(np.abs(residual))))
        # Beyond three scales a difference is an edge or a thing that moved, not noise.
        size = np.maximum(np.abs(residual) / scale, 1e-12)
        weight = np.where(size < 1.5, 1.0, np.where(size < 3.0, 1.5 / size, 0.0))
    if np.count_nonzero(weight) < max(FEWEST, 0.4 * len(weight)):
        return None
    # Neighbouring differences share readings of the first turn: each of these counts in full, not
    # by its part in the variance of one difference.
    covariance = (2.0 / SHARE) * scale**2 * np.linalg.inv(normal)
    return Shift(solution[:2], float(solution[2]), covariance)


@dataclass(frozen=True)
class Seam:
    """The step of a wall at the place where a turn closes: its size and standard error (m)."""

    step_m: float
    sigma_m: float


def seam_step(turn: Turn, noise: ReadingNoise) -> Seam | None:
    """The step between the wall that the last readings of a closed turn lie on and that of the
    first; None where no straight wall runs across."""
    if not turn.closed or len(turn) < 4 * WINDOWS[0]:
        return None
    # Seen from the middle of the seam; that beam runs along +y.
    middle = 0.5 * (turn.angle_rad[0] + turn.angle_rad[-1] - FULL_RAD)
    first = _side(turn.angle_rad[: WINDOWS[-1]] - middle, turn.distance_m[: WINDOWS[-1]], noise)
    back = turn.angle_rad[: -WINDOWS[-1] - 1 : -1] - FULL_RAD - middle
    last = _side(back, turn.distance_m[: -WINDOWS[-1] - 1 : -1], noise)
    if first is None or last is None or abs(first.bend_rad - last.bend_rad) > SAME_WALL_RAD:
        return None
    bend = 0.5 * (first.bend_rad + last.bend_rad)
    step = abs(first.height_m - last.height_m) * float(np.cos(bend))
    if step > SAME_WALL_M:
        return None
    return Seam(step, float(np.sqrt(first.variance + last.variance)))


@dataclass(frozen=True)
class _Side:
    """A wall on one side of the seam: where the seam's beam meets it (m), its bearing from square
    to that beam (rad), and the variance of the former across the wall (m2)."""

    height_m: float
    bend_rad: float
    variance: float


def _side(angle: Floats, distance: Floats, noise: ReadingNoise) -> _Side | None:
    """The wall through the longest straight run of readings from the seam on."""
    counts = np.array([count for count in WINDOWS if count <= len(angle)])
    xy = distance[:, None] * unit(angle)
    sums = Moments.of(xy, np.full(len(angle), 1.0 / noise.distance_m**2))
    lines = lines_of(sums.between(np.zeros_like(counts), counts))
    far = np.hypot(*lines.centre_m.T)
    offset = np.einsum("ij,ij->i", lines.normal, lines.centre_m)
    # One variance a run: it is short.
    factor = noise.variance_across(far, offset / far) / noise.distance_m**2
    straight = lines.cost < factor * chdtri(counts - 2, BENT)
    straight &= np.abs(lines.normal[:, 1]) > SQUARE_ENOUGH
    straight &= np.abs(angle[counts - 1] - angle[0]) < WIDEST_RAD
    longest = len(counts) if straight.all() else int(np.argmin(straight))
    if not longest:
        return None
    k = longest - 1
    (right, ahead), centre = lines.normal[k], lines.centre_m[k]
    height = float(offset[k] / ahead)
    lever = float(lines.direction[k] @ (np.array([0.0, height]) - centre))
    variance = factor[k] * (1.0 / lines.weight[k] + lever**2 / max(lines.along[k], 1e-12))
    return _Side(height, float(np.arctan2(-right, -ahead)), float(variance))


def check_movement(
    capture: Capture, turns: list[Turn], noise: ReadingNoise
) -> tuple[Capture, tuple[Remark, ...]]:
    """The capture with readings flagged as moved where turns of it belong to two set-ups, and the
    remarks about movement, also about the one that the instrument reports."""
    long = [turn for turn in turns if len(turn) >= FEWEST]
    sentences: list[str] = []
    quiet = ""
    if len(long) > 1:
        fullest = max(long, key=len)
        for turn in long:
            if turn is fullest:
                continue
            shift = fit_shift(compare(fullest, turn), noise)
            if shift is None:
                continue
            told = f"{1e3 * shift.length_m:.0f} mm (standard error {1e3 * shift.sigma_m:.1f} mm)"
            if shift.chi2 > CHI2_SHIFT and shift.length_m >= LEAST_M:
                sentences.append(f"two of its turns see the walls shifted by {told}")
                if shift.length_m >= FLAG_M:
                    mask = np.zeros(len(capture), dtype=bool)
                    mask[turn.at] = True
                    capture = capture.with_flags(mask, Flag.MOVED)
            else:
                quiet = f"its turns agree within {told}"
    elif len(long) == 1:
        seam = seam_step(long[0], noise)
        if seam is not None:
            told = f"{1e3 * seam.step_m:.0f} mm (standard error {1e3 * seam.sigma_m:.1f} mm)"
            if seam.step_m > max(LEAST_M, SIGMAS * seam.sigma_m):
                sentences.append(f"the wall across the seam of its turn is stepped by {told}")
            else:
                quiet = f"the wall across the seam of its turn closes within {told}"
    return capture, _remarks(capture, sentences, quiet)


def _remarks(capture: Capture, sentences: list[str], quiet: str) -> tuple[Remark, ...]:
    if sentences:
        reported = " as the instrument itself reports" if capture.moved else ""
        return (
            Remark(
                "movement",
                f"The instrument did not stand still{reported}: {'; '.join(sentences)}. "
                "Measure again.",
                again=True,
            ),
        )
    if capture.moved:
        seen = f"; {quiet}, so the readings do not show it" if quiet else ""
        return (
            Remark(
                "movement",
                "The instrument reports that it was moved during this capture: measure it again; "
                f"its readings may not belong to one set-up{seen}.",
                again=True,
            ),
        )
    return ()
