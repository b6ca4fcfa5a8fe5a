# SPDX-License-Identifier: GPL-2.0-or-later
"""The layers of a plan as drawings and sheets take them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..errors import SurveyError


@dataclass(frozen=True, eq=False)
class Features:
    """The ``n`` features of a layer: columns by field name (None for NULL), and shapely geometries
    in drawing units (None: no geometry)."""

    columns: Mapping[str, Sequence[Any]] = field(default_factory=lambda: MappingProxyType({}))
    geometry: NDArray[np.object_] = field(default_factory=lambda: np.empty(0, dtype=object))

    def __len__(self) -> int:
        return len(self.geometry)

    def column(self, name: str) -> Sequence[Any]:
        """The values of a field; None for each feature where the layer does not have it."""
        values = self.columns.get(name)
        return [None] * len(self) if values is None else values

    def where(self, **wanted: Any) -> Features:
        """The features whose fields have these values."""
        columns = [self.column(name) for name in wanted]
        values = tuple(wanted.values())
        rows = [row for row, found in enumerate(zip(*columns)) if found == values]
        return Features(
            {name: [values[row] for row in rows] for name, values in self.columns.items()},
            self.geometry[rows],
        )


@dataclass(frozen=True, eq=False)
class SiteAccuracy:
    """How well a plan lies on the earth: 1 sigma, NaN for what is not known, and a sentence about
    what decides position and rotation (may be empty)."""

    sigma_east_m: float = float("nan")
    sigma_north_m: float = float("nan")
    sigma_rotation_deg: float = float("nan")
    decided_by: str = ""


@dataclass(frozen=True, eq=False)
class PlanContents:
    """A plan: its layers, where it lies and how well.

    `units_per_m` is the length of a metre on the ground in drawing units, the combined scale factor
    included; `axis_deg` the azimuth of plan north from the drawing's +y, clockwise. `local` says
    that the coordinates are those of the plan, although it has a place in `crs`.
    """

    job: str
    rooms: Features
    wall_faces: Features
    openings: Features
    stations: Features
    targets: Features = field(default_factory=Features)
    readings: Features = field(default_factory=Features)
    crs: str = ""
    units_per_m: float = 1.0
    axis_deg: float = 0.0
    site: SiteAccuracy | None = None
    local: bool = False

    @property
    def levels(self) -> tuple[int, ...]:
        """The storeys that anything is drawn on, lowest first."""
        layers = (self.rooms, self.wall_faces, self.openings, self.stations)
        found = {v for layer in layers for v in layer.column("level") if v is not None}
        return tuple(sorted(int(level) for level in found))

    @property
    def plot_scales(self) -> tuple[int, ...]:
        """The plot scales that the walls are there at, finest first."""
        return tuple(sorted({int(v) for v in self.wall_faces.column("plot_scale") if v}))

    def check_plot_scales(self, wanted: Sequence[int], name: str) -> None:
        """SurveyError when the plan was not drawn at one of these plot scales."""
        there = self.plot_scales
        if not there:
            raise SurveyError(
                "Layer wall_faces: there are no walls; expected a plan as Plan from captures "
                "writes it."
            )
        for scale in wanted:
            if scale not in there:
                raise SurveyError(
                    f"{name}: 1:{scale} was asked for, the plan was drawn at "
                    f"{', '.join(f'1:{s}' for s in there)}; expected one of these, or make the "
                    "plan again with that plot scale."
                )
