# SPDX-License-Identifier: GPL-2.0-or-later
"""The GeoPackage of a plan: written anew, or on from that of an earlier plan, of which all that is
not the plan's own stays (further layers, edited styles)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from qgis.core import QgsCoordinateReferenceSystem, QgsVectorLayer

from ..databases import closed_for_good, copied
from ..layers import schema
from ..progress import Progress
from .earlier_input import EarlierFile

if TYPE_CHECKING:
    from ..layers.table import Table

STYLE = "style"
RECORDS = (schema.SURVEY_NOTES.name, schema.KNOWN_POINTS.name)
OF_A_PLAN = {*(one.name for one in schema.PLAN_LAYERS), *RECORDS}


@dataclass(frozen=True, eq=False)
class PlanToWrite:
    """Layers to draw, lowest first, with their CRS and looks; `notes` makes the table of notes from
    more lines (kind, subject, name, value), `known` are the known points."""

    tables: Sequence[Table]
    crs: QgsCoordinateReferenceSystem
    style: Callable[[QgsVectorLayer], None] | None
    notes: Callable[[Sequence[tuple[str, str, str, str]]], Table]
    known: Table


def write_plan(
    path: Path, plan: PlanToWrite, earlier: EarlierFile | None, progress: Progress
) -> None:
    """Write a plan to a draft, on from the earlier one where there is one."""
    from ..layers.features import write_geopackage
    from ..layers.geopackage_styles import drop_styles, edited_styles, style_digests

    styled: set[str] = set()
    if earlier is not None:
        copied(earlier.copy, path, progress.part(0.0, 0.1))
        notes = earlier.plan.notes
        noted = {name: value for name, _, value in notes.of(STYLE)}
        styled = edited_styles(path, noted) if notes.there else set(style_digests(path))
        drop_styles(path, styled)
        _drop_layers(path, OF_A_PLAN - {table.schema.name for table in plan.tables})
    write_geopackage(
        path,
        plan.tables,
        plan.crs,
        style=plan.style,
        progress=progress.part(0.1, 0.95),
        into=earlier is not None,
        styled=styled,
    )
    made = [
        (STYLE, name, "", digest)
        for name, digest in style_digests(path).items()
        if name not in styled
    ]
    records = [plan.notes(made), *([plan.known] if len(plan.known) else [])]
    write_geopackage(path, records, plan.crs, progress=progress.part(0.95, 1.0), into=True)
    closed_for_good(path)


def _drop_layers(path: Path, names: set[str]) -> None:
    from osgeo import ogr

    source = ogr.Open(str(path), update=1)
    for index in reversed(range(source.GetLayerCount())):
        if source.GetLayer(index).GetName() in names:
            source.DeleteLayer(index)
