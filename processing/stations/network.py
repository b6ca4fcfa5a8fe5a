# SPDX-License-Identifier: GPL-2.0-or-later
"""From captures and their faces to an adjusted network of stations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from ..angles import Floats, wrap_half
from ..captures.face_model import Faces
from ..captures.layout import lay_out
from ..captures.model import Ints, Survey
from ..errors import SurveyError
from ..progress import SILENT, Progress
from .connect import Connector
from .connect_bumped import find_bumped
from .connect_frames import composed, moved
from .connect_groups import Groups, compass_of
from .connect_targets import join_by_targets, mark_mistaken
from .model import Network, NetworkStatistics, Status, Targets, TieKind, Ties
from .network_group import AdjustedGroup, Evidence, adjust_group
from .network_placing import boxes, clear_shift, geotag_shift
from .network_rigid import Loose
from .overlap import view_of
from .plan_north import building_axis_rad, nearest_axis_rad, plan_north_rad
from .targets import sightings_of, surfaces_of
from .ties import TieList, add_group, add_refused


@dataclass(frozen=True)
class NetworkOptions:
    """What ties stations and where the datum lies.

    `hold` names the station that keeps position and orientation (None: a free network, inner
    constraints). `excluded` are names of ties, as the ties list writes them, that a person has
    taken out.
    """

    hold: str | None = None
    use_targets: bool = True
    use_overlap: bool = True
    use_compass: bool = True
    excluded: tuple[str, ...] = ()


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
    held = _held(survey, options.hold)
    evidence = _evidence(survey, faces, options)
    groups, overlaps = _connected(survey, evidence, options, progress.part(0.0, 0.6))
    pose = groups.pose.copy()
    adjusted: list[AdjustedGroup] = []
    waiting = _ordered([groups.members(g) for g in groups.leaders()], held)
    done, total = 0, sum(len(of) for of in waiting)
    while waiting:
        of = waiting.pop(0)
        step = progress.part(0.6 + 0.4 * done / total, 0.6 + 0.4 * (done + len(of)) / total)
        step.at(0.0)
        keep = held if held is not None and held in of else None
        try:
            group = adjust_group(
                evidence, of, pose, keep, groups.why_out, options.use_overlap, step
            )
        except Loose as loose:
            waiting = _ordered([of[part] for part in loose.parts] + waiting, held)
            continue
        done += len(of)
        pose[of] = group.pose
        adjusted.append(group)
    adjusted.sort(key=lambda group: _rank(group.members, held))
    network = _finished(survey, evidence, held, groups, overlaps, adjusted, pose)
    progress.at(1.0)
    return network


def _held(survey: Survey, hold: str | None) -> int | None:
    if not hold:
        return None
    if hold not in survey.names:
        raise SurveyError(
            f"The station to hold, {hold!r}, is not in the survey; "
            f"expected one of {', '.join(survey.names)}."
        )
    return survey.index(hold)


def _evidence(survey: Survey, faces: Sequence[Faces], options: NetworkOptions) -> Evidence:
    if len(faces) != len(survey):
        raise SurveyError(
            f"The survey has {len(survey)} captures but faces of {len(faces)}; "
            "expected one set of faces a capture."
        )
    sightings = sightings_of(survey)
    surfaces = surfaces_of(survey, sightings.name)
    if not options.use_targets:
        sightings, surfaces = sightings.chosen([]), surfaces.chosen([])
    return Evidence(
        survey.names,
        faces,
        np.array([capture.level for capture in survey.captures], dtype=np.int64),
        sightings,
        surfaces,
        compass_of(survey.captures, options.use_compass),
    )


def _connected(
    survey: Survey, evidence: Evidence, options: NetworkOptions, progress: Progress
) -> tuple[Groups, list]:
    """Groups with approximate poses, and the overlaps looked at."""
    groups = Groups.apart(survey.names, evidence.sightings, evidence.surfaces, evidence.compass)
    views = []
    if options.use_overlap:
        views = [
            view_of(capture, faces)
            for capture, faces in progress.part(0.0, 0.1).over(
                list(zip(survey.captures, evidence.faces))
            )
        ]
    connector = Connector.of(views, groups, evidence.level)
    join_by_targets(groups, connector.judge if options.use_overlap else None)
    if options.use_overlap:
        find_bumped(groups, views, evidence.level)
        connector.join(progress.part(0.1, 1.0))
    mark_mistaken(groups)
    return groups, connector.overlaps


def _rank(members: Ints, held: int | None) -> tuple[bool, int, int]:
    """Order of groups: that of the held or first station, then by size."""
    first = 0 if held is None else held
    return (first not in members, -len(members), int(members[0]))


def _ordered(groups: Sequence[Ints], held: int | None) -> list[Ints]:
    """Groups of two or more, in their order."""
    return sorted((of for of in groups if len(of) > 1), key=lambda of: _rank(of, held))


def _finished(
    survey: Survey,
    evidence: Evidence,
    held: int | None,
    groups: Groups,
    overlaps: list,
    adjusted: list[AdjustedGroup],
    pose: Floats,
) -> Network:
    """Turn every group to plan north, place the groups apart and put the results together."""
    count = len(survey)
    number = np.zeros(count, dtype=np.int64)
    for k, group in enumerate(adjusted, start=1):
        number[group.members] = k
    alone = np.flatnonzero(number == 0)
    blocks = [group.members for group in adjusted] + [np.array([s]) for s in alone]
    frames = _frames(survey, evidence, groups, held, blocks, pose)
    covariance = np.full((3 * count, 3 * count), np.nan)
    covariance[:] = 0.0
    target_frames: dict[int, tuple[AdjustedGroup, Floats]] = {}
    for group, frame in zip(adjusted, frames):
        _put_covariance(covariance, group, frame)
        for target in group.targets:
            known = target_frames.get(int(target))
            if known is None:
                target_frames[int(target)] = (group, frame)
    for of, frame in zip(blocks, frames):
        pose[of] = composed(frame, pose[of])
    for station in alone:
        rows = slice(3 * station, 3 * station + 3)
        covariance[rows, :] = 0.0 if station == held else np.nan
        covariance[:, rows] = 0.0 if station == held else np.nan
    ties = _ties(evidence, adjusted, overlaps, pose, number)
    status = tuple(
        Status.HELD
        if station == held
        else (Status.ADJUSTED if number[station] else Status.UNCONNECTED)
        for station in range(count)
    )
    statistics = _statistics(adjusted, ties, int(np.sum(number == 0)))
    return Network(
        station=survey.names,
        xy_m=pose[:, :2],
        orientation_rad=wrap_half(pose[:, 2]),
        covariance=covariance,
        network=number,
        status=status,
        ties=ties,
        targets=_targets(evidence, adjusted, frames),
        statistics=statistics,
        warnings=tuple(_warnings(survey, adjusted, ties, statistics, number)),
    )


def _frames(
    survey: Survey,
    evidence: Evidence,
    groups: Groups,
    held: int | None,
    blocks: list[Ints],
    pose: Floats,
) -> list[Floats]:
    """Motions (3,) of the groups into the plan: +y to plan north, the held (else the first)
    station of the first group at the origin, the others placed apart."""
    geotag, _ = lay_out(survey)
    tagged = np.array([capture.has_geotag for capture in survey.captures], dtype=bool)
    frames: list[Floats] = []
    placed: list[dict[int, Floats]] = []
    main_azimuth: float | None = None
    first_pose = pose
    for k, of in enumerate(blocks):
        axis = building_axis_rad([evidence.faces[s] for s in of], pose[of, 2])
        offset = _compass_offset(evidence, of, pose)
        north = plan_north_rad(axis, offset, float(pose[of[0], 2]))
        if offset is not None and axis is not None:
            if main_azimuth is None:
                main_azimuth = float(wrap_half(north + offset))
            else:
                # All groups are one building: the same of its axes is up in all of them.
                north = nearest_axis_rad(axis, main_azimuth - offset)
        frame = np.array([0.0, 0.0, -north])
        moved_pose = composed(frame, pose[of])
        anchor = 0
        if held is not None and held in of:
            anchor = int(np.flatnonzero(of == held)[0])
        frame[:2] = -moved_pose[anchor, :2]
        here = pose.copy()
        here[of] = composed(frame, pose[of])
        box = boxes(survey.captures, evidence.faces, of, here)
        if k == 0:
            first_pose = here
        else:
            both = here.copy()
            both[blocks[0]] = first_pose[blocks[0]]
            wanted = geotag_shift(geotag, tagged, of, both, blocks[0], main_azimuth or 0.0)
            if wanted is None or main_azimuth is None:
                wanted = np.zeros(2)
            length = float(np.hypot(*wanted))
            away = wanted / length if length > 0.1 else np.array([1.0, 0.0])
            shift = clear_shift(box, placed, wanted, away)
            frame[:2] += shift
            here[of, :2] += shift
            box = boxes(survey.captures, evidence.faces, of, here)
        placed.append(box)
        frames.append(frame)
    return frames


def _compass_offset(evidence: Evidence, of: Ints, pose: Floats) -> float | None:
    """Magnetic azimuth of +y of a group's frame, from the median of its bearings."""
    groups = Groups.apart(evidence.names, evidence.sightings, evidence.surfaces, evidence.compass)
    groups.group[of] = int(of[0])
    others = np.setdiff1d(np.arange(len(pose)), of)
    groups.group[others] = -1
    groups.pose = pose
    north = groups.north(int(of[0]))
    return None if north is None else north[0]


