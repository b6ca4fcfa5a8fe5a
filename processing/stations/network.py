# SPDX-License-Identifier: GPL-2.0-or-later
"""From captures and their faces to an adjusted network of stations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..angles import Floats, wrap_half
from ..captures.face_model import Faces
from ..captures.layout import lay_out
from ..captures.model import Ints, Survey
from ..progress import SILENT, Progress
from .choices import TAKEN_OUT, Choices, PairRule, Start
from .connect import Connector
from .connect_bumped import find_bumped
from .connect_doubted import look_at_doubted
from .connect_frames import composed, moved
from .connect_groups import Groups
from .connect_left import join_what_is_left, tell_unchecked
from .connect_overlaps import OverlapTie
from .connect_targets import join_by_targets, mark_mistaken
from .held_errors import follow_held
from .misclosures import loops_of, worst_first
from .model import Loop, Network, Status, Targets, Ties
from .network_evidence import Evidence, evidence_of
from .network_group import AdjustedGroup, adjust_group
from .network_placing import frames_of
from .network_report import choice_warnings, statistics_over, warnings_of
from .network_rigid import Loose
from .network_settle import settle_groups
from .network_start import begin_at, check_start, datum_of, joined_since, return_to
from .overlap import view_of
from .proposals import proposals_of
from .reliability import Rest, Unseen, largest_unseen, resting
from .storeys import storey_joins, storey_warnings
from .systematics import Systematics
from .systematics_estimate import estimate_systematics, follow_systematics
from .target_geometry import TargetLimits
from .target_report import target_warnings
from .target_surfaces import TargetSurfaces
from .tie_names import sighting_name
from .ties import TieList, add_geotags, add_group, add_refused
from .ties_choices import add_left_out


@dataclass(frozen=True)
class NetworkOptions:
    """What ties stations and where the datum lies.

    `hold` names a station that keeps position and orientation, beside those that `choices` hold
    (none: a free network, inner constraints). `choices` are what a person decided about stations
    and ties, `start` poses to start from. `corrected` are systematic errors that the readings were
    freed of: their covariance goes on into the stations'. Targets outside `limits` are warned of.
    """

    hold: str | None = None
    choices: Choices = field(default_factory=Choices)
    start: Start | None = None
    use_targets: bool = True
    use_overlap: bool = True
    use_compass: bool = True
    corrected: Systematics | None = None
    limits: TargetLimits = field(default_factory=TargetLimits)


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
    network = _finished(
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
        doubted = look_at_doubted(groups, views, level, rule, progress.part(0.95, 1.0))
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


def _finished(
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
    unseen, rests, loops = _checked(evidence, adjusted, progress.part(0.4, 1.0))
    return Network(
        station=survey.names,
        xy_m=pose[:, :2],
        orientation_rad=wrap_half(pose[:, 2]),
        covariance=covariance,
        network=_own_groups(number),
        status=status,
        ties=ties,
        targets=_targets(evidence, adjusted, frames),
        statistics=statistics,
        warnings=(
            *choice_warnings(options.choices, unknown),
            *warnings_of(
                survey.names,
                adjusted,
                ties,
                statistics,
                np.where(np.isin(survey.names, options.choices.left_out), -1, number),
            ),
            *target_warnings(evidence, adjusted, groups, options.limits),
            *storey_warnings(evidence, number),
        ),
        systematics=estimate_systematics(
            survey.captures, evidence.faces, evidence.sightings, adjusted
        ),
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
    s, c = np.sin(frame[2]), np.cos(frame[2])
    turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    blocks = own.reshape(count, 3, count, 3).transpose(0, 2, 1, 3)
    turned = (turn @ blocks @ turn.T).transpose(0, 2, 1, 3).reshape(own.shape)
    rows = (3 * group.members[:, None] + np.arange(3)).ravel()
    covariance[np.ix_(rows, rows)] = turned


def _targets(evidence: Evidence, adjusted: list[AdjustedGroup], frames: list[Floats]) -> Targets:
    """Adjusted targets in the plan, group by group."""
    names, xy, covariance, sightings, network = [], [], [], [], []
    for k, (group, frame) in enumerate(zip(adjusted, frames), start=1):
        adjustment = group.snooping.adjustment
        used = adjustment.observations.by_item("sightings", adjustment.used).any(axis=1)
        blocks = adjustment.point_covariance()
        s, c = np.sin(frame[2]), np.cos(frame[2])
        turn = np.array([[c, s], [-s, c]])
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
    out = TieList()
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
    return out.ties(), unknown
