# SPDX-License-Identifier: GPL-2.0-or-later
"""What the captures of a survey observed, as far as options and a person's choices let it count."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..captures.face_model import Faces
from ..captures.model import Ints, Survey
from ..errors import SurveyError
from .choices import Choices
from .connect_groups import Compass, compass_of
from .loose_readings import LooseReadings, loose_readings
from .network_options import NetworkOptions
from .target_surfaces import TargetSurfaces, surfaces_in_rings, surfaces_of
from .targets import TargetSightings, sightings_of
from .tie_names import compass_name, pairs_named, sighting_name, surface_name


@dataclass(frozen=True, eq=False)
class Evidence:
    """What all stations of a survey observed; indices are those of the survey. `loose` are readings
    on no face that counts. Pairs of stations (the lesser first) in `barred` share no surface, as a
    person decided; those in `overlap_factor` have the standard errors of their overlap multiplied.
    """

    names: tuple[str, ...]
    faces: Sequence[Faces]
    level: Ints
    sightings: TargetSightings
    surfaces: TargetSurfaces
    compass: Compass
    loose: LooseReadings = field(default_factory=LooseReadings)
    barred: frozenset[tuple[int, int]] = frozenset()
    overlap_factor: Mapping[tuple[int, int], float] = field(default_factory=dict)


def evidence_of(survey: Survey, faces: Sequence[Faces], options: NetworkOptions) -> Evidence:
    """The evidence of a survey with ``faces`` of each capture; a sighting that a person took out is
    there still, so that it gets a residual."""
    if len(faces) != len(survey):
        raise SurveyError(
            f"The survey has {len(survey)} captures but faces of {len(faces)}; "
            "expected one set of faces a capture."
        )
    names, choices = survey.names, options.choices
    left_out = choices.leaves_out(names)
    sightings = sightings_of(survey)
    surfaces = surfaces_of(survey, sightings.name)
    surfaces = surfaces.with_more(surfaces_in_rings(faces, sightings, surfaces))
    if not options.use_targets:
        sightings, surfaces = sightings.chosen([]), surfaces.chosen([])
    sightings = sightings.chosen(np.flatnonzero(~left_out[sightings.station]))
    surfaces = surfaces.chosen(np.flatnonzero(~left_out[surfaces.station]))
    return Evidence(
        names,
        faces,
        np.array([capture.level for capture in survey.captures], dtype=np.int64),
        _sightings(names, sightings, choices),
        _surfaces(names, sightings.name, surfaces, choices),
        _compass(names, compass_of(survey.captures, options.use_compass), choices),
        loose_readings(survey.captures, faces) if options.use_overlap else LooseReadings(),
        pairs_named(choices.ties_left_out, names),
        {
            pair: factor
            for name, factor in choices.sigma_factor.items()
            for pair in pairs_named([name], names)
        },
    )


def _sightings(
    names: Sequence[str], sightings: TargetSightings, choices: Choices
) -> TargetSightings:
    factor = choices.factors(
        sighting_name(names[s], sightings.name[t])
        for s, t in zip(sightings.station, sightings.target)
    )
    return replace(
        sightings,
        sigma_rad=sightings.sigma_rad * factor,
        sigma_m=sightings.sigma_m * factor,
    )


def _surfaces(
    names: Sequence[str], targets: Sequence[str], surfaces: TargetSurfaces, choices: Choices
) -> TargetSurfaces:
    ties = [surface_name(names[s], targets[t]) for s, t in zip(surfaces.station, surfaces.target)]
    weighed = replace(surfaces, sigma_rad=surfaces.sigma_rad * choices.factors(ties))
    return weighed.chosen([k for k, tie in enumerate(ties) if tie not in choices.ties_left_out])


def _compass(names: Sequence[str], compass: Compass, choices: Choices) -> Compass:
    ties = [compass_name(name) for name in names]
    out = np.array([tie in choices.ties_left_out for tie in ties], dtype=bool)
    return Compass(
        np.where(out, np.nan, compass.bearing_rad), compass.sigma_rad * choices.factors(ties)
    )
