# SPDX-License-Identifier: GPL-2.0-or-later
"""The runs of the host that make the results of one building: its plan, then things of that."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import SurveyError
from .tree import Building

PLAN = "planfromcaptures"
PRODUCTS = {
    "exportdrawing": {"OUTPUT": ".dxf"},
    "exportindoor": {"OUTPUT": "-indoor.zip", "OUTPUT_HTML": "-indoor.html"},
    "plansheet": {"OUTPUT": ".pdf"},
}
"""Algorithms that take a plan, and the endings of what they write."""

DECIDED = frozenset({"INPUT", "OUTPUT", "OUTPUT_HTML", "REPORT"})
NAME = re.compile(r"[A-Z][A-Z_]*")
GEOPACKAGE, REPORT, NUMBERS = ".gpkg", ".html", ".json"


@dataclass(frozen=True)
class Step:
    """One run: the algorithm, its parameters, and the names of the files that it must leave."""

    algorithm: str
    parameters: Mapping[str, Any]
    files: tuple[str, ...]


def result(building: Building, ending: str) -> str:
    """The name of a result: that of the building, so that files of several can lie together."""
    return building.name.replace("/", "-") + ending


def result_names(building: Building, also: Sequence[str]) -> tuple[str, ...]:
    """All files that a building has when it is done."""
    endings = [GEOPACKAGE, REPORT, NUMBERS]
    endings += [ending for name in also for ending in PRODUCTS[name].values()]
    return tuple(result(building, ending) for ending in endings)


def parameters_by_algorithm(
    parameters: Mapping[str, Any], also: Sequence[str]
) -> dict[str, dict[str, Any]]:
    """Parameters of each run: ``NAME`` is one of the plan, ``exportindoor.NAME`` one of that.

    SurveyError for an algorithm that is not run here, and a parameter that the tree decides.
    """
    found: dict[str, dict[str, Any]] = {name: {} for name in (PLAN, *also)}
    for word, value in parameters.items():
        algorithm, _, name = word.rpartition(".")
        # The name becomes a word of a command, in which an equals sign would end it.
        if not NAME.fullmatch(name):
            raise SurveyError(
                f"{word!r}: this is no name of a parameter; expected capital letters and "
                "underscores, as in TARGET_CRS."
            )
        if algorithm and algorithm not in (PLAN, *PRODUCTS):
            raise SurveyError(
                f"{word}: found a parameter of {algorithm}; expected one of {PLAN} or, as in "
                f"exportindoor.COUNTRY, of {', '.join(PRODUCTS)}."
            )
        if name in DECIDED:
            raise SurveyError(f"{word} is decided by the tree; expected other parameters.")
        if (algorithm or PLAN) in found:
            found[algorithm or PLAN][name] = value
    return found


def steps(
    building: Building, parameters: Mapping[str, Mapping[str, Any]], work: Path
) -> list[Step]:
    """The runs of a building into a folder, in their order."""
    plan = work / result(building, GEOPACKAGE)
    report = work / result(building, REPORT)
    given = {**parameters[PLAN], "INPUT": building.captures, "OUTPUT": plan, "REPORT": report}
    found = [Step(PLAN, given, result_names(building, ()))]
    for name, own in parameters.items():
        if name == PLAN:
            continue
        outputs = {key: work / result(building, end) for key, end in PRODUCTS[name].items()}
        usual = {"VENUE_NAME": building.name} if name == "exportindoor" else {}
        files = tuple(path.name for path in outputs.values())
        found.append(Step(name, {**usual, **own, "INPUT": plan, **outputs}, files))
    return found
