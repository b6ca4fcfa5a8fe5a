# SPDX-License-Identifier: GPL-2.0-or-later
"""Systematic errors of the instrument: what they do to readings, and how to undo it.

What they are, and how readings are freed of them, says `captures.instrument_errors`; here they are
told from the network, as additional parameters of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats, along, unit
from ..captures.face_model import Faces
from ..captures.faces_fit import noise_of
from ..captures.instrument_errors import (
    REACH_M,
    InstrumentErrors,
    effects,
    free,
    unfree,
)
from ..captures.model import Capture, Survey

LEAST_STANDARDISED = 3.29
"""A value this many times its standard error differs from zero (two-sided 0.1 %)."""


@dataclass(frozen=True, eq=False)
class Systematics:
    """Zero error and eccentricity in metres, angle scale as a share (1e-6 is 1 ppm), and their
    covariance ``(3, 3)`` in this order."""

    zero_m: float = 0.0
    eccentricity_m: float = 0.0
    angle_scale: float = 0.0
    covariance: Floats = field(default_factory=lambda: np.zeros((3, 3)))

    @classmethod
    def of(cls, values: Floats, covariance: Floats) -> Systematics:
        """From values ``(3,)`` and covariance ``(3, 3)``."""
        zero, eccentricity, scale = (float(value) for value in values)
        return cls(zero, eccentricity, scale, covariance)

    def plus(self, more: Systematics) -> Systematics:
        """These and what was found after correcting for them, whose covariance is the better."""
        return Systematics.of(self.vector + more.vector, more.covariance)

    @property
    def errors(self) -> InstrumentErrors:
        """The three values, as readings are freed of them."""
        return InstrumentErrors(self.zero_m, self.eccentricity_m, self.angle_scale)

    @property
    def vector(self) -> Floats:
        """The three values ``(3,)``."""
        return np.array([self.zero_m, self.eccentricity_m, self.angle_scale])


VAGUEST = np.array([1e-3, 2e-3, 2e-4])
"""A parameter known worse than this (m, m, share) is not carried by the network: what it would do
at 5 m, half a millimetre and more, is what it is to be freed of."""


@dataclass(frozen=True, eq=False)
class SystematicsEstimate:
    """The parameters in the order of `systematics.PARAMETERS`: values ``(3,)`` and covariance
    ``(3, 3)``; infinite variances where nothing tells about one."""

    value: Floats
    covariance: Floats

    @property
    def sigma(self) -> Floats:
        """Standard errors ``(3,)``."""
        return np.sqrt(np.diagonal(self.covariance))

    @property
    def standardised(self) -> Floats:
        """Values over their standard errors ``(3,)``."""
        return np.asarray(self.value / self.sigma)

    @property
    def carried(self) -> NDArray[np.bool_]:
        """Which parameters the network is strong enough to tell ``(3,)``."""
        return np.asarray(self.sigma <= VAGUEST)

    @property
    def significant(self) -> NDArray[np.bool_]:
        """Which are told and differ from zero at 0.1 % ``(3,)``."""
        return np.asarray(self.told & (np.abs(self.standardised) > LEAST_STANDARDISED))

    def to_apply(self) -> Systematics | None:
        """The significant parameters, as they are with the others at zero; None without any."""
        chosen = np.flatnonzero(self.significant)
        if not len(chosen):
            return None
        value, block = self.value[chosen], self.covariance[np.ix_(chosen, chosen)]
        others = np.flatnonzero(self.told & ~self.significant)
        if len(others):
            across = self.covariance[np.ix_(chosen, others)]
            gain = across @ np.linalg.inv(self.covariance[np.ix_(others, others)])
            value, block = value - gain @ self.value[others], block - gain @ across.T
        every, covariance = np.zeros(3), np.zeros((3, 3))
        every[chosen], covariance[np.ix_(chosen, chosen)] = value, block
        return Systematics.of(every, covariance)

    @property
    def told(self) -> NDArray[np.bool_]:
        """Which parameters the readings say anything about ``(3,)``."""
        return np.isfinite(np.diagonal(self.covariance))


def describe(told: SystematicsEstimate) -> list[str]:
    """A sentence on each parameter: what it is, or that the readings do not tell."""
    sentences = []
    for k, (name, value, effect) in enumerate(effects(told.value)):
        if not told.told[k]:
            sentences.append(f"The {name} is not told by these readings.")
            continue
        error = effects(told.sigma)[k][1]
        if told.significant[k]:
            verdict = f"it is significant; at {REACH_M:g} m it does {effect}"
        elif told.carried[k]:
            verdict = "not significantly different from zero"
        else:
            verdict = "the network is not strong enough to tell it"
        sentences.append(f"The {name} is {value}, standard error {error}: {verdict}.")
    return sentences


def corrected(capture: Capture, systematics: Systematics) -> Capture:
    """The capture as an instrument without these errors had taken it."""
    return free(capture, systematics.errors)


def uncorrected(capture: Capture, systematics: Systematics) -> Capture:
    """The capture as it was before `corrected` freed it of these errors, to rounding."""
    return unfree(capture, systematics.errors)


def corrected_survey(survey: Survey, systematics: Systematics) -> Survey:
    """All captures of one instrument corrected."""
    return replace(
        survey, captures=tuple(corrected(capture, systematics) for capture in survey.captures)
    )


def point_response(angle_rad: Floats, distance_m: Floats) -> Floats:
    """How readings ``(n,)`` move when they are corrected by a unit of each parameter: the
    derivatives ``(n, 2, 3)`` of the point in the instrument's frame."""
    ahead = unit(angle_rad)
    right = unit(angle_rad + np.pi / 2)
    return np.stack([-ahead, right, -(angle_rad * distance_m)[:, None] * right], axis=-1)


