# SPDX-License-Identifier: GPL-2.0-or-later
"""What a review wants to know of a plan's readings: counts for every station, and one ring.

Both run on another thread than the window's.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from qgis.core import QgsFeatureRequest, QgsFields

from ..processing.progress import Progress
from .review_plans import LayerSource, equals, plain

Sources = Sequence[LayerSource]
OFTEN = 2000
READING, TIE = ("station", "flag", "residual_mm"), ("from_station", "to_station", "standardised")
RING = ("flag", "kind", "residual_mm")


@dataclass
class StationFacts:
    """Flagged readings by flag, the largest residual of a reading, and the largest standardised
    residual of the ties in use (None: there is none)."""

    flags: Counter = field(default_factory=Counter)
    residual_mm: float | None = None
    standardised: float | None = None


@dataclass(frozen=True)
class RingReading:
    """A reading in map units from its station."""

    x: float
    y: float
    flag: str
    residual_mm: float | None


def station_facts(readings: Sources, ties: Sources, progress: Progress) -> dict[str, StationFacts]:
    """The facts of every station that has readings or ties."""
    facts: dict[str, StationFacts] = {}
    for station, flag, residual in _values(readings, READING, progress):
        own = facts.setdefault(str(station), StationFacts())
        if flag:
            own.flags[str(flag)] += 1
        if residual is not None:
            own.residual_mm = max(own.residual_mm or 0.0, abs(residual))
    for start, end, standardised, used in _values(ties, (*TIE, "used"), progress):
        if standardised is None or not used:
            continue
        for station in {start, end} & facts.keys():
            own = facts[station]
            own.standardised = max(own.standardised or 0.0, abs(standardised))
    return facts


def ring(
    readings: Sources, station: str, at: tuple[float, float], progress: Progress
) -> list[RingReading]:
    """The readings of a station around its place. Sightings and readings without a return have no
    place in a ring."""
    found = []
    for source in _opened(readings):
        request = _request(source.fields(), RING)
        request.setFilterExpression(equals("station", station))
        places = [source.fields().lookupField(name) for name in RING]
        for count, feature in enumerate(source.getFeatures(request)):
            if count % OFTEN == 0:
                progress.at(0.0)
            # What has no place has an empty geometry in a file, and none in a layer in memory.
            if feature.geometry().isEmpty():
                continue
            attributes = feature.attributes()
            flag, kind, residual = (
                plain(attributes[place]) if place >= 0 else None for place in places
            )
            point = feature.geometry().constGet()
            if kind in (None, "ring"):
                found.append(
                    RingReading(point.x() - at[0], point.y() - at[1], flag or "", residual)
                )
    return found


def _opened(sources: Sources):
    return filter(None, (source.open() for source in sources))


def _request(fields: QgsFields, names: Sequence[str]) -> QgsFeatureRequest:
    return QgsFeatureRequest().setSubsetOfAttributes(list(names), fields)


def _values(sources: Sources, names: Sequence[str], progress: Progress):
    for source in _opened(sources):
        fields = source.fields()
        places = [fields.lookupField(name) for name in names]
        request = _request(fields, names).setFlags(QgsFeatureRequest.Flag.NoGeometry)
        for count, feature in enumerate(source.getFeatures(request)):
            if count % OFTEN == 0:
                progress.at(0.0)
            attributes = feature.attributes()
            yield [plain(attributes[place]) if place >= 0 else None for place in places]