def _put_covariance(covariance: Floats, group: AdjustedGroup, frame: Floats) -> None:
    """Write a group's covariance, turned into the plan, into the full one."""
    count = len(group.members)
    own = group.snooping.adjustment.covariance(np.arange(3 * count))
    turn = _turn_matrix(frame[2], count)
    rows = (3 * group.members[:, None] + np.arange(3)).ravel()
    covariance[np.ix_(rows, rows)] = turn @ own @ turn.T


def _turn_matrix(angle_rad: float, count: int) -> Floats:
    s, c = np.sin(angle_rad), np.cos(angle_rad)
    one = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return np.kron(np.eye(count), one)


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
    evidence: Evidence, adjusted: list[AdjustedGroup], overlaps: list, pose: Floats, number: Ints
) -> Ties:
    out = TieList()
    for group in adjusted:
        add_group(out, evidence, group)
    add_refused(out, evidence, overlaps, pose, number)
    return out.ties()


def _statistics(adjusted: list[AdjustedGroup], ties: Ties, unconnected: int) -> NetworkStatistics:
    """Figures over all groups together: sums of squares and degrees of freedom add."""
    squares = sum(group.snooping.adjustment.sum_of_squares for group in adjusted)
    freedom = sum(group.snooping.adjustment.degrees_of_freedom for group in adjusted)
    w = np.concatenate([g.snooping.statistics.standardised for g in adjusted] + [np.empty(0)])
    used = np.concatenate([g.snooping.adjustment.used for g in adjusted] + [np.empty(0, bool)])
    tested = np.abs(w[used & np.isfinite(w)])
    rejected = sum(
        1 for kind, taken in zip(ties.kind, ties.used) if not taken and kind != TieKind.GEOTAG
    )
    low, high = (chi2.ppf([0.025, 0.975], freedom) / freedom) if freedom else (0.0, np.inf)
    return NetworkStatistics(
        reference_variance=float(squares / freedom) if freedom else 1.0,
        degrees_of_freedom=int(freedom),
        lower_bound=float(low),
        upper_bound=float(high),
        largest_standardised_residual=float(tested.max(initial=0.0)),
        unconnected_stations=unconnected,
        rejected_ties=rejected,
    )


