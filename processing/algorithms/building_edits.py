# SPDX-License-Identifier: GPL-2.0-or-later
"""Accepted changes as edits of a maintained layer."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from qgis.core import QgsGeometry, QgsVectorLayer, QgsWkbTypes

from ..errors import SurveyError
from ..layers.apart import opened_apart
from ..progress import SILENT, Progress
from .building_input import row_state
from .values import identifier

if TYPE_CHECKING:
    from ..building.field_profile import FieldProfile
    from ..layers.maintained.edits import Edit

DOES = ("replace", "insert", "supersede")


@dataclass(frozen=True)
class Provenance:
    """What is written along with a change, where the profile has a field for it."""

    date: str
    report_hash: str
    area: bool


@dataclass(frozen=True)
class Planned:
    """The edits, and the state that each old room was in when it was compared."""

    edits: list[Edit]
    state: dict[str, str]
    left: int


def planned(
    columns: dict[str, list[Any]],
    shapes: np.ndarray,
    accept: Collection[str],
    profile: FieldProfile,
    provenance: Provenance,
    layer: QgsVectorLayer,
) -> Planned:
    """The edits of the rows that are accepted, of the classes accepted. SurveyError names a row
    that says too little, or two rows that say different things of one room."""
    from ..building.model import CHANGES
    from ..layers.maintained.edits import Edit

    edits: list[Edit] = []
    state: dict[str, str] = {}
    done: dict[str, int] = {}
    groups: dict[Any, set[bool]] = {}
    left = 0
    for i, (change, action) in enumerate(zip(columns["change"], columns["action"])):
        where = f"CHANGES, row {i + 1} ({change})"
        if change not in CHANGES:
            raise SurveyError(f"{where}: expected one of {', '.join(CHANGES)}.")
        wanted = bool(columns["accepted"][i]) and change in accept and action != "keep"
        if change in ("split", "merged"):
            groups.setdefault(columns["group_no"][i], set()).add(wanted)
        if not wanted:
            left += action != "keep"
            continue
        old = columns["old_id"][i] or ""
        new = columns["assigned_id"][i] or ""
        if action not in DOES or (action != "insert" and not old) or shapes[i] is None:
            raise SurveyError(
                f"{where}: it is accepted, but says {action!r} of room {old!r}; expected an "
                f"outline and {', '.join(DOES)}."
            )
        if action != "insert":
            if old in done:
                raise SurveyError(f"{where}: room {old!r} is in row {done[old]} already.")
            done[old] = i + 1
        if old:
            state[old] = columns["row_state"][i] or ""
        edits.append(
            Edit(
                action,
                new if action == "insert" else old,
                None if action == "supersede" else _fitted(shapes[i], layer, where),
                _values(columns, i, action, profile, provenance),
                old if action == "insert" else "",
            )
        )
    for group, choices in groups.items():
        if len(choices) > 1:
            raise SurveyError(
                f"CHANGES, group {group}: some of its rows are accepted and some not; expected all "
                "rows of a split or merger, or none."
            )
    return Planned(edits, state, left)


def _values(
    columns: dict[str, list[Any]], i: int, action: str, profile: FieldProfile, told: Provenance
) -> dict[str, str | None]:
    values: dict[str, str | None] = {}
    if action == "supersede":
        return values
    sigma, area = columns["sigma_edge_mm"][i], columns["new_area_m2"][i]
    if profile.survey_date:
        values[profile.survey_date] = told.date
    if profile.accuracy and sigma is not None:
        values[profile.accuracy] = f"{sigma:.1f}"
    if profile.report_hash and told.report_hash:
        values[profile.report_hash] = told.report_hash
    if profile.area and area is not None and (told.area or action == "insert"):
        values[profile.area] = f"{area:.3f}"
    if action == "insert":
        if profile.valid_from:
            values[profile.valid_from] = told.date
        if profile.level:
            values[profile.level] = profile.level_text(int(columns["level"][i]))
        if profile.room_name and not columns["old_id"][i]:
            values[profile.room_name] = columns["name"][i] or None
    return values


def _fitted(shape: Any, layer: QgsVectorLayer, where: str) -> bytes:
    """The outline as the layer's column takes it: single or multi, with heights if it has them."""
    import shapely

    kind = layer.wkbType()
    if QgsWkbTypes.hasM(kind):
        raise SurveyError(
            f"BUILDING, layer {layer.name()}: its outlines have measures (M), which a survey does "
            "not give; expected polygons with or without heights."
        )
    parts = shapely.get_parts(shape)
    if QgsWkbTypes.isMultiType(kind):
        shape = shapely.multipolygons(parts)
    elif len(parts) == 1:
        shape = parts[0]
    elif QgsWkbTypes.flatType(kind) == QgsWkbTypes.Type.Polygon:
        raise SurveyError(
            f"{where}: the outline has {len(parts)} parts; layer {layer.name()} takes one."
        )
    shape = shapely.force_3d(shape) if QgsWkbTypes.hasZ(kind) else shapely.force_2d(shape)
    return bytes(shapely.to_wkb(shape, byte_order=1, flavor="iso"))


def check_states(
    layer: QgsVectorLayer,
    profile: FieldProfile,
    state: dict[str, str],
    progress: Progress = SILENT,
) -> None:
    """SurveyError names the rooms that somebody changed, or took away, since they were compared.

    The layer is opened anew: what the host holds of it may be older.
    """
    from ..captures.findings import listed

    in_memory = layer.providerType() == "memory"
    fresh = layer if in_memory else opened_apart(layer.source(), layer.name(), layer.providerType())
    place = fresh.fields().lookupField(profile.id)
    found: dict[str, str] = {}
    for feature in progress.over(fresh.getFeatures(), fresh.featureCount()):
        own = identifier(feature.attributes()[place])
        if own in state:
            found[own] = row_state(feature) if own not in found else "twice"
    del fresh
    gone = sorted(own for own in state if own not in found)
    changed = sorted(own for own in state if own in found and found[own] != state[own])
    if gone or changed:
        raise SurveyError(
            f"BUILDING, layer {layer.name()}: since it was compared, "
            + " and ".join(
                f"{what} {listed(names)}"
                for what, names in (("someone changed room", changed), ("there is no room", gone))
                if names
            )
            + "; nothing was changed. Compare again."
        )


def outline(wkb: bytes) -> QgsGeometry:
    geometry = QgsGeometry()
    geometry.fromWkb(wkb)
    return geometry
