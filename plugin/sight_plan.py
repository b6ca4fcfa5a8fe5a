# SPDX-License-Identifier: GPL-2.0-or-later
"""A plan made ready for distances: read once in the background, asked often in the window."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from qgis.core import QgsCoordinateReferenceSystem, QgsGeometry, QgsPointXY

from ..processing.errors import SurveyError
from ..processing.layers import schema
from ..processing.progress import Progress
from .review_plans import LayerSource, ReviewPlan
from .translation import tr

if TYPE_CHECKING:
    from ..processing.layers.plan_frame import PlanFrame
    from ..processing.walls.distances import Distances, PlanDistance
    from ..processing.walls.references import References
    from ..processing.walls.taped import Comparison

READ = (
    schema.STATIONS,
    schema.READINGS,
    schema.TARGETS,
    schema.NETWORK_COVARIANCE,
    schema.WALL_FACES,
)


@dataclass(frozen=True, eq=False)
class SightPlan:
    """Distances on a plan, and its walls, corners and targets in the coordinates of its layers."""

    distances: Distances
    references: References
    frame: PlanFrame
    crs: QgsCoordinateReferenceSystem

    def under(self, point: QgsPointXY, within: float, levels: Collection[int] | None) -> str:
        """The name of what lies under a point in the layers' coordinates; empty for nothing."""
        import numpy as np

        found = self.references.near(np.array([point.x(), point.y()]), within, levels)
        return self.references.name[found] if found >= 0 else ""

    def shape(self, name: str) -> QgsGeometry:
        """The wall's line or the point of that name; an empty geometry for another name."""
        if name not in self.references.name:
            return QgsGeometry()
        start, end = self.references.ends[self.references.name.index(name)]
        first, second = QgsPointXY(*start), QgsPointXY(*end)
        if first == second:
            return QgsGeometry.fromPointXY(first)
        return QgsGeometry.fromPolylineXY([first, second])

    def between(self, first: str, second: str) -> tuple[PlanDistance, QgsGeometry]:
        """A distance, and the line it was taken along; SurveyError as `Distances.between`."""
        found = self.distances.between(first, second)
        ends = self.frame.place(self.distances.group_of(first), found.ends_m)
        return found, QgsGeometry.fromPolylineXY([QgsPointXY(*end) for end in ends])

    def compare(self, first: str, second: str, taped_m: float, sigma_mm: float) -> Comparison:
        """A taped distance beside the plan's."""
        from ..processing.walls.taped import Taped, compare

        return compare(self.distances, [Taped(first, second, taped_m, sigma_mm / 1000.0)])


def words_of(name: str) -> str:
    """What a reference is, for a person."""
    from ..processing.walls.distances import CORNER

    if CORNER in name:
        return tr("corner {name}").format(name=name)
    return name


def sight_sources(plan: ReviewPlan) -> dict[schema.LayerSchema, LayerSource]:
    """The layers of a whole plan that distances need, for another thread."""
    return {kind: plan.sources(kind)[0] for kind in READ}


def read_sight_plan(
    sources: Mapping[schema.LayerSchema, LayerSource],
    crs: QgsCoordinateReferenceSystem,
    progress: Progress,
) -> SightPlan:
    """Read a plan at its finest plot scale. For another thread.

    SurveyError where the layers are not those of one adjusted plan.
    """
    from ..processing.algorithms.distance_input import distances_between, walls_in_plan
    from ..processing.algorithms.survey_input import survey_layers
    from ..processing.layers.features_read import read_columns
    from ..processing.layers.read_walls import OPTIONAL_WALL_FIELDS, WALL_FIELDS
    from ..processing.walls.references import references

    def columns(
        kind: schema.LayerSchema, wanted: Sequence[str], optional: Sequence[str] = ()
    ) -> tuple[Any, Any]:
        source = sources[kind].open()
        if source is not None:
            return read_columns(source, kind.name, wanted, optional, progress)
        if kind in (schema.TARGETS, schema.NETWORK_COVARIANCE):
            return None, None
        raise SurveyError(
            tr("The plan has no layer {layer}; expected one that Plan from captures made.").format(
                layer=kind.name
            )
        )

    layers = survey_layers(columns, adjusted=True)
    walls, lines = columns(schema.WALL_FACES, WALL_FIELDS, OPTIONAL_WALL_FIELDS)
    progress.at(0.5)
    drawn = walls_in_plan(layers, walls, lines)
    if not drawn:
        raise SurveyError(tr("The plan has no walls; expected some to take distances between."))
    finest = drawn[min(drawn)]
    progress.at(0.8)
    level = None if layers.targets is None else layers.targets["level"]
    things = references(finest, layers.network.targets, level)
    progress.at(0.9)
    return SightPlan(
        distances_between(layers, finest), things.placed(layers.frame.place), layers.frame, crs
    )