def _warnings(
    survey: Survey,
    adjusted: list[AdjustedGroup],
    ties: Ties,
    statistics: NetworkStatistics,
    number: Ints,
) -> list[str]:
    told = []
    alone = [name for name, n in zip(survey.names, number) if n == 0]
    if alone and len(survey) > 1:
        told.append(
            f"Not connected, drawn apart and outside the adjustment: {', '.join(alone)}. "
            "A common target or a wider view of common walls would tie them."
        )
    if len(adjusted) > 1:
        parts = [
            f"{k}: {', '.join(survey.names[s] for s in group.members)}"
            for k, group in enumerate(adjusted, start=1)
        ]
        told.append(
            f"The stations form {len(adjusted)} groups that nothing connects, each adjusted by "
            f"itself ({'; '.join(parts)}); their places relative to each other are a sketch."
        )
    for k, group in enumerate(adjusted, start=1):
        if group.scatter > 1.0:
            told.append(
                f"Walls of group {k} agree {group.scatter:.1f} times worse than the readings' "
                "noise; the errors of the stations are raised accordingly."
            )
    if not statistics.passes:
        told.append(
            f"The reference variance {statistics.reference_variance:.2f} lies outside "
            f"{statistics.lower_bound:.2f} to {statistics.upper_bound:.2f} (95 %): "
            "the stated noise or some ties are not right."
        )
    return told
