# SPDX-License-Identifier: GPL-2.0-or-later
"""Update building layer: accepted changes into the rooms that somebody keeps, all or nothing."""

from __future__ import annotations

import hashlib
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsProcessing,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProcessingOutputNumber,
    QgsProcessingOutputString,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterFile,
    QgsProcessingParameterFileDestination,
    QgsProcessingParameterString,
    QgsProcessingParameterVectorLayer,
    QgsVectorLayer,
)

from ..errors import SurveyError
from ..files import all_or_nothing, write_text
from ..layers import schema
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .building_copy import write_copy
from .building_edits import Planned, Provenance, check_states, planned
from .building_fields import add_field_parameters, check_fields, read_fields
from .building_update import Way, taken_back, updated
from .translation import mark

if TYPE_CHECKING:
    from ..building.field_profile import FieldProfile

CLASSES = ("reshaped", "moved", "split", "merged", "new", "removed", "unresolved", "unchanged")
USUAL = [0, 1, 2, 3, 4, 5, 6]


class UpdateBuildingLayer(RoomtieAlgorithm):
    ID = "updatebuildinglayer"
    TITLE = "Update building layer"
    PAGE = "building-layers"
    HELP = (
        "Brings accepted changes of Compare with building layer into the maintained layer: new "
        "outlines, with identifiers and every other attribute kept. Of a split the largest part "
        "keeps the identifier and all parts its attributes; a merged room goes on as the old room "
        "it has most of. Rooms that end keep their row with a last day of validity where there is "
        "such a field, else they go to a history table.\n\n"
        "All is one transaction: everything or nothing. A room that somebody changed since it was "
        "compared stops the update before anything is written. A dry run does all of it, triggers "
        "and foreign keys included, and takes it back. The undo file brings the old state back.\n\n"
        "A shapefile, or another format without transactions, is not touched: a changed copy is "
        "written."
    )

    def initAlgorithm(self, configuration: dict[str, Any] | None = None) -> None:
        source = QgsProcessing.SourceType
        self.addParameter(
            QgsProcessingParameterFeatureSource(
                "CHANGES", tr("Changes"), [source.TypeVectorPolygon], optional=True
            )
        )
        self.addParameter(
            QgsProcessingParameterVectorLayer(
                "BUILDING", tr("Maintained rooms"), [source.TypeVectorPolygon]
            )
        )
        add_field_parameters(self)
        self.addParameter(
            QgsProcessingParameterEnum(
                "ACCEPT", tr("Changes to make, of those accepted"), CLASSES, True, USUAL
            )
        )
        self.addParameter(QgsProcessingParameterBoolean("DRY_RUN", tr("Dry run"), True))
        self.addParameter(
            QgsProcessingParameterBoolean("WRITE_AREA", tr("Write areas into their field"), False)
        )
        self.addParameter(
            QgsProcessingParameterString(
                "DATE", tr("Date of survey (ISO 8601; empty: today)"), "", optional=True
            )
        )
        file = QgsProcessingParameterFile
        for name, title in (
            ("SURVEY_REPORT", mark("Report whose SHA-256 is kept")),
            (
                "INVERSE",
                mark("Undo file of an earlier update, to take it back (instead of changes)"),
            ),
        ):
            self.addParameter(file(name, tr(title), optional=True))
        for name, title, kind, usual in (
            ("UNDO", mark("Undo file"), mark("JSON (*.json)"), True),
            (
                "COPY",
                mark("Copy, for a format without transactions"),
                mark("Shapefile (*.shp)"),
                False,
            ),
        ):
            self.addParameter(
                QgsProcessingParameterFileDestination(
                    name, tr(title), tr(kind), optional=True, createByDefault=usual
                )
            )
        self.add_report()
        self.addOutput(QgsProcessingOutputString("OUTPUT", tr("The layer")))
        self.addOutput(QgsProcessingOutputNumber("CHANGED", tr("Rows changed")))

    def prepareAlgorithm(
        self,
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        feedback: QgsProcessingFeedback,
    ) -> bool:
        self._layer = self.parameterAsVectorLayer(parameters, "BUILDING", context)
        return True

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        from ..layers.maintained.opening import has_transactions, open_session

        layer = self._layer
        if layer is None or not layer.isValid():
            raise SurveyError("BUILDING: the layer cannot be loaded; expected polygons.")
        where = f"BUILDING, layer {layer.name()}"
        if layer.isEditable() and layer.isModified():
            raise SurveyError(f"{where}: it has edits that are not saved; save or drop them first.")
        profile = read_fields(self, parameters, context)
        check_fields(profile, [field.name() for field in layer.fields()], where)
        dry = self.parameterAsBoolean(parameters, "DRY_RUN", context)
        on = (self.optional_date(parameters, "DATE", context) or date.today()).isoformat()
        inverse = self.parameterAsFile(parameters, "INVERSE", context)
        given = parameters.get("CHANGES") not in (None, "")
        if bool(inverse) == given:
            raise SurveyError(
                "Expected either CHANGES or INVERSE, an undo file; found "
                f"{'both' if given else 'neither'}."
            )
        if inverse:
            with closing(open_session(layer)) as session:
                count = taken_back(session, Path(inverse), profile, dry, progress)
            return self._done(parameters, context, layer, [], count, dry, "taken back")
        plan = self._planned(parameters, context, layer, profile, on)
        progress.at(0.3)
        result: dict[str, Any] = {}
        if has_transactions(layer):
            undo = self.parameterAsFileOutput(parameters, "UNDO", context)
            way = Way(on, dry, Path(undo) if undo else None)
            with closing(open_session(layer)) as session:
                if updated(layer, session, plan, profile, way, progress.part(0.3, 0.9)) and undo:
                    result = {"UNDO": undo}
        else:
            copied = (parameters, context, progress.part(0.3, 0.9))
            result = self._copied(plan, layer, profile, on, dry, *copied)
        return {
            **self._done(parameters, context, layer, plan.edits, len(plan.edits), dry, "changed"),
            **result,
        }

    def _planned(
        self,
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        layer: QgsVectorLayer,
        profile: FieldProfile,
        on: str,
    ) -> Planned:
        from ..layers.features_read import read_columns

        source = self.source(parameters, "CHANGES", context)
        if source.sourceCrs().isValid() and source.sourceCrs() != layer.crs():
            raise SurveyError(
                f"CHANGES lies in {source.sourceCrs().authid()}, layer {layer.name()} in "
                f"{layer.crs().authid()}; expected the changes as they were compared."
            )
        names = [*schema.CHANGES.field_names]
        columns, shapes = read_columns(source, source.sourceName() or "CHANGES", names)
        accept = {CLASSES[i] for i in self.parameterAsEnums(parameters, "ACCEPT", context)}
        report = self.parameterAsFile(parameters, "SURVEY_REPORT", context)
        try:
            digest = hashlib.sha256(Path(report).read_bytes()).hexdigest() if report else ""
        except OSError as error:
            raise SurveyError(f"{report}: the file cannot be read ({error.strerror}).") from error
        area = self.parameterAsBoolean(parameters, "WRITE_AREA", context)
        return planned(columns, shapes, accept, profile, Provenance(on, digest, area), layer)

    def _copied(
        self,
        plan: Planned,
        layer: QgsVectorLayer,
        profile: FieldProfile,
        on: str,
        dry: bool,
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        progress: Progress,
    ) -> dict[str, Any]:
        copy = self.parameterAsFileOutput(parameters, "COPY", context)
        check_states(layer, profile, plan.state, progress.part(0.0, 0.4))
        if dry:
            return {}
        if not copy:
            raise SurveyError(
                f"BUILDING, layer {layer.name()}: {layer.storageType() or layer.providerType()} "
                "has no transactions, so that it is not changed in place; expected COPY, a new "
                "file."
            )
        write_copy(layer, plan.edits, profile, on, Path(copy), progress.part(0.4, 1.0))
        return {"OUTPUT": copy, "COPY": copy}

    def _done(
        self,
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        layer: QgsVectorLayer,
        edits: list[Any],
        count: int,
        dry: bool,
        word: str,
    ) -> dict[str, Any]:
        from ..reports.html import page, paragraph, table

        report = self.parameterAsFileOutput(parameters, "OUTPUT_HTML", context)
        said = f"Dry run: {count} row(s) would be {word}." if dry else f"{count} row(s) {word}."
        if report:
            rows = [(e.id or "(by the database)", e.do, e.like, "; ".join(e.values)) for e in edits]
            headers = ("Room", "What is done", "Attributes of", "Fields written")
            html = page(
                tr("Building layer updated"),
                paragraph(f"Layer {layer.name()}. {said}", "lead") + table(headers, rows),
            )
            try:
                with all_or_nothing() as draft:
                    write_text(draft(Path(report)), html)
            except SurveyError as error:
                raise SurveyError(f"{error} This is the report alone: {said}") from error
        return {
            "OUTPUT": layer.source(),
            "CHANGED": count,
            **({"OUTPUT_HTML": report} if report else {}),
        }

    def postProcessAlgorithm(
        self, context: QgsProcessingContext, feedback: QgsProcessingFeedback
    ) -> dict[str, Any]:
        layer, self._layer = self._layer, None
        if layer is not None and layer.isValid():
            layer.dataProvider().reloadData()
            layer.triggerRepaint()
        return {}
