# SPDX-License-Identifier: GPL-2.0-or-later
"""What two faces tell of an instrument and of single pointings, as remarks."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite, sqrt

import numpy as np

from .findings import listed
from .landxml_faces import CRITICAL, LARGE_DEG, Sighting, pointing_sigma_deg
from .model import Remark

CHECK = "two faces"


def face_remarks(
    sightings: Sequence[Sighting], circle_sigma_deg: float, distance_sigma_m: float
) -> tuple[Remark, ...]:
    """The instrument's errors with their spread, the pairs that do not fit them, and the targets
    that were sighted in one face only."""
    both = [s for s in sightings if s.both]
    single = [s for s in sightings if not s.both]
    remarks: list[Remark] = []
    if both:
        remarks.append(_errors(both, len(sightings)))
        remarks += _misfits(both, circle_sigma_deg, distance_sigma_m)
        remarks += _instrument(both, single)
    remarks += _repeats(sightings, circle_sigma_deg)
    if single:
        remarks.append(_single(single, bool(both)))
    return tuple(remarks)


def _errors(both: Sequence[Sighting], count: int) -> Remark:
    parts = []
    for what, values in (
        ("horizontal collimation", [s.collimation_deg for s in both]),
        ("index error", [s.index_deg for s in both]),
    ):
        known = [value for value in values if isfinite(value)]
        if known:
            spread = f", spread {np.ptp(known):.4f} deg" if len(known) > 1 else ""
            parts.append(f"{what} {np.mean(known):+.4f} deg{spread}")
    slopes = [abs(s.slope_difference_m) for s in both if isfinite(s.slope_difference_m)]
    if slopes:
        parts.append(f"distances differ by up to {1e3 * max(slopes):.1f} mm")
    targets = "all targets" if len(both) == count else f"{len(both)} of {count} targets"
    return Remark(CHECK, f"Sighted in both faces and averaged: {targets}; {', '.join(parts)}.")


def _misfits(
    both: Sequence[Sighting], circle_sigma_deg: float, distance_sigma_m: float
) -> list[Remark]:
    """Pairs whose difference is not the instrument's, as the other pairs show it."""
    remarks = []
    for what, values in (
        ("horizontal collimation", np.array([s.collimation_deg for s in both])),
        ("index error", np.array([s.index_deg for s in both])),
    ):
        usual = float(np.nanmedian(values)) if np.isfinite(values).any() else 0.0
        for sighting, value in zip(both, values):
            # Half the difference of two pointings has their standard error over the root of two.
            sigma = pointing_sigma_deg(sighting.distance_m, circle_sigma_deg) / sqrt(2.0)
            if isfinite(value) and abs(value - usual) > CRITICAL * sigma:
                remarks.append(
                    Remark(
                        CHECK,
                        f"The {what} from {sighting.target} is {value:+.4f} deg, that of the "
                        f"other targets {usual:+.4f} deg; a difference of "
                        f"{CRITICAL * sigma:.4f} deg ({CRITICAL:g} standard errors) would be "
                        "chance. Sight it again in both faces.",
                        again=True,
                    )
                )
    allowed = CRITICAL * sqrt(2.0) * distance_sigma_m
    for sighting in both:
        if abs(sighting.slope_difference_m) > allowed:
            remarks.append(
                Remark(
                    CHECK,
                    f"The distances to {sighting.target} in the two faces differ by "
                    f"{1e3 * abs(sighting.slope_difference_m):.1f} mm; up to {1e3 * allowed:.1f} "
                    f"mm ({CRITICAL:g} standard errors) would be chance. Measure it again.",
                    again=True,
                )
            )
    return remarks


def _instrument(both: Sequence[Sighting], single: Sequence[Sighting]) -> list[Remark]:
    remarks = []
    for what, values in (
        ("horizontal collimation", [s.collimation_deg for s in both]),
        ("index error", [s.index_deg for s in both]),
    ):
        known = [value for value in values if isfinite(value)]
        if known and abs(float(np.median(known))) > LARGE_DEG:
            rest = f"; the sightings of {_names(single)} in one face are not" if single else ""
            remarks.append(
                Remark(
                    "instrument",
                    f"The {what} is {np.median(known):+.4f} deg, more than {LARGE_DEG:g} deg: "
                    f"adjust the instrument. The mean of both faces is free of it{rest}.",
                    again=bool(single),
                )
            )
    return remarks


def _repeats(sightings: Sequence[Sighting], circle_sigma_deg: float) -> list[Remark]:
    """Observations of one target in one face that do not agree."""
    remarks = []
    for sighting in sightings:
        sigma = sqrt(2.0) * pointing_sigma_deg(sighting.distance_m, circle_sigma_deg)
        if sighting.spread_deg > CRITICAL * sigma:
            remarks.append(
                Remark(
                    "repeated sightings",
                    f"Directions to {sighting.target} in one face differ by "
                    f"{sighting.spread_deg:.4f} deg; up to {CRITICAL * sigma:.4f} deg "
                    f"({CRITICAL:g} standard errors) would be chance: are they of one target?",
                    again=True,
                )
            )
    return remarks


def _single(single: Sequence[Sighting], others: bool) -> Remark:
    parts = []
    for names, face in (
        (_names([s for s in single if s.direct]), "direct"),
        (_names([s for s in single if s.reversed_]), "reversed, and reduced to direct"),
    ):
        if names:
            parts.append(f"{names} ({face})")
    who = " and ".join(parts)
    rest = "" if others else " Nothing tells how large they are."
    return Remark(
        "one face",
        f"Sighted in one face only: {who}; collimation and index error are not averaged out.{rest}",
    )


def _names(sightings: Sequence[Sighting]) -> str:
    return listed([s.target for s in sightings])
