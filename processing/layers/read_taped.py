# SPDX-License-Identifier: GPL-2.0-or-later
"""Rows of a table of taped distances back into what the stages take."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..errors import SurveyError
from ..walls.taped import Taped
from .read import Columns
from .rows import MM, NAN

TAPED_FIELDS = ("from_ref", "to_ref", "taped_m")


def read_taped(columns: Columns, layer: str, usual_sigma_m: float) -> tuple[Taped, ...]:
    """The taped distances of a table; a row without a standard error has the usual one.

    SurveyError naming the row for a missing reference, and a length or error that is no number
    above zero.
    """

    def positive(value: Any, field: str, where: str) -> float:
        try:
            number = float(value)
        except (TypeError, ValueError):
            number = NAN
        if not 0.0 < number < np.inf:
            raise SurveyError(f"{where}: {field} is {value!r}, expected a number above 0.")
        return number

    found = []
    sigmas = columns["sigma_taped_mm"]
    for row, (first, second, length, sigma) in enumerate(
        zip(columns["from_ref"], columns["to_ref"], columns["taped_m"], sigmas), start=1
    ):
        where = f"Layer {layer}, row {row}"
        for field, value in (("from_ref", first), ("to_ref", second)):
            if value in (None, "") or not str(value).strip():
                raise SurveyError(
                    f"{where}: {field} is empty; expected the name of a wall, corner or target."
                )
        own = usual_sigma_m
        if sigma not in (None, ""):
            own = positive(sigma, "sigma_taped_mm", where) / MM
        found.append(Taped(str(first), str(second), positive(length, "taped_m", where), own, where))
    return tuple(found)
