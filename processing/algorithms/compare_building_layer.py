# SPDX-License-Identifier: GPL-2.0-or-later
"""Compare with building layer: what a new survey says of the rooms that somebody keeps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsFeatureRequest,
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingOutputNumber,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterNumber,
)

from ..errors import SurveyError
from ..layers import schema
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .building_fields import add_field_parameters, check_fields, read_fields
from .building_input import (
    MM,
    UNCHECKED,
    check_plane,
    moved,
    new_rooms,
    old_rooms,
    read_maintained,
)
from .building_tables import changes_table, findings_table
from .crs import transform_between
from .translation import mark

if TYPE_CHECKING:
    pass

WANTED = ("room", "level")
OPTIONAL = ("name", "plot_scale", "area_m2", "sigma_area_m2", "sigma_seen_m2", "seen_share")


class CompareBuildingLayer(RoomtieAlgorithm):
    ID = "comparebuildinglayer"
    TITLE = "Compare with building layer"
    PAGE = "building-layers"
    HELP = (
        "Matches new rooms with a maintained layer of rooms and says what became of each: "
        "unchanged, reshaped, moved, split, merged, new, removed, or unresolved (for a person). A "
        "shift of the whole layer is found first and told as one. Each judgement takes the "
        "standard errors of both into account.\n\n"
        "The layer may be any polygon layer in any coordinate system, with any names of fields; "
        "nothing in it is changed. The changes are the input of Update building layer. The report "
        "has a map, the areas before and now, and what is wrong in the maintained layer, each with "
        "a fix proposed.\n\n"
        "Without 'every room was surveyed', an old room of which nothing was seen is left to a "
        "person: it may be gone, or nobody went in."
    )

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        polygons = [QgsProcessing.SourceType.TypeVectorPolygon]
        for name, title, optional in (
            ("ROOMS", mark("New rooms"), False),
            ("BUILDING", mark("Maintained rooms"), False),
            ("FOOTPRINT", mark("Outline of what was surveyed"), True),
        ):
            self.addParameter(
                QgsProcessingParameterFeatureSource(name, tr(title), polygons, optional=optional)
            )
            if name == "BUILDING":
                add_field_parameters(self)
        number = QgsProcessingParameterNumber
        for name, title, usual, least, most in (
            ("SIGMA_BUILDING", mark("Standard error of a maintained outline (mm)"), 30.0, 0.1, 1e5),
            (
                "SIGMA_ROOMS",
                mark("Standard error of a new outline that gives none (mm)"),
                10.0,
                0.1,
                1e5,
            ),
            ("CONFIDENCE", mark("Confidence of the judgements (%)"), 99.9, 50.0, 99.9999),
        ):
            self.addParameter(
                number(name, tr(title), number.Type.Double, usual, minValue=least, maxValue=most)
            )
        self.addParameter(
            number("LEVEL", tr("Storey (empty: all)"), number.Type.Integer, None, optional=True)
        )
        for name, title, usual in (
            ("COMPLETE", mark("Every room was surveyed: what is not there is gone"), False),
            (
                "KEEP_FRAME",
                mark("Bring new outlines to where the layer lies, if it is shifted"),
                True,
            ),
        ):
            self.addParameter(QgsProcessingParameterBoolean(name, tr(title), usual))
        self.add_sink("CHANGES", mark("Changes"), schema.CHANGES)
        self.add_sink(
            "FINDINGS", mark("Findings on the layer"), schema.LAYER_FINDINGS, by_default=False
        )
        self.add_report()
        for name, title in (
            ("CHANGED", mark("Rooms changed")),
            ("UNRESOLVED", mark("Rooms unresolved")),
            ("FINDINGS_COUNT", mark("Number of findings")),
        ):
            self.addOutput(QgsProcessingOutputNumber(name, tr(title)))

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..building.checks import checked
        from ..building.compare import Options, compare
        from ..building.naming import proposed
        from ..layers.features_read import read_columns
        from ..reports.building_section import building_section_html
        from ..reports.html import page

        profile = read_fields(self, parameters, context)
        source = self.source(parameters, "BUILDING", context)
        rooms = self.source(parameters, "ROOMS", context)
        where = f"BUILDING, layer {source.sourceName()}"
        check_fields(profile, [field.name() for field in source.fields()], where)
        check_plane(rooms)
        plane, crs = rooms.sourceCrs(), source.sourceCrs()
        if not crs.isValid():
            crs = plane
        columns, shapes = read_columns(rooms, rooms.sourceName() or "ROOMS", WANTED, OPTIONAL)
        number = self.parameterAsDouble
        new, ground = new_rooms(
            columns,
            shapes,
            f"ROOMS, layer {rooms.sourceName()}",
            number(parameters, "SIGMA_ROOMS", context) / MM,
        )
        rows = read_maintained(
            source,
            where,
            profile,
            number(parameters, "SIGMA_BUILDING", context) / MM,
            transform_between(crs, plane, context),
            progress.part(0.0, 0.3),
        )
        if not profile.level:
            levels = sorted(set(new.level.tolist()))
            asked = self.optional_number(parameters, "LEVEL", context)
            if len(levels) > 1 and asked is None:
                raise SurveyError(
                    f"LEVEL_FIELD: {where} has no field of the storey, and ROOMS has the storeys "
                    f"{', '.join(map(str, levels))}; expected that field, or LEVEL."
                )
            storey = int(asked) if asked is not None else levels[0]
            rows.level[:] = [storey] * len(rows.level)
        footprint = self._footprint(parameters, context, plane, progress.part(0.3, 0.35))
        findings = checked(
            rows.id, rows.raw, rows.level, footprint, progress=progress.part(0.35, 0.5)
        )
        everything = rows
        if parameters.get("LEVEL") not in (None, ""):
            asked = self.parameterAsInt(parameters, "LEVEL", context)
            rows = rows.take([i for i, level in enumerate(rows.level) if level == asked])
            new = new.taken(np.flatnonzero(new.level == asked))
            if not len(rows.id):
                raise SurveyError(f"{where}: it has no rooms on storey {asked}.")
        options = Options(
            number(parameters, "CONFIDENCE", context) / 100.0,
            self.parameterAsBoolean(parameters, "COMPLETE", context),
            footprint,
        )
        old = old_rooms(rows, ground)
        comparison = compare(old, new, options, progress.part(0.5, 0.8))
        place = source.fields().lookupField(profile.id)
        names = proposed(
            comparison.changes, old, new, set(everything.id), source.fields()[place].isNumeric()
        )
        keep = self.parameterAsBoolean(parameters, "KEEP_FRAME", context)
        back = transform_between(plane, crs, context)
        tables = {
            "CHANGES": changes_table(comparison, names, rows, keep, back),
            "FINDINGS": findings_table(findings, back),
        }
        html = page(
            tr("Building layer compared"), building_section_html(comparison, names, findings)
        )
        changed = [row for row in comparison.changes if row.change != "unchanged"]
        return {
            **self.store_with_report(
                tables, html, parameters, context, crs, progress.part(0.8, 1.0)
            ),
            "CHANGED": len(changed) - comparison.count("unresolved"),
            "UNRESOLVED": comparison.count("unresolved"),
            "FINDINGS_COUNT": len(findings),
        }

    def _footprint(
        self,
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        plane: QgsCoordinateReferenceSystem,
        progress: Progress,
    ) -> Any:
        import shapely

        from ..layers.shapes import shape_of

        if parameters.get("FOOTPRINT") in (None, ""):
            return None
        source = self.source(parameters, "FOOTPRINT", context)
        where = f"FOOTPRINT, layer {source.sourceName()}"
        change = transform_between(source.sourceCrs(), plane, context)
        shapes = [
            shape_of(moved(f.geometry(), change, f"{where}, {f.id()}"), f"{where}, {f.id()}")
            for f in progress.over(
                source.getFeatures(QgsFeatureRequest(), UNCHECKED), source.featureCount()
            )
            if f.hasGeometry()
        ]
        if not shapes:
            raise SurveyError(f"{where}: it has no polygons; expected the outline of a building.")
        return shapely.union_all(shapely.make_valid(np.array(shapes, dtype=object)))
