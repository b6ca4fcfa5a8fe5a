# SPDX-License-Identifier: GPL-2.0-or-later
"""The parameters about the instrument's systematic errors."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsProcessingContext,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterFile,
)

from ..errors import SurveyError
from ..progress import Progress
from .base import RoomtieAlgorithm, tr

if TYPE_CHECKING:
    from ..stations.systematics import Systematics


def add_instrument_parameters(algorithm: RoomtieAlgorithm) -> None:
    """Where systematic errors come from: the network itself, or captures made to find them."""
    algorithm.addParameter(
        QgsProcessingParameterBoolean(
            "CORRECT_INSTRUMENT",
            tr("Correct the instrument's systematic errors where the network tells them"),
            False,
        )
    )
    algorithm.addParameter(
        QgsProcessingParameterFile(
            "CALIBRATION",
            tr("Calibration captures (one room from several positions)"),
            behavior=QgsProcessingParameterFile.Behavior.Folder,
            optional=True,
        )
    )


def calibrated(
    algorithm: RoomtieAlgorithm,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    sigmas: tuple[float, float],
    progress: Progress,
) -> Systematics | None:
    """The errors that the calibration captures tell; None where there are none such captures.

    SurveyError where the captures cannot be tied to each other.
    """
    from ..captures.reading import import_captures
    from ..chain import tie_stations
    from ..stations.network_options import NetworkOptions
    from ..stations.systematics import describe

    path = algorithm.parameterAsString(parameters, "CALIBRATION", context)
    if not path:
        return None
    survey = import_captures(Path(path), progress=progress.part(0.0, 0.3))
    network = tie_stations(survey, NetworkOptions(), *sigmas, progress.part(0.3, 1.0)).network
    if len(network.groups) != 1 or network.statistics.unconnected_stations:
        raise SurveyError(
            f"CALIBRATION: the {len(survey)} captures of {Path(path).name} do not tie to one "
            "another; expected captures of one room from several positions."
        )
    told = network.systematics
    found = None if told is None else told.to_apply()
    for sentence in () if told is None else describe(told):
        progress.say(f"{tr('Calibration')}: {sentence}")
    return found
