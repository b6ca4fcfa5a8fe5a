# SPDX-License-Identifier: GPL-2.0-or-later
"""From captures and their faces to an adjusted network of stations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..captures.face_model import Faces
from ..captures.layout import lay_out
from ..captures.model import Ints, Survey
from ..progress import SILENT, Progress
from .choices import TAKEN_OUT, PairRule
from .connect import Connector
from .connect_bumped import find_bumped
from .connect_doubted import look_at_doubted
from .connect_groups import Groups
from .connect_left import join_what_is_left, tell_unchecked
from .connect_overlaps import OverlapTie
from .connect_targets import join_by_targets, mark_mistaken
from .model import Network
from .network_evidence import Evidence, evidence_of
from .network_group import AdjustedGroup, adjust_group
from .network_options import NetworkOptions
from .network_result import network_of
from .network_rigid import Loose
from .network_settle import settle_groups
from .network_start import begin_at, check_start, datum_of, return_to
from .overlap import view_of
from .proposals import proposals_of
from .target_surfaces import TargetSurfaces
from .tie_names import sighting_name


def adjust_survey(
    survey: Survey,
    faces: Sequence[Faces],
    options: NetworkOptions | None = None,
    progress: Progress = SILENT,
) -> Network:
    """Tie the stations of a survey and adjust every connected group by least squares.

    `faces` are those of the captures, in their order; captures carry definite noise
    (`captures.noise.with_noise`). Raises SurveyError when `hold` names no station, and Cancelled.
    """
    options = options if options is not None else NetworkOptions()
    decided = options.choices
    options = replace(options, choices=decided.holding(options.hold))
    options.choices.check(survey.names)
    held = np.array(sorted(survey.index(name) for name in options.choices.held), dtype=np.int64)
    check_start(options.start, survey.names, held)
    if options.start is not None:
        start = options.start.without(survey.names, options.choices.left_out)
        options = replace(options, start=start)
    evidence = evidence_of(survey, faces, options)
    groups, overlaps = _connected(survey, evidence, options, held, progress.part(0.0, 0.6))
    # Names of targets that were mistaken are settled.
    surfaces = _surfaces_observed(groups, options)
    evidence = replace(evidence, sightings=groups.sightings, surfaces=surfaces)
    pose = groups.pose.copy()
    adjusted: list[AdjustedGroup] = []
    waiting = _ordered([groups.members(g) for g in groups.leaders()], held)
    done, total = 0, sum(len(of) for of in waiting)
    while waiting:
        of = waiting.pop(0)
        step = progress.part(0.6 + 0.35 * done / total, 0.6 + 0.35 * (done + len(of)) / total)
        step.at(0.0)
        try:
            group = adjust_group(
                evidence,
                of,
                pose,
                datum_of(of, options.start, held),
                groups.why_out,
                options.use_overlap,
                step,
                groups.relatives,
            )
        except Loose as loose:
            waiting = _ordered([of[part] for part in loose.parts] + waiting, held)
            continue
        done += len(of)
        pose[of] = group.pose
        adjusted.append(group)
    adjusted.sort(key=lambda group: _rank(group.members, held))
    network = network_of(
        survey,
        evidence,
        held,
        groups,
        overlaps,
        adjusted,
        pose,
        options,
        progress.part(0.95, 0.98),
    )
    proposals = proposals_of(survey, evidence, adjusted, network.ties, progress.part(0.98, 1.0))
    progress.at(1.0)
    told = (f"Proposed for {name}: {text}." for name, text in proposals.items())
    # `hold` is of this run; what a person decided goes on.
    return replace(
        network, choices=decided, proposals=proposals, warnings=(*network.warnings, *told)
    )


def _connected(
    survey: Survey,
    evidence: Evidence,
    options: NetworkOptions,
    held: Ints,
    progress: Progress,
) -> tuple[Groups, list[OverlapTie]]:
    """Groups with approximate poses, and the overlaps looked at."""
    groups = Groups.apart(survey.names, evidence.sightings, evidence.surfaces, evidence.compass)
    if options.start is not None:
        begin_at(groups, options.start)
    s = evidence.sightings
    for row, (station, target) in enumerate(zip(s.station, s.target)):
        if sighting_name(survey.names[station], s.name[target]) in options.choices.ties_left_out:
            groups.why_out[row] = TAKEN_OUT
    views = []
    if options.use_overlap:
        views = [
            view_of(capture, faces)
            for capture, faces in progress.part(0.0, 0.1).over(
                list(zip(survey.captures, evidence.faces))
            )
        ]
    tagged = np.array([capture.has_geotag for capture in survey.captures], dtype=bool)
    place = np.where(tagged[:, None], lay_out(survey)[0], np.nan)
    doubt = np.array([capture.place_sigma_m for capture in survey.captures])
    rule = PairRule.of(survey.names, options.choices, options.start)
    connector = Connector.of(views, groups, evidence.level, place, doubt, rule)
    judge = connector.judge if options.use_overlap else None
    level = evidence.level
    join_by_targets(groups, judge, progress.part(0.1, 0.15), level)
    if options.use_overlap:
        find_bumped(groups, views, level, progress.part(0.15, 0.2), rule.placed)
        if options.start is None:
            seen = replace(
                evidence, sightings=groups.sightings, surfaces=_surfaces_observed(groups, options)
            )
            settle_groups(seen, groups, progress.part(0.2, 0.25))
        connector.join(progress.part(0.25, 0.9))
    groups.hung_by = join_what_is_left(groups, judge, level, progress.part(0.9, 0.95))
    overlaps = connector.overlaps
    if options.use_overlap:
        doubted = look_at_doubted(
            groups, views, level, rule, connector.scatter, progress.part(0.95, 1.0)
        )
        overlaps = [*overlaps, *doubted]
    mark_mistaken(groups)
    tell_unchecked(groups, overlaps)
    if options.start is not None:
        return_to(groups, options.start, held)
    return groups, overlaps


def _surfaces_observed(groups: Groups, options: NetworkOptions) -> TargetSurfaces:
    """The directions of target surfaces that the adjustment takes: faces that rings show around
    targets count among the walls, unless walls do not count and nothing else gives the turn."""
    keep = ~groups.surfaces.of_ring
    if not options.use_overlap:
        keep[list(groups.hung_by)] = True
    return groups.surfaces.chosen(np.flatnonzero(keep))


def _rank(members: Ints, held: Ints) -> tuple[bool, int, int]:
    """Order of groups: that of the first held, else the first station, then by size."""
    first = held[0] if len(held) else 0
    return (first not in members, -len(members), int(members[0]))


def _ordered(groups: Sequence[Ints], held: Ints) -> list[Ints]:
    """Groups of two or more, in their order."""
    return sorted((of for of in groups if len(of) > 1), key=lambda of: _rank(of, held))
