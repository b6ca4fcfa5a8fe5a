# SPDX-License-Identifier: GPL-2.0-or-later
"""The parameters about where targets are well placed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from qgis.core import QgsProcessingContext, QgsProcessingParameterNumber

from .base import RoomtieAlgorithm
from .translation import mark, tr

if TYPE_CHECKING:
    from ..stations.network_options import TargetLimits

LIMITS = (
    ("TARGET_NEAREST", mark("Nearest target that is well placed (m)"), 1.0, 1000.0),
    ("TARGET_FARTHEST", mark("Farthest target that is well placed (m)"), 4.0, 1000.0),
    ("TARGET_SLANT", mark("Largest slant of a target's surface to the beam (deg)"), 45.0, 90.0),
    ("TARGET_CUT", mark("Least angle at which lines of sight should cut (deg)"), 30.0, 90.0),
)
"""Parameter, title, default (common practice) and greatest value."""


def add_target_parameters(algorithm: RoomtieAlgorithm) -> None:
    """The limits beyond which a target is warned of; they change no result."""
    for name, title, value, most in LIMITS:
        parameter = QgsProcessingParameterNumber(
            name,
            tr(title),
            QgsProcessingParameterNumber.Type.Double,
            value,
            minValue=0.0,
            maxValue=most,
        )
        parameter.setFlags(parameter.flags() | parameter.Flag.FlagAdvanced)
        algorithm.addParameter(parameter)


def target_limits(
    algorithm: RoomtieAlgorithm, parameters: dict[str, Any], context: QgsProcessingContext
) -> TargetLimits:
    """The limits that the parameters ask for."""
    from ..stations.network_options import TargetLimits

    return TargetLimits(
        *(algorithm.parameterAsDouble(parameters, name, context) for name, _, _, _ in LIMITS)
    )
