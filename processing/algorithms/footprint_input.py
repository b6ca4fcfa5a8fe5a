# SPDX-License-Identifier: GPL-2.0-or-later
"""The building outline of a site layer, for the algorithms that place a plan on the earth."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCsException,
    QgsFeatureRequest,
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingFeatureSource,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterNumber,
    QgsWkbTypes,
)

from ..errors import SurveyError
from ..progress import Progress
from .base import RoomtieAlgorithm, tr

if TYPE_CHECKING:
    from ..site.footprint_evidence import Footprint

USUAL_SIGMA_MM = 100.0


def add_footprint_parameters(algorithm: RoomtieAlgorithm) -> None:
    """A polygon layer with the building on the map, and what its edges are worth."""
    algorithm.addParameter(
        QgsProcessingParameterFeatureSource(
            "FOOTPRINT",
            tr("Building outlines of the site map"),
            [QgsProcessing.SourceType.TypeVectorPolygon],
            optional=True,
        )
    )
    algorithm.addParameter(
        QgsProcessingParameterNumber(
            "SIGMA_FOOTPRINT",
            tr("Standard error of an outline's edge (mm)"),
            QgsProcessingParameterNumber.Type.Double,
            USUAL_SIGMA_MM,
            minValue=1.0,
        )
    )


def read_footprint(
    algorithm: RoomtieAlgorithm,
    host_target: QgsCoordinateReferenceSystem,
    outlines: Mapping[int, Any],
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    told: list[str],
    progress: Progress,
) -> Footprint | None:
    """The buildings in host coordinates of the target CRS, with the outlines of the plan's groups;
    None where no layer was given. Polygons that are not valid are left out, since a town's map has
    some: `told` gets a sentence."""
    import shapely

    from ..layers.shapes import has_arcs, shape_of
    from ..site.footprint_evidence import Footprint

    if parameters.get("FOOTPRINT") in (None, ""):
        return None
    source = algorithm.source(parameters, "FOOTPRINT", context)
    layer = f"FOOTPRINT, layer {source.sourceName()}"
    if not source.sourceCrs().isValid():
        raise SurveyError(f"{layer}: it has no coordinate system; expected one that is known.")
    request = QgsFeatureRequest().setDestinationCrs(host_target, context.transformContext())
    unchecked = QgsProcessingFeatureSource.Flag.FlagSkipGeometryValidityChecks
    buildings, left_out = [], []
    try:
        found = source.getFeatures(request, unchecked)
        for feature in progress.over(found, source.featureCount()):
            if not feature.hasGeometry():
                continue
            if has_arcs(feature.geometry()):
                kind = QgsWkbTypes.displayString(feature.geometry().wkbType())
                left_out.append(f"feature {feature.id()} ({kind}: it has arcs)")
                continue
            shape = shape_of(feature.geometry(), f"{layer}, feature {feature.id()}")
            if shape.geom_type not in ("Polygon", "MultiPolygon") or not shape.is_valid:
                reason = shapely.is_valid_reason(shape)
                left_out.append(f"feature {feature.id()} ({shape.geom_type}: {reason})")
            elif not np.isfinite(shape.bounds).all():
                left_out.append(f"feature {feature.id()} (no place in {host_target.authid()})")
            else:
                buildings.append(shape)
    except QgsCsException as error:
        raise SurveyError(f"{layer}: could not be transformed: {error}.") from error
    some = ", ".join(left_out[:3]) + (" and others" if len(left_out) > 3 else "")
    if not buildings:
        raise SurveyError(
            f"{layer}: it has no {'valid ' if left_out else ''}polygons"
            f"{f': {some}' if left_out else ''}; expected the outline of the building."
        )
    if left_out:
        told.append(f"{layer}: outlines that are not valid are left out: {some}.")
    sigma = algorithm.parameterAsDouble(parameters, "SIGMA_FOOTPRINT", context) / 1000.0
    return Footprint(buildings, outlines, sigma)
