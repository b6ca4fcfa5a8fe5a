# SPDX-License-Identifier: GPL-2.0-or-later
"""Where on the earth a plan lies, and when it was written, for an indoor map."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import datetime, timezone
from typing import TYPE_CHECKING, Any

from ..databases import address_to_read
from ..errors import SurveyError
from ..layers import schema
from .plan_input import PlanFile

if TYPE_CHECKING:
    from ..building.indoor_geojson import ToLonLat


def lon_lat(plan: PlanFile) -> tuple[ToLonLat, str]:
    """The way from metres on the ground to WGS 84, and how certain PROJ says it is, in a sentence.

    SurveyError when the plan does not lie on the earth.
    """
    import numpy as np
    import pyproj

    from .crs import to_pyproj

    if not plan.georeferenced:
        raise SurveyError(
            f"{plan.path}: the plan lies in plan coordinates; an indoor map is in longitude and "
            "latitude. Expected a georeferenced plan: run Georeference plan first, with control, "
            "geotags or a footprint."
        )
    change = pyproj.Transformer.from_crs(to_pyproj(plan.crs), "EPSG:4326", always_xy=True)
    scale = plan.contents.units_per_m

    def moved(xy: Any) -> Any:
        return np.column_stack(change.transform(xy[:, 0] * scale, xy[:, 1] * scale))

    # Asked before the first point, PROJ may not have chosen among several ways.
    moved(np.array([[0.0, 0.0]]))
    if change.accuracy < 0.0:
        certain = "PROJ does not say how accurately"
    elif change.accuracy == 0.0:
        certain = "exactly"
    else:
        certain = f"by a change of datum that PROJ calls accurate to {change.accuracy:g} m"
    return moved, f"Coordinates were taken from {plan.contents.crs} to WGS 84: {certain}."


def created(text: str, plan: PlanFile) -> str:
    """The moment that the archive names as its making: what was given, else when the plan's rooms
    were last changed as the GeoPackage records it, so that the same plan gives the same bytes."""
    if text:
        try:
            moment = datetime.fromisoformat(text.replace("Z", "+00:00"))
        except ValueError as error:
            raise SurveyError(
                f"CREATED: found {text}; expected a date and time of ISO 8601 such as "
                "2026-04-21T09:06:00Z."
            ) from error
    else:
        with closing(sqlite3.connect(address_to_read(plan.path), uri=True)) as database:
            ((recorded,),) = database.execute(
                "SELECT last_change FROM gpkg_contents WHERE table_name = ?", (schema.ROOMS.name,)
            ).fetchall()
        moment = datetime.fromisoformat(str(recorded).replace("Z", "+00:00"))
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=timezone.utc)
    return moment.astimezone(timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")
