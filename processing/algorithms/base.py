# SPDX-License-Identifier: GPL-2.0-or-later
"""What all algorithms share: identity, the host's exception, progress, sources and sinks."""

from __future__ import annotations

import traceback
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsFeatureSink,
    QgsProcessing,
    QgsProcessingAlgorithm,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProcessingFeatureSource,
    QgsProcessingFeedback,
    QgsProcessingParameterDefinition,
    QgsProcessingParameterFeatureSink,
    QgsProcessingParameterFileDestination,
)
from qgis.PyQt.QtGui import QIcon

from ..errors import Cancelled, SurveyError
from ..files import all_or_nothing, write_text
from ..layers.complaints import closed_whole, complaints, reason
from ..layers.schema import LayerSchema
from ..progress import SILENT, Progress
from ..threads import one_thread
from .host_python import missing_packages, not_loaded
from .outputs import outputs_kept
from .own_defaults import own_default
from .translation import tr

if TYPE_CHECKING:
    from ..layers.table import Table, TableParts

SOURCE_TYPES = {
    "Point": QgsProcessing.SourceType.TypeVectorPoint,
    "LineString": QgsProcessing.SourceType.TypeVectorLine,
    "Polygon": QgsProcessing.SourceType.TypeVectorPolygon,
    "MultiPolygon": QgsProcessing.SourceType.TypeVectorPolygon,
    "NoGeometry": QgsProcessing.SourceType.TypeVector,
}


NO_MEMORY = (
    "The memory that the host may use is not enough for this; expected a part of it at a time, or "
    "more memory."
)


def of_the_system(error: OSError) -> str:
    """What the operating system refused, where nothing nearer to it told."""
    return f"{error.filename or 'A file'}: could not be read or written: {error.strerror or error}."


HELP_SCHEME = "roomtie-help"
"""Of the addresses of help pages, which the plugin opens in a window of its own."""


def progress_of(feedback: QgsProcessingFeedback | None) -> Progress:
    """A stage's progress that reports to the host and hears its cancel button."""
    if feedback is None:
        return SILENT
    return Progress(
        cancelled=feedback.isCanceled,
        moved=lambda fraction: feedback.setProgress(100.0 * fraction),
        said=feedback.pushInfo,
    )


def heard_between(parts: Iterable[str], progress: Progress) -> Iterator[str]:
    """The parts, with an ear for a cancel before each."""
    for part in parts:
        progress.at(0.0)
        yield part


def _finish(sink: QgsFeatureSink, where: str) -> None:
    """The last word to a sink that goes out of use with this call: its file is closed. SurveyError
    where the host cannot; the last of its lines has the reason."""
    if hasattr(sink, "finalize"):
        try:
            sink.finalize()
        except QgsProcessingException as error:
            why = reason(str(error).splitlines()[-1:], "the host gave no reason")
            raise SurveyError(f"{where}: the file could not be finished: {why}.") from error


def _let_go(error: BaseException) -> None:
    """Give up what the failed functions still hold: the host keeps every exception of an algorithm
    until its end, and with it files that are open, whose space on the disk would not be free."""
    one: BaseException | None = error
    while one is not None:
        traceback.clear_frames(one.__traceback__)
        one = one.__cause__ or one.__context__


__all__ = ["RoomtieAlgorithm", "progress_of", "tr"]


