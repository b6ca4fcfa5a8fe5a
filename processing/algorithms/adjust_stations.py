# SPDX-License-Identifier: GPL-2.0-or-later
"""Adjust stations: tie captures by targets and overlap and adjust the whole network."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsProcessingContext,
    QgsProcessingOutputNumber,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterNumber,
    QgsProcessingParameterString,
)

from ..captures.defaults import ANGLE_SIGMA_DEG, DISTANCE_SIGMA_M
from ..layers import schema
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .choices_input import add_choice_parameters, read_choices
from .crs import plan_crs
from .instrument_input import add_instrument_parameters, calibrated
from .survey_input import add_readings, add_stations, read_survey_layers
from .target_input import add_target_parameters, target_limits
from .translation import mark

if TYPE_CHECKING:
    from ..stations.choices import Choices, Start
    from ..stations.model import Network
    from ..stations.systematics import Systematics

NUMBERS = (
    ("REFERENCE_VARIANCE", mark("Reference variance")),
    ("DEGREES_OF_FREEDOM", mark("Degrees of freedom")),
    ("LARGEST_STANDARDISED_RESIDUAL", mark("Largest standardised residual")),
    ("UNCONNECTED_STATIONS", mark("Unconnected stations")),
    ("REJECTED_TIES", mark("Rejected ties")),
)


def network_numbers(network: Network) -> dict[str, float]:
    """The outputs that say how the stations agree."""
    statistics = network.statistics
    return {
        "REFERENCE_VARIANCE": statistics.reference_variance,
        "DEGREES_OF_FREEDOM": statistics.degrees_of_freedom,
        "LARGEST_STANDARDISED_RESIDUAL": statistics.largest_standardised_residual,
        "UNCONNECTED_STATIONS": statistics.unconnected_stations,
        "REJECTED_TIES": statistics.rejected_ties,
    }


def add_adjustment_parameters(algorithm: RoomtieAlgorithm) -> None:
    """The datum, the noise and the kinds of tie."""
    algorithm.addParameter(
        QgsProcessingParameterString(
            "HOLD", tr("Held station (empty: free network)"), "", optional=True
        )
    )
    for name, title, value in (
        ("SIGMA_DISTANCE", mark("Standard error of a distance (mm)"), 1000 * DISTANCE_SIGMA_M),
        ("SIGMA_ANGLE", mark("Standard error of an angle (deg)"), ANGLE_SIGMA_DEG),
    ):
        algorithm.addParameter(
            QgsProcessingParameterNumber(
                name, tr(title), QgsProcessingParameterNumber.Type.Double, value, minValue=1e-6
            )
        )
    for name, title in (
        ("USE_TARGETS", mark("Use sighted targets")),
        ("USE_OVERLAP", mark("Use overlapping wall faces")),
        ("USE_COMPASS", mark("Use compass bearings")),
    ):
        algorithm.addParameter(QgsProcessingParameterBoolean(name, tr(title), True))
    add_instrument_parameters(algorithm)
    add_target_parameters(algorithm)


def tie_with_parameters(
    algorithm: RoomtieAlgorithm,
    survey: Any,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    progress: Progress,
    choices: Choices | None = None,
    start: Start | None = None,
    corrected: Systematics | None = None,
) -> Any:
    """The survey tied as the parameters say (`chain.Tied`), with what a person decided, from the
    poses there are; freed of what calibration captures tell, else of errors known before."""
    from ..chain import tie_and_correct, tie_stations
    from ..stations.choices import Choices
    from ..stations.network_options import NetworkOptions

    sigmas = (
        algorithm.parameterAsDouble(parameters, "SIGMA_DISTANCE", context) / 1000.0,
        algorithm.parameterAsDouble(parameters, "SIGMA_ANGLE", context),
    )
    known = calibrated(algorithm, parameters, context, sigmas, progress.part(0.0, 0.2))
    if known is not None:
        progress = progress.part(0.2, 1.0)
    else:
        known = corrected
    options = NetworkOptions(
        hold=algorithm.parameterAsString(parameters, "HOLD", context) or None,
        use_targets=algorithm.parameterAsBool(parameters, "USE_TARGETS", context),
        use_overlap=algorithm.parameterAsBool(parameters, "USE_OVERLAP", context),
        use_compass=algorithm.parameterAsBool(parameters, "USE_COMPASS", context),
        corrected=known,
        choices=choices if choices is not None else Choices(),
        start=start,
        limits=target_limits(algorithm, parameters, context),
    )
    correct = algorithm.parameterAsBool(parameters, "CORRECT_INSTRUMENT", context)
    tie = tie_and_correct if correct else tie_stations
    return tie(survey, options, *sigmas, progress)


class AdjustStations(RoomtieAlgorithm):
    ID = "adjuststations"
    TITLE = "Adjust stations"
    PAGE = "adjust-stations"
    HELP = (
        "Ties the stations by sighted targets and by the wall faces that captures share, and "
        "adjusts each connected network in one weighted least-squares adjustment. Every station "
        "gets its standard errors; every tie its residual and standardised residual; a tie that "
        "does not agree is rejected and listed with the reason.\n\n"
        "Stations without a tie are sketched apart by compass and geotag, and said so. They are "
        "never joined by guesswork.\n\n"
        "A result can be the input again: what the field choice says of a station (hold, leave "
        "out) and, in the earlier ties, of a tie (leave out, a factor on its standard error) "
        "counts, and stations that were tied are not searched again."
    )

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        add_stations(self, mark("Stations as recorded"))
        add_readings(self)
        add_adjustment_parameters(self)
        add_choice_parameters(self)
        self.add_sink("ADJUSTED_STATIONS", mark("Adjusted stations"), schema.STATIONS)
        self.add_sink("ADJUSTED_READINGS", mark("Adjusted readings"), schema.READINGS)
        self.add_sink("TIES", mark("Ties"), schema.TIES)
        self.add_sink("TARGETS", mark("Targets"), schema.TARGETS, by_default=False)
        self.add_sink(
            "NETWORK_COVARIANCE",
            mark("Network covariance"),
            schema.NETWORK_COVARIANCE,
            by_default=False,
        )
        self.add_report()
        for name, title in NUMBERS:
            self.addOutput(QgsProcessingOutputNumber(name, tr(title)))

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..layers import rows
        from ..reports.html import page
        from ..reports.network_section import network_section_html

        layers = read_survey_layers(self, parameters, context, progress, adjusted=False)
        decided = read_choices(self, layers, parameters, context, progress)
        tied = tie_with_parameters(
            self, layers.survey, parameters, context, progress.part(0.1, 0.9), *decided
        )
        network = tied.network
        for sentence in (*tied.survey.warnings, *network.warnings):
            progress.say(sentence)
        made = progress.part(0.9, 0.92)
        tables = {
            "ADJUSTED_STATIONS": rows.adjusted_stations(tied.survey, network),
            "ADJUSTED_READINGS": rows.adjusted_readings(tied.survey, network, None, made),
            "TIES": rows.ties(tied.survey, network),
            "TARGETS": rows.targets(tied.survey, network),
            "NETWORK_COVARIANCE": rows.network_covariance(network),
        }
        sections = network_section_html(tied.survey, network, progress.part(0.92, 0.95))
        html = page("Adjustment of stations", sections)
        progress.at(0.95)
        crs = plan_crs("plan coordinates")
        return {
            **self.store_with_report(tables, html, parameters, context, crs),
            **network_numbers(network),
        }
