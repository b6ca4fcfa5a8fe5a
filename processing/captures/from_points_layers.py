# SPDX-License-Identifier: GPL-2.0-or-later
"""Points of a layer with what their fields say, checked feature by feature."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import isfinite
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..angles import Floats
from .findings import Findings, listed, shown
from .model import Bools, Ints, Kind

KINDS = MappingProxyType({kind.text: int(kind) for kind in Kind})


@dataclass(frozen=True, eq=False)
class LayerPoints:
    """``n`` points of a layer, for messages called `layer`.

    `feature (n,)` are the ids of their features (those of a multipoint share one), `xyz (n, 3)`
    coordinates in the layer's unit, x to the right of y; NaN in all three where the feature has no
    point, NaN as z where it has no height. `columns` holds the values of the fields that were
    chosen, by what they mean; None where a value is empty.
    """

    layer: str
    feature: Ints
    xyz: Floats
    columns: Mapping[str, Sequence[Any]] = field(default_factory=lambda: MappingProxyType({}))

    def __len__(self) -> int:
        return len(self.feature)

    def only(self, kept: Bools) -> LayerPoints:
        """The points that are kept ``(n,)``."""
        columns = {
            name: [value for value, keep in zip(values, kept) if keep]
            for name, values in self.columns.items()
        }
        return replace(self, feature=self.feature[kept], xyz=self.xyz[kept], columns=columns)

    def findings(self, skip: bool) -> Findings:
        """What is wrong in this layer is told with its name."""
        return Findings(f"Layer {self.layer}", skip)


def features(ids: Ints) -> str:
    """Features as the subject of a sentence: ``feature 3``, ``features 3, 5 and 8``."""
    names = [str(number) for number in dict.fromkeys(ids.tolist())]
    return f"feature{'' if len(names) == 1 else 's'} {listed(names)}"


def verb(ids: Ints, one: str, several: str) -> str:
    """``feature 3 has`` or ``features 3 and 5 have``."""
    return f"{features(ids)} {one if len(set(ids.tolist())) == 1 else several}"


FARTHEST = 1e12
"""No coordinate in any unit is as large: the earth is 1.3e10 mm across."""


def with_points(points: LayerPoints, findings: Findings) -> LayerPoints:
    """The points that have a place; the others are told."""
    missing = np.isnan(points.xyz[:, :2]).all(axis=1)
    # NaN is not within either.
    broken = ~missing & ~(np.abs(points.xyz[:, :2]) < FARTHEST).all(axis=1)
    if missing.any():
        found = verb(points.feature[missing], "has", "have")
        findings.bad(f"{found} no point; expected one.")
    if broken.any():
        found = verb(points.feature[broken], "has", "have")
        findings.bad(f"{found} coordinates that are no place; expected finite x and y.")
    height = np.where(np.abs(points.xyz[:, 2:]) < FARTHEST, points.xyz[:, 2:], np.nan)
    points = replace(points, xyz=np.concatenate([points.xyz[:, :2], height], axis=1))
    return points.only(~missing & ~broken)


def name_of(value: object) -> str:
    """A station's or target's name as text, the same whether its field holds numbers or words."""
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return str(value).strip()


def names(points: LayerPoints, column: str) -> NDArray[np.str_]:
    """A column of names ``(n,)``, empty where there is none."""
    values = points.columns.get(column)
    if values is None:
        return np.full(len(points), "", dtype=str)
    return np.array([name_of(value) for value in values], dtype=str)


def checked(
    points: LayerPoints,
    column: str,
    convert: Callable[[Any], Any],
    expected: str,
    findings: Findings,
) -> tuple[list[Any], Bools]:
    """The values of a column as `convert` gives them, and which points have a good one ``(n,)``.

    `convert` raises ValueError for a value that is not as expected. Bad values are told, one
    sentence for each.
    """
    good = np.ones(len(points), dtype=bool)
    values = points.columns.get(column)
    if values is None:
        return [convert(None)] * len(points), good
    result: list[Any] = []
    bad: dict[str, list[int]] = {}
    for place, value in enumerate(values):
        try:
            result.append(convert(value))
        except (TypeError, ValueError):
            result.append(None)
            good[place] = False
            bad.setdefault(shown(str(value)) if value is not None else "empty", []).append(place)
    for found, places in bad.items():
        findings.bad(
            f"the {column.replace('_', ' ')} of {features(points.feature[places])} is {found}; "
            f"expected {expected}."
        )
    return result, good


def as_level(value: object) -> int:
    """A storey's ordinal; the ground floor where none is given."""
    number = 0.0 if value is None else float(str(value))
    if not number.is_integer() or abs(number) > 1000:
        raise ValueError(value)
    return int(number)


def as_height(value: object) -> float:
    """A height above the floor in metres; NaN where none is given."""
    if value is None:
        return float("nan")
    number = float(str(value).replace(",", "."))
    if not (isfinite(number) and number >= 0.0):
        raise ValueError(value)
    return number


def as_kind(value: object) -> int:
    """What was sighted; -1 where that is left open."""
    word = name_of(value).lower()
    if not word:
        return -1
    if word not in KINDS:
        raise ValueError(value)
    return KINDS[word]


def as_order(value: object) -> object:
    """Something to sort by: a number, or a text such as an ISO 8601 time."""
    if value is None or value != value or str(value).strip() == "":
        raise ValueError(value)
    try:
        return float(str(value))
    except ValueError:
        return str(value)
