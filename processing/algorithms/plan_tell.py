# SPDX-License-Identifier: GPL-2.0-or-later
"""What the report of Plan from captures tells of the run: sentences, parameters, versions."""

from __future__ import annotations

import platform
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from qgis.core import Qgis, QgsProcessingContext, QgsProcessingParameterFile

from ..version import plugin_version
from .base import RoomtieAlgorithm
from .profile_store import profile_told

if TYPE_CHECKING:
    from ..captures.model import Survey
    from ..chain import Drawn, Tied
    from ..growing import Earlier, Grown
    from ..reports.growth_section import Growth
    from ..site.model import SiteFit


def sentences_of(
    survey: Survey, tied: Tied, fits: Sequence[SiteFit], more: Iterable[str]
) -> list[str]:
    """All that a person should know, each sentence once, in the order of the chain; `survey` is the
    one as imported."""
    from ..captures.checks import COVERAGE

    sentences = [
        *survey.skipped,
        *(
            f"Station {capture.station}: {remark.sentence}"
            for capture in survey.captures
            for remark in capture.remarks
            if remark.check not in COVERAGE and remark.sentence not in survey.warnings
        ),
        *tied.survey.warnings,
        *tied.network.warnings,
        *more,
        *(warning for fit in fits for warning in fit.warnings),
    ]
    return list(dict.fromkeys(sentences))


def what_is_empty(drawn: Drawn) -> list[str]:
    """That there are no walls or no rooms, since an empty plan must not look like one that failed
    in silence."""
    rings = sum(int(capture.usable_ring.sum()) for capture in drawn.survey.captures)
    if not drawn.plans:
        return []
    if not len(drawn.measured):
        return [
            f"No wall was found: {rings} of the readings may lie on one; expected hundreds, all "
            "round a room."
        ]
    if not any(len(plan.rooms) for plan in drawn.plans):
        return ["No room was found: nowhere do walls enclose what the readings went through."]
    return []


def told_parameters(
    algorithm: RoomtieAlgorithm, parameters: dict[str, Any], context: QgsProcessingContext
) -> dict[str, Any]:
    """The parameters of the run as the report tells them: values, and names of files without their
    folders."""
    told: dict[str, Any] = {}
    for definition in algorithm.parameterDefinitions():
        name = definition.name()
        value = parameters.get(name, definition.defaultValue())
        if definition.isDestination():
            continue
        if value in (None, ""):
            told[name] = None
        elif isinstance(definition, QgsProcessingParameterFile):
            text = algorithm.parameterAsString(parameters, name, context)
            told[name] = Path(text.split("|layername=")[0]).name
        elif name == "PROFILE":
            told[name] = profile_told(algorithm.parameterAsString(parameters, name, context))
        elif name in ("CONTROL", "FOOTPRINT"):
            told[name] = algorithm.source(parameters, name, context).sourceName()
        elif name == "TARGET_CRS":
            crs = algorithm.parameterAsCrs(parameters, name, context)
            told[name] = crs.authid() or crs.description()
        else:
            told[name] = value if isinstance(value, (int, float, bool)) else str(value)
    return told


def growth_of(name: str, earlier: Earlier, grown: Grown, drawn: Drawn) -> Growth:
    """What is new since the earlier plan of that name, and how far it moved."""
    from ..reports.growth_section import Growth
    from ..stations.moves import moves_of
    from ..walls.moves import comparable, room_changes, wall_moves

    joined = grown.joined
    now = comparable(earlier.drawing, drawn.plans)
    networks = set(grown.came_from.values())
    return Growth(
        name,
        tuple(one for one in joined.new if one not in joined.replaced.values()),
        joined.known,
        joined.replaced,
        moves_of(earlier.network, grown.tied.network, joined.earlier),
        None if now is None else wall_moves(earlier.drawing, now, networks),
        None if now is None else room_changes(earlier.drawing, now),
    )


def versions() -> dict[str, str]:
    """The software that made a plan."""
    import numpy
    import pyproj
    import scipy
    import shapely

    return {
        "Roomtie": plugin_version(),
        "QGIS": Qgis.QGIS_VERSION,
        "Python": platform.python_version(),
        "numpy": numpy.__version__,
        "scipy": scipy.__version__,
        "shapely": shapely.__version__,
        "pyproj": pyproj.__version__,
        "PROJ": pyproj.proj_version_str,
    }
