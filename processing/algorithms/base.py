# SPDX-License-Identifier: GPL-2.0-or-later
"""What all algorithms share: identity, the host's exception, progress, sources and sinks."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsProcessing,
    QgsProcessingAlgorithm,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProcessingFeatureSource,
    QgsProcessingFeedback,
    QgsProcessingParameterFeatureSink,
    QgsProcessingParameterFileDestination,
)

from ..errors import Cancelled, SurveyError
from ..files import all_or_nothing
from ..layers.schema import LayerSchema
from ..progress import SILENT, Progress
from .host_python import missing_packages, tr

SOURCE_TYPES = {
    "Point": QgsProcessing.SourceType.TypeVectorPoint,
    "LineString": QgsProcessing.SourceType.TypeVectorLine,
    "Polygon": QgsProcessing.SourceType.TypeVectorPolygon,
    "NoGeometry": QgsProcessing.SourceType.TypeVector,
}


def progress_of(feedback: QgsProcessingFeedback | None) -> Progress:
    """A stage's progress that reports to the host and hears its cancel button."""
    if feedback is None:
        return SILENT
    return Progress(
        cancelled=feedback.isCanceled,
        moved=lambda fraction: feedback.setProgress(100.0 * fraction),
        said=feedback.pushInfo,
    )


__all__ = ["RoomtieAlgorithm", "progress_of", "tr"]


class RoomtieAlgorithm(QgsProcessingAlgorithm):
    """An algorithm that states what it is in `ID`, `TITLE` and `HELP` and works in `compute`."""

    ID = ""
    TITLE = ""
    HELP = ""

    def name(self) -> str:
        return self.ID

    def displayName(self) -> str:
        return tr(self.TITLE)

    def shortHelpString(self) -> str:
        return tr(self.HELP)

    def createInstance(self) -> RoomtieAlgorithm:
        return type(self)()

    def canExecute(self) -> tuple[bool, str]:
        sentence = missing_packages()
        return not sentence, sentence

    def compute(
        self, parameters: dict[str, Any], context: QgsProcessingContext, progress: Progress
    ) -> dict[str, Any]:
        """Do the work and return the outputs."""
        raise NotImplementedError

    def processAlgorithm(
        self,
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        feedback: QgsProcessingFeedback | None,
    ) -> dict[str, Any]:
        sentence = missing_packages()
        if sentence:
            raise QgsProcessingException(sentence)
        try:
            return self.compute(parameters, context, progress_of(feedback))
        except Cancelled as stop:
            if feedback is not None:
                feedback.pushInfo(str(stop))
            return {}
        except SurveyError as error:
            raise QgsProcessingException(str(error)) from error

    # parameters that several algorithms have

    def add_sink(self, name: str, title: str, schema: LayerSchema, by_default: bool = True) -> None:
        """A layer to write, which may be skipped."""
        self.addParameter(
            QgsProcessingParameterFeatureSink(
                name,
                tr(title),
                SOURCE_TYPES[schema.geometry],
                defaultValue=None,
                optional=True,
                createByDefault=by_default,
            )
        )

    def add_report(self, name: str = "OUTPUT_HTML", title: str = "Report") -> None:
        self.addParameter(
            QgsProcessingParameterFileDestination(
                name, tr(title), tr("HTML files (*.html)"), optional=True, createByDefault=True
            )
        )

    def source(
        self, parameters: dict[str, Any], name: str, context: QgsProcessingContext
    ) -> QgsProcessingFeatureSource:
        """A vector input; the host's own sentence when it cannot be loaded."""
        source = self.parameterAsSource(parameters, name, context)
        if source is None:
            raise QgsProcessingException(self.invalidSourceError(parameters, name))
        return source

    def optional_number(
        self, parameters: dict[str, Any], name: str, context: QgsProcessingContext
    ) -> float | None:
        """A number that may be left empty."""
        if parameters.get(name) in (None, ""):
            return None
        return self.parameterAsDouble(parameters, name, context)

    def geopackage_output(
        self, parameters: dict[str, Any], name: str, context: QgsProcessingContext
    ) -> Path:
        """The GeoPackage to write; the ending is added where it is missing, since the host knows
        the format by it."""
        text = self.parameterAsFileOutput(parameters, name, context)
        return Path(text if text.lower().endswith(".gpkg") else f"{text}.gpkg")

    def store(
        self,
        tables: dict[str, Any],
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        crs: QgsCoordinateReferenceSystem,
    ) -> dict[str, Any]:
        """Write tables to the sinks named; the outputs by name. A skipped sink is passed over.

        Not cancelled half-way: by now all is computed, and a whole layer beats a part of one.
        """
        from ..layers.features import WKB_TYPES, host_fields, write

        opened = []
        made: list[Path] = []
        try:
            for name, table in tables.items():
                fields = host_fields(table.schema)
                asked = parameters.get(name)
                before = isinstance(asked, str) and Path(asked).exists()
                sink, destination = self.parameterAsSink(
                    parameters, name, context, fields, WKB_TYPES[table.schema.geometry], crs
                )
                if sink is None:
                    if asked not in (None, ""):
                        raise QgsProcessingException(self.invalidSinkError(parameters, name))
                    continue
                opened.append((name, table, fields, sink, destination))
                if not before:
                    made.append(Path(destination.split("|")[0]))
            for name, table, fields, sink, _ in opened:
                write(table, sink, f"{name}, layer {table.schema.name}", fields)
                if hasattr(sink, "finalize"):
                    sink.finalize()
        except (SurveyError, QgsProcessingException):
            opened.clear()
            for path in made:
                if path.is_file():
                    path.unlink()
            raise
        return {name: destination for name, _, _, _, destination in opened}

    def store_with_report(
        self,
        tables: dict[str, Any],
        html: str,
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        crs: QgsCoordinateReferenceSystem,
    ) -> dict[str, Any]:
        """Write tables to the sinks named and the page to OUTPUT_HTML, which appears only when all
        layers are written; the outputs by name."""
        report = self.parameterAsFileOutput(parameters, "OUTPUT_HTML", context)
        with all_or_nothing() as draft:
            if report:
                draft(Path(report)).write_text(html, encoding="utf-8")
            results = self.store(tables, parameters, context, crs)
        return {**results, **({"OUTPUT_HTML": report} if report else {})}
