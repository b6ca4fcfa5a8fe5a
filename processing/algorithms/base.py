# SPDX-License-Identifier: GPL-2.0-or-later
"""What all algorithms share: identity, the host's exception, progress, sources and sinks."""

from __future__ import annotations

import importlib.util
import os
import re
import sys
from pathlib import Path
from typing import Any

from qgis.core import (
    Qgis,
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
from qgis.PyQt.QtCore import QCoreApplication

from ..errors import Cancelled, SurveyError
from ..layers.schema import LayerSchema
from ..progress import SILENT, Progress

REQUIREMENTS = Path(__file__).resolve().parent.parent / "requirements.txt"
BUNDLED = Path(__file__).resolve().parent.parent / "bundled"
SOURCE_TYPES = {
    "Point": QgsProcessing.SourceType.TypeVectorPoint,
    "LineString": QgsProcessing.SourceType.TypeVectorLine,
    "Polygon": QgsProcessing.SourceType.TypeVectorPolygon,
    "NoGeometry": QgsProcessing.SourceType.TypeVector,
}


def tr(text: str) -> str:
    """A text in the user's language."""
    return QCoreApplication.translate("Roomtie", text)


def missing_packages() -> str:
    """A sentence about Python packages that the host lacks; empty when all are there."""
    wanted = [line for line in REQUIREMENTS.read_text("ascii").split() if line]
    missing = []
    for requirement in wanted:
        name = re.split(r"[<>=!]", requirement)[0]
        if importlib.util.find_spec(name) is None and not (BUNDLED / name).is_dir():
            missing.append(requirement)
    if not missing:
        return _clash_of_geos()
    return tr("The host's Python lacks {packages}. {how}").format(
        packages=", ".join(missing), how=how_to_install(missing)
    )


def _clash_of_geos() -> str:
    """A sentence when shapely is too old or would crash the host; else empty.

    On Linux a second GEOS in the process takes symbols from the host's one. Two releases do not mix:
    the host would end with a segmentation fault and the user's work be lost.
    """
    import shapely

    if int(shapely.__version__.split(".")[0]) < 2:
        return tr("The host's Python has shapely {found}, expected 2 or newer. {how}").format(
            found=shapely.__version__, how=how_to_install(["shapely>=2.0"])
        )
    own = shapely.geos_version_string.split(".")[:2]
    hosts = Qgis.geosVersion().split(".")[:2]
    if sys.platform.startswith("linux") and own != hosts:
        return tr(
            "shapely was built with GEOS {own}, the host with {hosts}; both in one process would "
            "crash the host. Build shapely with the host's GEOS: {how}"
        ).format(own=".".join(own), hosts=".".join(hosts), how=how_to_install(["shapely>=2.0"]))
    return ""


def how_to_install(requirements: list[str]) -> str:
    """A command that gives the host's Python what it lacks."""
    if not sys.platform.startswith("linux"):
        return tr("Install it from the shell of the host's own Python: {command}").format(
            command=f"python -m pip install {' '.join(requirements)}"
        )
    quoted = " ".join(f"'{requirement}'" for requirement in requirements)
    if "shapely>=2.0" not in requirements:
        return f"python3 -m pip install --user --break-system-packages {quoted}"
    return tr(
        "From Debian 13 on: apt install python3-shapely. On Debian 12: apt install libgeos-dev gcc "
        "python3-dev, then {command}"
    ).format(
        command="python3 -m pip install --user --break-system-packages --no-binary shapely "
        f"{quoted} 'numpy<2'"
    )


def progress_of(feedback: QgsProcessingFeedback | None) -> Progress:
    """A stage's progress that reports to the host and hears its cancel button."""
    if feedback is None:
        return SILENT
    return Progress(
        cancelled=feedback.isCanceled,
        moved=lambda fraction: feedback.setProgress(100.0 * fraction),
        said=feedback.pushInfo,
    )


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

        results = {}
        for name, table in tables.items():
            fields = host_fields(table.schema)
            sink, destination = self.parameterAsSink(
                parameters, name, context, fields, WKB_TYPES[table.schema.geometry], crs
            )
            if sink is None:
                if parameters.get(name) not in (None, ""):
                    raise QgsProcessingException(self.invalidSinkError(parameters, name))
                continue
            write(table, sink, f"{name}, layer {table.schema.name}", fields)
            if hasattr(sink, "finalize"):
                sink.finalize()
            del sink
            results[name] = destination
        return results

    def write_report(
        self,
        html: str,
        parameters: dict[str, Any],
        context: QgsProcessingContext,
        name: str = "OUTPUT_HTML",
    ) -> dict[str, Any]:
        """Write an HTML report whole or not at all; the output by name."""
        target = self.parameterAsFileOutput(parameters, name, context)
        if not target:
            return {}
        write_text(Path(target), html)
        return {name: target}


def write_text(path: Path, text: str) -> None:
    """Write a text file whole or not at all; SurveyError when it cannot be written."""
    draft = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        draft.write_text(text, encoding="utf-8")
        os.replace(draft, path)
    except OSError as error:
        draft.unlink(missing_ok=True)
        raise SurveyError(f"{path}: could not be written: {error.strerror or error}.") from error
