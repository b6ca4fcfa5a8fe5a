# SPDX-License-Identifier: GPL-2.0-or-later
"""The layers of a plan that stands, back into what a new adjustment and drawing go on from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from ..angles import Floats
from ..captures.model import Ints, KnownPoint
from ..growing import Earlier
from ..walls.earlier import EarlierDrawing, EarlierOpenings, EarlierRooms, EarlierWalls
from ..walls.identity_kept import kind_at
from . import read, schema
from .choices import choices
from .known_points import FROM_FILES, read_known_points
from .plan_frame import PlanFrame, plan_frame
from .read import Columns, numbers
from .survey_notes import Notes, read_notes, restored
from .table import moved_by_group

WINDOW = "window"


@dataclass(frozen=True, eq=False)
class GivenLayer:
    """Columns of a layer by field name (None for NULL), and its geometries ``(n,)``."""

    columns: Columns
    geometry: NDArray[np.object_]


@dataclass(frozen=True, eq=False)
class EarlierPlan:
    """A plan that stands: what goes on, where its layers lie (`frame`), its notes, and the points
    whose coordinates were given, each with where they came from."""

    earlier: Earlier
    frame: PlanFrame
    notes: Notes
    known: tuple[tuple[KnownPoint, str], ...]


def earlier_plan(layers: Mapping[str, GivenLayer]) -> EarlierPlan:
    """From the layers of a plan by their names; the tables of ties, targets, covariances, notes and
    known points may be missing, as in plans of earlier versions.

    SurveyError where stations and readings are not those of one adjusted plan.
    """

    def columns(one: schema.LayerSchema) -> Columns | None:
        return layers[one.name].columns if one.name in layers else None

    stations, readings = layers[schema.STATIONS.name], layers[schema.READINGS.name]
    notes = read_notes(columns(schema.SURVEY_NOTES))
    known = tuple(read_known_points(columns(schema.KNOWN_POINTS)))
    survey = read.survey(stations.columns, readings.columns)
    network = read.network(
        stations.columns, columns(schema.TARGETS), columns(schema.NETWORK_COVARIANCE)
    )
    rows = read.rows_by_station(survey.names, readings.columns)
    frame = plan_frame(survey, network, stations.geometry, readings.geometry, rows)
    drawing = EarlierDrawing(
        _walls(layers[schema.WALL_FACES.name], frame),
        _rooms(layers[schema.ROOMS.name], frame, notes),
        _openings(layers[schema.OPENINGS.name], frame, notes),
        {
            name: (
                survey.captures[k].seq,
                np.array([readings.columns["wall"][row] or "" for row in rows[name]], np.str_),
            )
            for k, name in enumerate(survey.names)
        },
    )
    return EarlierPlan(
        Earlier(
            restored(survey, notes, [point for point, source in known if source == FROM_FILES]),
            network,
            choices(stations.columns, columns(schema.TIES)),
            drawing,
        ),
        frame,
        notes,
        known,
    )


def _whole(values: Any, default: float = 0.0) -> Ints:
    return numbers(values, default).astype(np.int64)


def _in_plan(layer: GivenLayer, frame: PlanFrame) -> tuple[NDArray[np.object_], Ints]:
    """Geometries in plan coordinates, and the rows that have one."""
    network = _whole(layer.columns["network"], next(iter(frame.motions), 1))
    geometry = moved_by_group(layer.geometry, network, frame.to_plan)
    return geometry, np.flatnonzero([shape is not None for shape in geometry])


def _texts(layer: GivenLayer, name: str, rows: Ints) -> tuple[str, ...]:
    return tuple(str(layer.columns[name][row] or "") for row in rows)


def _numbers(layer: GivenLayer, name: str, rows: Ints, default: float = np.nan) -> Floats:
    return numbers([layer.columns[name][row] for row in rows], default)


def _common(layer: GivenLayer, rows: Ints) -> tuple[Ints, Ints, Ints]:
    """Level, network and plot scale."""
    return (
        _numbers(layer, "level", rows, 0.0).astype(np.int64),
        _numbers(layer, "network", rows, 1.0).astype(np.int64),
        _numbers(layer, "plot_scale", rows, 0.0).astype(np.int64),
    )


def _walls(layer: GivenLayer, frame: PlanFrame) -> EarlierWalls:
    geometry, rows = _in_plan(layer, frame)
    rows = np.array([r for r in rows if shapely.get_num_coordinates(geometry[r]) > 1], np.int64)
    ends = [shapely.get_coordinates(geometry[row])[[0, -1]] for row in rows]
    return EarlierWalls(
        _texts(layer, "wall", rows),
        *_common(layer, rows),
        np.array(ends, dtype=float).reshape(-1, 2, 2),
        _numbers(layer, "sigma_offset_mm", rows) / read.MM,
    )


def _rooms(layer: GivenLayer, frame: PlanFrame, notes: Notes) -> EarlierRooms:
    geometry, rows = _in_plan(layer, frame)
    room, name = _texts(layer, "room", rows), _texts(layer, "name", rows)
    said = notes.found("name")
    by_hand = [one in said and said[one] != word for one, word in zip(room, name)]
    return EarlierRooms(
        room,
        name,
        *_common(layer, rows),
        tuple(geometry[row] for row in rows),
        np.array(by_hand, dtype=bool),
    )


def _openings(layer: GivenLayer, frame: PlanFrame, notes: Notes) -> EarlierOpenings:
    """A kind other than the survey's is a person's, and so is an opening that the survey did not
    find. Plans without notes do not tell: there, windows are taken for a person's."""
    geometry, rows = _in_plan(layer, frame)
    opening, kind = _texts(layer, "opening", rows), _texts(layer, "kind", rows)
    level, network, plot_scale = _common(layer, rows)
    said = {scale: notes.found(kind_at(scale)) for scale in set(plot_scale.tolist())}
    by_hand = [
        said[scale].get(one, "") != word if notes.there else word == WINDOW
        for one, word, scale in zip(opening, kind, plot_scale.tolist())
    ]
    return EarlierOpenings(
        opening,
        kind,
        level,
        network,
        plot_scale,
        tuple(geometry[row] for row in rows),
        _numbers(layer, "wall_thickness_m", rows),
        np.array(by_hand, dtype=bool),
        tuple(
            frozenset(pair) - {""}
            for pair in zip(_texts(layer, "room_a", rows), _texts(layer, "room_b", rows))
        ),
    )
