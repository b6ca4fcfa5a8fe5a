# SPDX-License-Identifier: GPL-2.0-or-later
"""The parameters that say which captures to read and how, for the algorithms that read files."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

from qgis.core import (
    QgsProcessingContext,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFile,
    QgsProcessingParameterNumber,
    QgsProcessingParameterString,
)

from ..errors import SurveyError
from ..progress import Progress
from .base import RoomtieAlgorithm, tr
from .profile_store import ProfileStore, profile_named
from .translation import mark

if TYPE_CHECKING:
    from ..captures.model import Survey
    from ..captures.spool import Spool

PLUGIN = f"{__name__.split('.processing.')[0]}.plugin"
FROM_THE_FILE = "from the file"
STATED_BY_THE_USER = (
    ("ANGLE_UNIT", mark("Angle unit"), (FROM_THE_FILE, "deg", "gon", "rad")),
    ("DISTANCE_UNIT", mark("Distance unit"), (FROM_THE_FILE, "m", "cm", "mm", "ft", "in")),
    ("ROTATION", mark("Sense of rotation"), (FROM_THE_FILE, "clockwise", "counterclockwise")),
)


def add_capture_input(algorithm: RoomtieAlgorithm) -> None:
    """The file or folder to read. The host's button picks a folder; a file may be typed."""
    algorithm.addParameter(
        QgsProcessingParameterFile(
            "INPUT",
            tr("Folder of captures, or a capture file"),
            behavior=QgsProcessingParameterFile.Behavior.Folder,
        )
    )


def add_reading_parameters(algorithm: RoomtieAlgorithm) -> None:
    """What the files may leave open, and the checks on reading."""
    for name, title, options in STATED_BY_THE_USER:
        algorithm.addParameter(
            QgsProcessingParameterEnum(
                name,
                tr(title),
                options=list(options),
                defaultValue=FROM_THE_FILE,
                usesStaticStrings=True,
            )
        )
    add_profile_parameter(algorithm)
    add_check_parameters(algorithm)


def add_profile_parameter(algorithm: RoomtieAlgorithm) -> None:
    """What describes text files that do not do it themselves."""
    profile = QgsProcessingParameterString(
        "PROFILE",
        tr("Profile for unmarked text files (empty: the kept one that fits)"),
        optional=True,
    )
    profile.setFlags(profile.flags() | profile.Flag.FlagAdvanced)
    # The host makes this widget in its windows, and in no other case looks for it.
    profile.setMetadata({"widget_wrapper": {"class": f"{PLUGIN}.profile_widget.ProfileWidget"}})
    algorithm.addParameter(profile)


def add_check_parameters(algorithm: RoomtieAlgorithm) -> None:
    """The distances that are used, and what to do about what cannot be read."""
    for name, title, default in (
        ("MIN_DISTANCE", mark("Shortest distance used (m)"), 0.10),
        ("MAX_DISTANCE", mark("Longest distance used (m)"), None),
    ):
        algorithm.addParameter(
            QgsProcessingParameterNumber(
                name,
                tr(title),
                QgsProcessingParameterNumber.Type.Double,
                default,
                optional=default is None,
                minValue=0.0,
            )
        )
    algorithm.addParameter(
        QgsProcessingParameterBoolean(
            "SKIP_UNREADABLE", tr("Skip what cannot be read and list it in the report"), False
        )
    )


def read_survey(
    algorithm: RoomtieAlgorithm,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    progress: Progress,
    spool: Spool | None = None,
) -> Survey:
    """The survey that the parameters name, its readings flagged and checked; with a spool they stay
    on disk."""
    from ..captures.reading import import_captures

    def stated(name: str) -> str | None:
        value = algorithm.parameterAsEnumString(parameters, name, context)
        return None if value in ("", FROM_THE_FILE) else value

    named = algorithm.parameterAsString(parameters, "PROFILE", context)
    path = algorithm.parameterAsString(parameters, "INPUT", context)
    if not path:
        raise SurveyError("INPUT: nothing was given; expected a capture file or a folder.")
    return import_captures(
        Path(path),
        angle_unit=stated("ANGLE_UNIT"),
        distance_unit=stated("DISTANCE_UNIT"),
        rotation=stated("ROTATION"),
        min_distance_m=algorithm.parameterAsDouble(parameters, "MIN_DISTANCE", context),
        max_distance_m=algorithm.optional_number(parameters, "MAX_DISTANCE", context),
        profile=profile_named(named) if named.strip() else None,
        profiles=tuple(ProfileStore().all().values()),
        skip_unreadable=algorithm.parameterAsBool(parameters, "SKIP_UNREADABLE", context),
        spool=spool,
        # Clocks and zones may be a day off.
        latest=datetime.now(timezone.utc) + timedelta(days=1),
        progress=progress,
    )
