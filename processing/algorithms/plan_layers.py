# SPDX-License-Identifier: GPL-2.0-or-later
"""The layers of a plan in plan coordinates, wherever they were moved to before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from qgis.core import QgsCoordinateReferenceSystem, QgsVectorLayer

from ..errors import SurveyError
from ..progress import Progress
from .crs import called
from .survey_input import SurveyLayers

if TYPE_CHECKING:
    from ..layers.features_read import LayerCopy
    from ..layers.plan_frame import PlanFrame
    from ..layers.table import Table

FAR_M = 10_000.0


@dataclass(frozen=True)
class LayerWithCrs:
    """A layer as it can be read on another thread, with its coordinate system."""

    copy: LayerCopy
    crs: QgsCoordinateReferenceSystem

    @staticmethod
    def of(layer: QgsVectorLayer) -> LayerWithCrs:
        from ..layers.features_read import LayerCopy

        return LayerWithCrs(LayerCopy.of(layer), layer.crs())


@dataclass(frozen=True)
class InPlan:
    """The tables in plan coordinates, and where they had been moved to (None: nowhere)."""

    tables: list[Table]
    before: PlanFrame | None


def in_plan(
    given: Sequence[LayerWithCrs],
    survey: SurveyLayers,
    stations_crs: QgsCoordinateReferenceSystem,
    progress: Progress,
) -> InPlan:
    """The layers taken back to plan coordinates by the stations, whose attributes keep theirs.

    An error band is left out: it belongs to the fit that made it. SurveyError where layers and
    stations do not lie in one coordinate system, or not where one motion puts them.
    """
    network = survey.network
    tables = _tables(given, dict(zip(network.station, network.network.tolist())), progress)
    frame = _frame(survey, tables)
    if frame is not None and frame.moved:
        for layer in given:
            if layer.crs.isValid() and layer.crs != stations_crs:
                raise SurveyError(
                    f"Layer {layer.copy.name} lies in {called(layer.crs)}, the stations in "
                    f"{called(stations_crs)}; expected the layers of one plan, all in one "
                    "coordinate system."
                )
        tables = [table.placed(frame.to_plan) for table in tables]
    else:
        frame = None
    for table in tables:
        _check_near(table)
    return InPlan(tables, frame)


def _tables(
    given: Sequence[LayerWithCrs], group_of: dict[str, int], progress: Progress
) -> list[Table]:
    from ..layers.features_read import read_table
    from ..layers.schema import ERROR_BAND, schema_with

    def network_of(row: dict[str, Any]) -> int:
        if row.get("network") is not None:
            return int(row["network"])
        station = row.get("station") or row.get("from_station") or row.get("station_a")
        return group_of.get(str(station), 1)

    tables: list[Table] = []
    taken: set[str] = set()
    for part, layer in progress.each(given):
        known = schema_with({field.name() for field in layer.copy.fields})
        if known is ERROR_BAND:
            continue
        name = plain = known.name if known else layer.copy.name
        number = 1
        while name.casefold() in taken:
            number += 1
            name = f"{plain} ({number})"
        taken.add(name.casefold())
        tables.append(read_table(layer.copy, name, network_of, part))
    if not tables:
        raise SurveyError("LAYERS: nothing was given; expected the layers of a plan.")
    return tables


def _frame(survey: SurveyLayers, tables: Sequence[Table]) -> PlanFrame | None:
    """The motion that the stations tell, and their readings where a group is one station alone;
    None where the stations have no points."""
    from ..layers.read import OPTIONAL_READING_FIELDS, READING_FIELDS
    from ..layers.schema import READINGS

    if all(point is None for point in survey.station_points):
        return None
    groups = survey.network.network.tolist()
    if any(groups.count(group) == 1 for group in groups):
        for table in tables:
            names = table.schema.field_names
            if set(READINGS.field_names) <= set(names):
                columns = {
                    name: list(table.column(name))
                    for name in (*READING_FIELDS, *OPTIONAL_READING_FIELDS)
                }
                survey = replace(survey, readings=columns, reading_points=table.geometry)
                break
    return survey.frame


def _check_near(table: Table) -> None:
    """No building reaches so far from its first station: such a layer does not belong to it."""
    import numpy as np
    import shapely

    farthest = np.abs(shapely.get_coordinates(table.geometry)).max(initial=0.0)
    if farthest > FAR_M:
        raise SurveyError(
            f"Layer {table.schema.name}: it lies {farthest / 1000:.0f} km from the plan's origin "
            "as the stations tell it; expected layers that were moved together with the stations."
        )
