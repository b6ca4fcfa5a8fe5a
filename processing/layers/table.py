# SPDX-License-Identifier: GPL-2.0-or-later
"""Columns and geometries on their way between the stages and the host."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import repeat
from typing import Any, Union

import numpy as np
import shapely
from numpy.typing import NDArray

from ..angles import Floats
from ..progress import SILENT, Progress
from .schema import LayerSchema

_AT_ONCE = 50_000
"""So many geometries are moved, and the user is heard."""

Column = Union[Sequence[Any], NDArray[Any]]


@dataclass(frozen=True, eq=False)
class Table:
    """The ``n`` features of a layer: a column for each field of the schema, in its order, and
    shapely geometries (None: no geometry). `network (n,)` is the connected group that each
    feature lies in, on which its place on the earth depends."""

    schema: LayerSchema
    columns: tuple[Sequence[Any], ...]
    geometry: NDArray[np.object_]
    network: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.geometry)

    def column(self, name: str) -> Sequence[Any]:
        """The values of a field."""
        return self.columns[self.schema.field_names.index(name)]

    def rows(self) -> Iterator[tuple[Any, ...]]:
        """The values of each feature, also where there are no fields."""
        return iter(zip(*self.columns)) if self.columns else repeat((), len(self))

    def placed(self, place: Callable[[int, Floats], Floats], progress: Progress = SILENT) -> Table:
        """A copy whose geometries are moved by ``place(network, xy (m, 2)) -> (m, 2)``."""
        moved = moved_by_group(self.geometry, self.network, place, progress)
        return replace(self, geometry=moved)

    def in_parts(self, most: int) -> TableParts:
        """The same features in tables of at most `most`, in their order."""
        parts = (self.chosen(slice(at, at + most)) for at in range(0, len(self), most))
        return TableParts(self.schema, len(self), parts)

    def chosen(self, rows: slice) -> Table:
        """Some of the features."""
        return replace(
            self,
            columns=tuple(column[rows] for column in self.columns),
            geometry=self.geometry[rows],
            network=self.network[rows],
        )


def moved_by_group(
    geometry: NDArray[np.object_],
    network: NDArray,
    place: Callable[[int, Floats], Floats],
    progress: Progress = SILENT,
) -> NDArray[np.object_]:
    """Geometries ``(n,)`` of connected groups ``(n,)``, moved by ``place(network, xy (m, 2)) ->
    (m, 2)``; missing ones stay missing."""
    moved = geometry.copy()
    there = ~shapely.is_missing(moved)
    for group in np.unique(network[there]):
        every = np.flatnonzero(there & (network == group))
        for start in progress.over(range(0, len(every), _AT_ONCE)):
            rows = every[start : start + _AT_ONCE]
            moved[rows] = shapely.transform(
                moved[rows], lambda xy, number=int(group): place(number, xy)
            )
    return moved


@dataclass(frozen=True, eq=False)
class TableParts:
    """The ``count`` features of a layer in tables that are made one after another, for layers too
    large to hold."""

    schema: LayerSchema
    count: int
    parts: Iterable[Table]

    def __len__(self) -> int:
        return self.count

    def placed(self, place: Callable[[int, Floats], Floats]) -> TableParts:
        """The same with every part `Table.placed`."""
        return replace(self, parts=(part.placed(place) for part in self.parts))


def make_table(
    schema: LayerSchema,
    columns: Mapping[str, Column],
    geometry: Column,
    network: Iterable[int],
    progress: Progress = SILENT,
) -> Table:
    """A table from named columns; KeyError when a field has no column, ValueError when one is of
    another length."""
    if isinstance(geometry, np.ndarray):
        geometries = geometry
    else:
        geometries = np.empty(len(geometry), dtype=object)
        geometries[:] = list(geometry)
    ordered = tuple(plain(columns[name]) for name in progress.over(schema.field_names))
    for name, values in zip(schema.field_names, ordered):
        if len(values) != len(geometries):
            raise ValueError(f"{schema.name}.{name}: {len(values)} values, not {len(geometries)}")
    return Table(schema, ordered, geometries, np.fromiter(network, dtype=np.int64))


def concatenate(tables: Sequence[Table]) -> Table:
    """One table of the features of several of the same schema."""
    first = tables[0]
    return Table(
        first.schema,
        tuple(
            [value for table in tables for value in table.columns[i]]
            for i in range(len(first.columns))
        ),
        np.concatenate([table.geometry for table in tables]),
        np.concatenate([table.network for table in tables]),
    )


def plain(values: Column) -> list[Any]:
    """Values as the host takes them: Python numbers, also of a list that holds numpy's, which the
    host would pass on as nothing; None for NaN."""
    if isinstance(values, np.ndarray):
        if values.dtype.kind == "f":
            as_objects = values.astype(object)
            as_objects[np.isnan(values)] = None
            return as_objects.tolist()
        return values.tolist()
    own = [value.item() if isinstance(value, np.generic) else value for value in values]
    return [None if isinstance(value, float) and value != value else value for value in own]


def points(xy: Floats) -> NDArray[np.object_]:
    """Points ``(n,)`` of coordinates ``(n, 2)``; None where one is NaN."""
    geometry = shapely.points(np.where(np.isnan(xy), 0.0, xy)) if len(xy) else np.empty(0, object)
    geometry = np.asarray(geometry, dtype=object)
    geometry[np.isnan(xy).any(axis=1)] = None
    return geometry


def segments(ends: Floats) -> NDArray[np.object_]:
    """Two-point lines ``(n,)`` of end points ``(n, 2, 2)``."""
    return np.asarray(shapely.linestrings(ends) if len(ends) else [], dtype=object)
