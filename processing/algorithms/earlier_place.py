# SPDX-License-Identifier: GPL-2.0-or-later
"""Where an earlier plan lay, and by which known points."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from qgis.core import QgsCoordinateReferenceSystem, QgsProcessingContext

from .base import RoomtieAlgorithm
from .control_input import read_control
from .crs import host_crs_of, to_pyproj
from .earlier_input import EarlierFile
from .plan_input import DERIVED

if TYPE_CHECKING:
    from ..captures.model import KnownPoint, Survey
    from ..site.model import SiteFit

SAME_M = 0.001


def is_grid(crs: QgsCoordinateReferenceSystem) -> bool:
    """Whether a CRS is a site grid."""
    return bool(to_pyproj(crs).to_json_dict()["type"] == DERIVED)


def earlier_fits(earlier: EarlierFile) -> dict[int, SiteFit]:
    """The fits that placed the groups of the earlier plan: as noted where the layers lie there,
    else as the layers tell."""
    from ..layers.survey_notes import FIT
    from ..site.kept import motion_of, noted_fit, placed_fit, through

    crs = to_pyproj(earlier.crs)
    grid = is_grid(earlier.crs)
    target = crs.source_crs if grid else crs
    motions = {
        number: through(crs, target, motion) if grid else motion
        for number, motion in earlier.plan.frame.motions.items()
    }
    noted = {
        int(number): noted_fit(text, int(number)) for number, _, text in earlier.plan.notes.of(FIT)
    }
    lies_there = bool(noted) and all(
        _near(motion_of(fit), motions.get(number), fit.unit_m) for number, fit in noted.items()
    )
    if lies_there:
        return noted
    unit = float(target.axis_info[0].unit_conversion_factor)
    text = earlier.crs.authid() if not grid else ""
    text = text or target.to_wkt("WKT2_2019")
    return {number: placed_fit(motion, text, unit, number) for number, motion in motions.items()}


def _near(one: Any, other: Any, unit_m: float) -> bool:
    """Whether two motions put the plan at one place, over the reach of a building."""
    if other is None:
        return True
    ends = np.array([0.0, 100.0])
    apart = np.abs(one[0] + one[1] * ends - other[0] - other[1] * ends) * unit_m
    return bool((apart < SAME_M).all())


def earlier_control(earlier: EarlierFile | None) -> list[KnownPoint]:
    """The control points that were given for the earlier plan."""
    from ..layers.known_points import FROM_CONTROL

    if earlier is None:
        return []
    return [point for point, source in earlier.plan.known if source == FROM_CONTROL]


def known_points(
    algorithm: RoomtieAlgorithm,
    survey: Survey,
    earlier: EarlierFile | None,
    fits: Sequence[SiteFit],
    parameters: dict[str, Any],
    context: QgsProcessingContext,
) -> list[tuple[KnownPoint, str]]:
    """All points whose coordinates were given, with where they came from, for the next time."""
    from ..captures.model import KnownPoint
    from ..layers.known_points import FROM_CONTROL, FROM_FILES

    found = [(point, FROM_FILES) for point in survey.known_points]
    anew: list[KnownPoint] = []
    if fits and parameters.get("CONTROL") not in (None, ""):
        text, unit = fits[0].target_crs, fits[0].unit_m
        control = read_control(algorithm, host_crs_of(text), parameters, context)
        anew = [
            KnownPoint(name, float(x) * unit, float(y) * unit, sigma_m=float(s), crs=text)
            for name, (x, y), s in zip(control.name, control.xy, control.sigma_m)
        ]
    names = {point.name for point in anew}
    kept = [point for point in earlier_control(earlier) if point.name not in names]
    return [*found, *((point, FROM_CONTROL) for point in (*anew, *kept))]