class RoomtieAlgorithm(QgsProcessingAlgorithm):
    """An algorithm that states what it is in `ID`, `TITLE` and `HELP`, names its help page in
    `PAGE` and works in `compute`."""

    ID = ""
    TITLE = ""
    PAGE = ""
    HELP = ""

    def name(self) -> str:
        return self.ID

    def displayName(self) -> str:
        return tr(self.TITLE)

    def shortHelpString(self) -> str:
        return tr(self.HELP)

    def icon(self) -> QIcon:
        icon_of = getattr(self.provider(), "icon_of", None)
        return super().icon() if icon_of is None else icon_of(self.ID)

    def helpUrl(self) -> str:
        return f"{HELP_SCHEME}:{self.PAGE}"

    def addParameter(
        self, definition: QgsProcessingParameterDefinition, createOutput: bool = True
    ) -> bool:
        own = own_default(definition.name())
        if own is not None:
            definition.setDefaultValue(own)
        return bool(super().addParameter(definition, createOutput))

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
            with one_thread():
                return self.compute(parameters, context, progress_of(feedback))
        except Cancelled as stop:
            if feedback is not None:
                feedback.pushInfo(str(stop))
            return {}
        except SurveyError as error:
            _let_go(error)
            raise QgsProcessingException(str(error)) from error
        except MemoryError as error:
            _let_go(error)
            raise QgsProcessingException(NO_MEMORY) from error
        except ImportError as error:
            _let_go(error)
            raise QgsProcessingException(not_loaded(error)) from error
        except OSError as error:
            _let_go(error)
            raise QgsProcessingException(of_the_system(error)) from error
        except BaseException as error:
            _let_go(error)
            raise

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

    def add_report(self, name: str = "OUTPUT_HTML") -> None:
        """The report to write, which may be skipped."""
        self.addParameter(
            QgsProcessingParameterFileDestination(
                name, tr("Report"), tr("HTML files (*.html)"), optional=True, createByDefault=True
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

    def optional_date(
        self, parameters: dict[str, Any], name: str, context: QgsProcessingContext
    ) -> date | None:
        """A day that may be left empty, of an ISO 8601 date or date and time; SurveyError for
        another text."""
        text = self.parameterAsString(parameters, name, context).strip()
        if not text:
            return None
        try:
            if text[10:11] not in ("", "T", " "):
                raise ValueError
            return date.fromisoformat(text[:10])
        except ValueError:
            raise SurveyError(
                f"{name}: found {text!r}, expected a date such as 2026-03-18."
            ) from None

    def geopackage_output(
        self, parameters: dict[str, Any], name: str, context: QgsProcessingContext
    ) -> Path:
        """The GeoPackage to write; the ending is added where it is missing, since the host knows
        the format by it."""
        text = self.parameterAsFileOutput(parameters, name, context)
        return Path(text if text.lower().endswith(".gpkg") else f"{text}.gpkg")

    def store(
        self,
        tables: Mapping[str, Table | TableParts],
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        crs: QgsCoordinateReferenceSystem,
        progress: Progress = SILENT,
    ) -> dict[str, Any]:
        """Write tables to the sinks named; the outputs by name. A skipped sink is passed over.

        When it fails or is cancelled, nothing new is left, and a file that was to be written over
        is as it was.
        """
        from ..layers.features import WKB_TYPES, host_fields, write
        from ..layers.geopackage_rows import fill_points
        from ..layers.table import TableParts
        from .loading import style_results

        sinks: dict[str, QgsFeatureSink] = {}
        destinations: dict[str, str] = {}
        total = sum(len(table) for table in tables.values())
        done = 0
        own_geopackages: set[str] = set()
        heard: dict[str, list[str]] = {}
        with outputs_kept([*tables], parameters, context, progress) as drafts:
            try:
                for name, table in tables.items():
                    fields = host_fields(table.schema)
                    kind = WKB_TYPES[table.schema.geometry]
                    with complaints() as heard[name]:
                        sink, destination = self.parameterAsSink(
                            drafts.parameters, name, context, fields, kind, crs
                        )
                    if sink is not None:
                        sinks[name], destinations[name] = sink, destination
                        if drafts.add(destination) and destination.lower().endswith(".gpkg"):
                            own_geopackages.add(destination)
                    elif parameters.get(name) not in (None, ""):
                        raise QgsProcessingException(self.invalidSinkError(parameters, name))
                sink = None
                for name in [*sinks]:
                    table = tables[name]
                    part = progress.part(done / max(total, 1), (done + len(table)) / max(total, 1))
                    done += len(table)
                    where = f"{name}, layer {table.schema.name}"
                    in_parts = (
                        isinstance(table, TableParts) and destinations[name] in own_geopackages
                    )
                    if not in_parts:
                        fields = host_fields(table.schema)
                        write(table, sinks[name], where, fields, part, heard[name])
                    file = drafts.file_of(name, destinations[name])
                    if file is None:
                        _finish(sinks.pop(name), where)
                    else:
                        closed_whole(
                            lambda: _finish(sinks.pop(name), where),  # noqa: B023 - called at once
                            *file,
                            0 if in_parts else len(table),
                            where,
                        )
                    if in_parts:
                        fill_points(Path(destinations[name]), table, where, part)
            finally:
                sink = None
                sinks.clear()
        destinations = {name: drafts.final(at) for name, at in destinations.items()}
        style = getattr(self.provider(), "style_layer", None)
        style_results(context, destinations.values(), style)
        return destinations

    def store_with_report(
        self,
        tables: Mapping[str, Table | TableParts],
        html: str | Iterable[str],
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        crs: QgsCoordinateReferenceSystem,
        progress: Progress = SILENT,
    ) -> dict[str, Any]:
        """Write tables to the sinks named and the page, whole or in parts, to OUTPUT_HTML, which
        appears only when all layers are written; the outputs by name."""
        report = self.parameterAsFileOutput(parameters, "OUTPUT_HTML", context)
        with all_or_nothing() as draft:
            if report:
                parts = [html] if isinstance(html, str) else html
                write_text(draft(Path(report)), heard_between(parts, progress))
            results = self.store(tables, parameters, context, crs, progress.part(0.1, 1.0))
        return {**results, **({"OUTPUT_HTML": report} if report else {})}
