# SPDX-License-Identifier: GPL-2.0-or-later
"""The adjusted groups of a survey as one network in the plan: poses, errors, ties and figures."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..angles import Floats, turn_matrix, wrap_half
from ..captures.layout import lay_out
from ..captures.model import Ints, Survey
from ..progress import Progress
from .connect_frames import composed, moved, turned_covariance
from .connect_groups import Groups
from .connect_overlaps import OverlapTie
from .held_errors import follow_held
from .misclosures import loops_of, worst_first
from .model import Loop, Network, Status, Targets, Ties
from .network_evidence import Evidence
from .network_group import AdjustedGroup
from .network_options import NetworkOptions
from .network_placing import frames_of
from .network_report import choice_warnings, statistics_over, warnings_of
from .network_start import joined_since
from .reliability import Rest, Unseen, largest_unseen, resting
from .storeys import storey_joins, storey_warnings
from .systematics_estimate import estimate_systematics, follow_systematics
from .target_report import target_warnings
from .tie_rows import Tie, ties_of
from .ties import add_geotags, add_group, add_refused
from .ties_choices import add_left_out


def network_of(
    survey: Survey,
    evidence: Evidence,
    held: Ints,
    groups: Groups,
    overlaps: list[OverlapTie],
    adjusted: list[AdjustedGroup],
    pose: Floats,
    options: NetworkOptions,
    progress: Progress,
) -> Network:
    """Turn every group to plan north, place the groups apart and put the results together."""
    count = len(survey)
    number = np.zeros(count, dtype=np.int64)
    for k, group in enumerate(adjusted, start=1):
        number[group.members] = k
    alone = np.flatnonzero(number == 0)
    blocks = [group.members for group in adjusted] + [np.array([s]) for s in alone]
    before = np.zeros(count, dtype=bool) if options.start is None else options.start.known
    frames = frames_of(survey, evidence.faces, evidence.compass, held, blocks, pose, before)
    progress.at(0.0)
    covariance = np.zeros((3 * count, 3 * count))
    for (step, group), frame in zip(progress.part(0.0, 0.3).each(adjusted), frames):
        added = _of_systematics(survey, evidence, group, options) + _of_held(group, held, options)
        _put_covariance(covariance, group, frame, added, step)
    progress.at(0.3)
    for of, frame in zip(blocks, frames):
        # What stays keeps its poses to the last digit.
        pose[of] = composed(frame, pose[of]) if frame.any() else pose[of]
    for station in alone:
        rows = slice(3 * station, 3 * station + 3)
        covariance[rows, :] = 0.0 if station in held else np.nan
        covariance[:, rows] = 0.0 if station in held else np.nan
    ties, unknown = _ties(survey, evidence, groups, adjusted, overlaps, pose, number, options)
    status = tuple(
        Status.HELD
        if station in held
        else (Status.ADJUSTED if number[station] else Status.UNCONNECTED)
        for station in range(count)
    )
    statistics = statistics_over(adjusted, ties, int(np.sum(number == 0)))
    progress.at(0.4)
    unseen, rests, loops = _checked(evidence, adjusted, progress.part(0.4, 0.9))
    progress.at(0.9)
    systematics = estimate_systematics(
        survey.captures, evidence.faces, evidence.sightings, adjusted
    )
    progress.at(0.94)
    targets = _targets(evidence, adjusted, frames)
    about_targets = target_warnings(evidence, adjusted, groups, options.limits)
    progress.at(0.98)
    return Network(
        station=survey.names,
        xy_m=pose[:, :2],
        orientation_rad=wrap_half(pose[:, 2]),
        covariance=covariance,
        network=_own_groups(number),
        status=status,
        ties=ties,
        targets=targets,
        statistics=statistics,
        warnings=(
            *choice_warnings(options.choices, unknown),
            *warnings_of(
                survey.names,
                adjusted,
                ties,
                statistics,
                np.where(options.choices.leaves_out(survey.names), -1, number),
            ),
            *about_targets,
            *storey_warnings(evidence, number),
        ),
        systematics=systematics,
        corrected=options.corrected,
        unseen=unseen,
        resting=rests,
        loops=loops,
        storeys=storey_joins(evidence, adjusted),
        joined_since=tuple(
            survey.names[s]
            for group in adjusted
            for s in joined_since(group.members, options.start, held)
        ),
    )


def _checked(
    evidence: Evidence, adjusted: Sequence[AdjustedGroup], progress: Progress
) -> tuple[tuple[Unseen, ...], tuple[Rest, ...], tuple[Loop, ...]]:
    """What errors may go unseen, what rests on one observation, and how loops close."""
    unseen: list[Unseen] = []
    rests: list[Rest] = []
    loops: list[Loop] = []
    for step, group in progress.each(adjusted):
        adjustment, statistics = group.snooping.adjustment, group.snooping.statistics
        largest = largest_unseen(adjustment, statistics, step.part(0.0, 0.3))
        unseen += [] if largest is None else [largest]
        rests += resting(adjustment, statistics, step.part(0.3, 0.4))
        loops += loops_of(evidence, group, step.part(0.4, 1.0))
    return tuple(unseen), tuple(rests), worst_first(loops)


def _own_groups(number: Ints) -> Ints:
    """Group numbers ``(S,)`` in which each station without ties (0) is a group of its own, numbered
    after the connected ones: what is alone is never taken together."""
    alone = number == 0
    return np.where(alone, number.max(initial=0) + np.cumsum(alone), number)


def _of_systematics(
    survey: Survey, evidence: Evidence, group: AdjustedGroup, options: NetworkOptions
) -> Floats:
    """The covariance ``(3m, 3m)`` that the error of the corrections adds to a group's stations."""
    known = options.corrected
    if known is None:
        return np.zeros((3 * len(group.members), 3 * len(group.members)))
    follow = follow_systematics(survey.captures, evidence.faces, evidence.sightings, group)
    return follow @ known.covariance @ follow.T


