# SPDX-License-Identifier: GPL-2.0-or-later
"""Ties that a person took out, put down among the others so that they can be taken back."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from ..captures.model import Survey
from .choices import STATION_TAKEN_OUT, TAKEN_OUT, Choices
from .model import TieKind
from .targets import sightings_of
from .tie_names import Named, named, sighting_name
from .tie_rows import Tie

NOT_FOUND = "nothing ties them this time; the factor on its standard error is kept"


def add_left_out(
    out: list[Tie], survey: Survey, choices: Choices, place: dict[str, int], use_targets: bool
) -> list[str]:
    """Put down the sightings of stations that were left out, and the ties that a person took out or
    re-weighted and that are not listed yet; `place` is where targets are listed. Gives the names
    that name no tie."""
    names = survey.names
    sightings = sightings_of(survey)
    if use_targets:
        left_out = choices.leaves_out(names)
        for row in np.flatnonzero(left_out[sightings.station]):
            station, target = int(sightings.station[row]), sightings.name[sightings.target[row]]
            out.append(
                Tie(
                    sighting_name(names[station], target),
                    TieKind.TARGET,
                    station,
                    to_target=place.get(target, -1),
                    used=False,
                    reason=STATION_TAKEN_OUT,
                )
            )
    return _add_named(out, names, set(sightings.name), choices, place)


def _add_named(
    out: list[Tie],
    names: Sequence[str],
    targets: Collection[str],
    choices: Choices,
    place: dict[str, int],
) -> list[str]:
    listed = {row.name for row in out}
    unknown = []
    for name in sorted(choices.ties_left_out | set(choices.sigma_factor)):
        if name in listed:
            continue
        found = named(name, names, targets)
        if found is None:
            unknown.append(name)
        else:
            out.append(
                Tie(
                    name,
                    found.kind,
                    found.station,
                    to_station=found.other,
                    to_target=place.get(found.target, -1),
                    used=False,
                    reason=_reason(name, found, names, choices),
                )
            )
    return unknown


def _reason(name: str, found: Named, names: Sequence[str], choices: Choices) -> str:
    """Why a tie that a person spoke of is not among those adjusted."""
    if any(k >= 0 and names[k] in choices.left_out for k in (found.station, found.other)):
        return STATION_TAKEN_OUT
    return TAKEN_OUT if name in choices.ties_left_out else NOT_FOUND