@dataclass(frozen=True, eq=False)
class FaceResponse:
    """How the ``F`` faces of a capture answer to a correction by the three parameters.

    `offset (F, 3)` is the shift across the face at its centre (m), `normal (F, 3)` the turn of its
    normal's azimuth (rad). What is left makes the face curved: `information (3, 3)` and `pull (3,)`
    are the normal equations of the parameters from the straightness of all faces together.
    """

    offset: Floats
    normal: Floats
    information: Floats
    pull: Floats


def face_response(capture: Capture, faces: Faces) -> FaceResponse:
    """The response of a capture's faces, from the readings on them with their weights."""
    count = len(faces)
    if not count:
        return FaceResponse(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((3, 3)), np.zeros(3))
    at = np.flatnonzero(faces.line_of_reading >= 0)
    owner = faces.line_of_reading[at]
    distance = capture.distance_m[at]
    normal = faces.normal[owner]
    apart = capture.xy_m[at] - faces.centre_m[owner]
    across = np.einsum("ij,ij->i", normal, apart)
    length = np.einsum("ij,ij->i", along(faces.normal_rad)[owner], apart)
    cosine = np.einsum("ij,ij->i", normal, unit(capture.angle_rad[at]))
    weight = 1.0 / noise_of(capture).variance_across(distance, cosine)
    response = np.einsum("ij,ijk->ik", normal, point_response(capture.angle_rad[at], distance))

    def summed(values: Floats) -> Floats:
        return np.asarray(np.bincount(owner, weight * values, minlength=count), dtype=float)

    total, square = summed(np.ones(len(at))), summed(length**2)
    mean = summed(length) / total
    square = square - total * mean**2
    length = length - mean[owner]
    offset = np.stack([summed(column) for column in response.T], axis=-1) / total[:, None]
    slope = np.stack([summed(length * column) for column in response.T], axis=-1)
    slope /= square[:, None]
    bent = response - offset[owner] - length[:, None] * slope[owner]
    # A face that is worse than its noise (a bowed wall, a curtain) counts for less.
    worse = np.maximum(_scale(across, weight, owner, count), 1.0)
    weight = weight / worse[owner]
    return FaceResponse(
        offset - mean[:, None] * slope,
        slope,
        np.einsum("i,ij,ik->jk", weight, bent, bent),
        -np.einsum("i,ij,i->j", weight, bent, across),
    )


def _scale(across: Floats, weight: Floats, owner: np.ndarray, count: int) -> Floats:
    """The variance ``(F,)`` of unit weight that the residuals of each face show."""
    readings = np.bincount(owner, minlength=count)
    squares = np.bincount(owner, weight * across**2, minlength=count)
    return np.asarray(squares / np.maximum(readings - 2, 1))