def _of_held(group: AdjustedGroup, held: Ints, options: NetworkOptions) -> Floats:
    """The covariance ``(3m, 3m)`` that the errors of the held stations against the first of them
    add to a group's stations."""
    of = np.flatnonzero(np.isin(group.members, held))
    if options.start is None or len(of) < 2:
        return np.zeros((3 * len(group.members), 3 * len(group.members)))
    follow = follow_held(group.snooping.adjustment, of)
    return follow @ options.start.relative_covariance(group.members[of]) @ follow.T


def _put_covariance(
    covariance: Floats, group: AdjustedGroup, frame: Floats, added: Floats, progress: Progress
) -> None:
    """Write a group's covariance, turned into the plan, into the full one."""
    count = len(group.members)
    own = group.snooping.adjustment.covariance(np.arange(3 * count), progress=progress) + added
    rows = (3 * group.members[:, None] + np.arange(3)).ravel()
    covariance[np.ix_(rows, rows)] = turned_covariance(own, float(frame[2]))


def _targets(evidence: Evidence, adjusted: list[AdjustedGroup], frames: list[Floats]) -> Targets:
    """Adjusted targets in the plan, group by group."""
    names, xy, covariance, sightings, network = [], [], [], [], []
    for k, (group, frame) in enumerate(zip(adjusted, frames), start=1):
        adjustment = group.snooping.adjustment
        used = adjustment.observations.by_item("sightings", adjustment.used).any(axis=1)
        blocks = adjustment.point_covariance()
        turn = turn_matrix(frame[2])
        for point, target in enumerate(group.targets):
            rows = group.target_rows[used]
            of = rows[evidence.sightings.target[rows] == target]
            names.append(evidence.sightings.name[target])
            xy.append(moved(frame, adjustment.unknowns.point_xy_m[point]))
            covariance.append(turn @ blocks[point] @ turn.T)
            sightings.append(len(np.unique(evidence.sightings.station[of])))
            network.append(k)
    return Targets(
        tuple(names),
        np.array(xy).reshape(-1, 2),
        np.array(covariance).reshape(-1, 2, 2),
        np.array(sightings, dtype=np.int64),
        np.array(network, dtype=np.int64),
    )


def _ties(
    survey: Survey,
    evidence: Evidence,
    groups: Groups,
    adjusted: list[AdjustedGroup],
    overlaps: list[OverlapTie],
    pose: Floats,
    number: Ints,
    options: NetworkOptions,
) -> tuple[Ties, list[str]]:
    """The list of ties, and names that a person spoke of and no tie has."""
    out: list[Tie] = []
    listed = 0
    for group in adjusted:
        add_group(out, evidence, group, {int(t): listed + k for k, t in enumerate(group.targets)})
        listed += len(group.targets)
    add_refused(out, evidence, overlaps, pose, number)
    geotag, _ = lay_out(survey)
    tagged = np.array([capture.has_geotag for capture in survey.captures], dtype=bool)
    sigma = np.array([capture.place_sigma_m for capture in survey.captures], dtype=float)
    for group in adjusted:
        of = group.members[tagged[group.members]]
        add_geotags(out, survey.names, of, geotag, sigma, pose)
    listed_at = {
        evidence.sightings.name[t]: k
        for k, t in enumerate(t for group in adjusted for t in group.targets)
    }
    unknown = add_left_out(out, survey, options.choices, listed_at, options.use_targets)
    return ties_of(out), unknown
