# SPDX-License-Identifier: GPL-2.0-or-later
"""Plans in GeoPackages for tests: the example survey, where it was drawn or placed in a grid."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from qgis.core import QgsCoordinateReferenceSystem
from roomtie.processing.layers.features import write_geopackage
from roomtie.processing.layers.plan import plan_tables
from roomtie.processing.site.site_grid import plan_crs_wkt

FACTOR = 1.05
"""A scale factor that no grid has, so that grid and ground cannot be taken for each other."""

ROTATION_DEG = 337.0


@dataclass(frozen=True)
class Placed:
    path: Path
    tables: dict
    shift: complex = 0.0
    factor: complex = 1.0

    def place(self, network, xy):
        del network
        z = self.shift + self.factor * (xy[..., 0] + 1j * xy[..., 1])
        return np.stack([z.real, z.imag], axis=-1)


def write_plan(path: Path, example, placed: bool, names=()) -> Placed:
    """The plan of the fixture `example`; `names` replace those of the first rooms. `tables` are in
    plan coordinates, by name."""
    turn = np.exp(-1j * np.radians(ROTATION_DEG))
    plan = Placed(path, {}, 601600.25 + 6129362.5j, FACTOR * turn) if placed else Placed(path, {})
    for table in plan_tables(example.tied, example.drawn, (), {}):
        if table.schema.name == "rooms" and names:
            at = table.schema.field_names.index("name")
            old = list(table.columns[at])
            columns = [*table.columns]
            columns[at] = [*names, *old[len(names) :]]
            table = replace(table, columns=tuple(columns))
        plan.tables[table.schema.name] = table
    crs = QgsCoordinateReferenceSystem("EPSG:32631")
    if not placed:
        crs = QgsCoordinateReferenceSystem.fromWkt(plan_crs_wkt("plan coordinates"))
    write_geopackage(path, [t.placed(plan.place) for t in plan.tables.values()], crs)
    return plan
