# SPDX-License-Identifier: GPL-2.0-or-later
"""What a comparison of rooms found, as layers: changes, and findings on the maintained layer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from qgis.core import QgsCoordinateTransform, QgsGeometry

from ..layers import schema
from .building_input import MM, Maintained, moved

if TYPE_CHECKING:
    from ..building.checks import Finding
    from ..building.compare import Comparison
    from ..layers.table import Table


def changes_table(
    comparison: Comparison,
    names: list[str],
    rows: Maintained,
    keep_frame: bool,
    back: QgsCoordinateTransform | None,
) -> Table:
    """A row for each change, its outline where an update would write it."""
    import shapely
    from scipy.stats import norm

    from ..layers.table import make_table

    old, new, changes = comparison.old, comparison.new, comparison.changes

    def outline(row: Any) -> Any:
        if row.new < 0 or row.action == "supersede":
            return _multi(shapely.force_2d(shapely.from_wkb(rows.stored[row.old])))
        shape = new.polygon[row.new]
        if keep_frame and comparison.shift.significant:
            shape = shapely.transform(shape, comparison.shift.inverse)
        return _multi(_back(shape, back, f"ROOMS, room {new.id[row.new]}"))

    def of(rooms: Any, k: int, value: Any, missing: Any = None) -> Any:
        return value[k] if k >= 0 else missing

    level = [int(of(old, r.old, old.level, of(new, r.new, new.level))) for r in changes]
    columns = {
        "change": [r.change for r in changes],
        "action": [r.action for r in changes],
        "accepted": [r.action not in ("keep", "none") for r in changes],
        "group_no": [r.group for r in changes],
        "old_id": [of(old, r.old, old.id) for r in changes],
        "assigned_id": [name or None for name in names],
        "new_room": [of(new, r.new, new.id) for r in changes],
        "name": [of(old, r.old, old.name) or of(new, r.new, new.name, "") for r in changes],
        "level": level,
        "old_area_m2": [float(of(old, r.old, old.area_m2, np.nan)) for r in changes],
        "new_area_m2": [float(of(new, r.new, new.area_m2, np.nan)) for r in changes],
        "difference_m2": [r.difference_m2 for r in changes],
        "sigma_difference_m2": [r.sigma_difference_m2 for r in changes],
        "standardised": [r.standardised for r in changes],
        "significant": [
            None if np.isnan(r.standardised) else bool(abs(r.standardised) > norm.ppf(0.975))
            for r in changes
        ],
        "offset_mm": [MM * r.offset_m for r in changes],
        "tolerance_mm": [MM * r.tolerance_m for r in changes],
        "moved_x_m": [r.moved_m[0] for r in changes],
        "moved_y_m": [r.moved_m[1] for r in changes],
        "sigma_edge_mm": [MM * float(of(new, r.new, new.sigma_edge_m, np.nan)) for r in changes],
        "reason": [r.reason or None for r in changes],
        "row_state": [of(rows, r.old, rows.state) for r in changes],
    }
    return make_table(schema.CHANGES, columns, [outline(r) for r in changes], [1] * len(changes))


def findings_table(findings: list[Finding], back: QgsCoordinateTransform | None) -> Table:
    """A row for each finding, where it is."""
    from ..building.checks import NO_LEVEL
    from ..layers.table import make_table

    return make_table(
        schema.LAYER_FINDINGS,
        {
            "check_name": [one.check for one in findings],
            "rooms": [", ".join(one.rooms) for one in findings],
            "finding": [one.sentence for one in findings],
            "proposed_fix": [one.fix for one in findings],
            "level": [None if one.level == NO_LEVEL else one.level for one in findings],
        },
        [_multi(_back(one.place, back, "FINDINGS")) for one in findings],
        [1] * len(findings),
    )


def _back(shape: Any, back: QgsCoordinateTransform | None, where: str) -> Any:
    import shapely

    if back is None:
        return shape
    geometry = QgsGeometry()
    geometry.fromWkb(shapely.to_wkb(shape))
    return shapely.from_wkb(bytes(moved(geometry, back, where).asWkb()))


def _multi(shape: Any) -> Any:
    import shapely

    from ..building.checks import polygons_in

    return shapely.MultiPolygon(polygons_in(shape))
