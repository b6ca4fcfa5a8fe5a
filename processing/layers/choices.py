# SPDX-License-Identifier: GPL-2.0-or-later
"""What a person decided about stations and ties, and earlier poses, from the layers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from ..errors import SurveyError
from ..stations.choices import Choices, Start
from ..stations.model import Status
from . import read
from .schema import HOLD, LEAVE_OUT

TIE_FIELDS = ("tie",)
OPTIONAL_TIE_FIELDS = ("choice", "sigma_factor")
POSED = (Status.ADJUSTED.value, Status.HELD.value)


def choices(stations: read.Columns, ties: read.Columns | None = None) -> Choices:
    """The choices of a stations layer and, where there is one, a ties layer; layers of earlier
    versions, without these fields, hold none.

    SurveyError names the layer and the feature of a word or factor that is none.
    """
    words = list(_words("stations", "station", stations, (HOLD, LEAVE_OUT)))
    held = tuple(name for name, word in words if word == HOLD)
    left_out = tuple(name for name, word in words if word == LEAVE_OUT)
    if ties is None:
        return Choices(held, left_out)
    out = frozenset(name for name, _ in _words("ties", "tie", ties, (LEAVE_OUT,)))
    return Choices(held, left_out, out, _factors(ties))


def _words(
    layer: str, feature: str, columns: read.Columns, known: Sequence[str]
) -> Iterator[tuple[str, str]]:
    """Names and choices of the features that have one."""
    for name, value in zip(columns[feature], columns.get("choice") or ()):
        word = "" if value is None else str(value).strip().casefold()
        if not word:
            continue
        if word not in known:
            raise SurveyError(
                f"Layer {layer}, {feature} {name}: choice is {value!r}, expected "
                f"{', '.join(known)} or nothing."
            )
        yield str(name), word


def _factors(ties: read.Columns) -> Mapping[str, float]:
    found = {}
    for name, value in zip(ties["tie"], ties.get("sigma_factor") or ()):
        factor = _number(value)
        if not 0.0 < factor < np.inf:
            raise SurveyError(
                f"Layer ties, tie {name}: sigma_factor is {value!r}, expected a number above 0 or "
                "nothing."
            )
        if factor != 1.0:
            found[str(name)] = factor
    return found


def _number(value: Any) -> float:
    """A factor; 1 for nothing, NaN for what is no number."""
    if value is None or value == "":
        return 1.0
    try:
        return float(value)
    except (TypeError, ValueError):
        return float("nan")


def start(
    stations: read.Columns, covariance: read.Columns | None = None, search: bool = True
) -> Start | None:
    """The poses that a stations layer has from an earlier adjustment; None where it has none, as
    stations as recorded."""
    names = [str(name) for name in stations["station"]]
    status = stations.get("status") or [None] * len(names)
    chosen = [k for k, word in enumerate(status) if word in POSED]
    if not chosen:
        return None
    there = {field: [values[k] for k in chosen] for field, values in stations.items() if values}
    return Start.of(names, read.network(there, covariance=covariance), search)
