# SPDX-License-Identifier: GPL-2.0-or-later
"""Joining by targets against the slow way: all pairs of groups looked at anew after each join."""

import numpy as np
import pytest
from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.stations.connect_groups import Groups
from roomtie.processing.stations.connect_support import objection
from roomtie.processing.stations.connect_targets import (
    SURE_TARGETS,
    _alike,
    _by_names,
    _cleared,
    _Unclear,
    join_by_targets,
)
from roomtie.processing.stations.network import NetworkOptions
from roomtie.processing.stations.network_evidence import evidence_of
from roomtie.processing.stations.target_names import settle_names
from simulated_targets import Mark, Sighted


def hall(seed, stations=14):
    """Stations along a long hall, each with the targets near it; every fourth sighting or so bears
    the name of another target, and some stations miss a target."""
    rng = np.random.default_rng([61, seed])
    at = np.column_stack([3.0 * np.arange(stations), rng.uniform(-1, 1, stations)])
    marks = {
        f"T{k}": Mark(x, y, rng.uniform(0.5, 2.0))
        for k, (x, y) in enumerate(
            zip(rng.uniform(-2, 3.0 * stations, 3 * stations), rng.uniform(-3, 3, 3 * stations))
        )
    }
    by, written = [], {}
    for s in range(stations):
        near = [n for n, m in marks.items() if np.hypot(m.x - at[s, 0], m.y - at[s, 1]) < 5.0]
        own = [n for n in near if rng.random() < 0.8]
        by.append(own)
        if rng.random() < 0.4 and len(own) > 1:
            for old, new in zip(own, rng.permutation(own)):
                if old != new and rng.random() < 0.6:
                    written[s, old] = str(new)
    pose = np.column_stack([at, rng.uniform(-np.pi, np.pi, stations)])
    return Sighted(
        pose, np.repeat([0, 1], [stations // 2, stations - stations // 2]), marks, by, written
    )


def groups_of(truth, seed):
    taken = truth.survey(np.random.default_rng([62, seed]))
    faces = [no_faces(len(capture)) for capture in taken.captures]
    evidence = evidence_of(taken, faces, NetworkOptions())
    return Groups.apart(taken.names, evidence.sightings, evidence.surfaces, evidence.compass)


def join_anew(groups, level):
    """The best of all pairs, as often as there is one; how many joins are found."""
    refused, version, joins = set(), dict.fromkeys(groups.leaders(), 0), 0
    while True:
        best = None
        for first in groups.leaders():
            for second in groups.sharing(first).tolist():
                pair = first, second, version[first], version[second]
                shared = np.isin(level[groups.members(first)], level[groups.members(second)])
                if second < first or pair in refused or not shared.any():
                    continue
                one, other = groups.points(first), groups.points(second)
                found = _by_names(first, second, one, other)
                if isinstance(found, _Unclear):
                    at_most = found.rank
                    found = _cleared(groups, None, first, second, found, _alike(one, other))
                    if found is None:
                        continue
                    assert found.rank <= at_most
                order = tuple(-value for value in found.rank), first, second
                if best is None or order < best[0]:
                    best = order, pair, found
        if best is None:
            return joins
        _, pair, found = best
        if len(found.targets) < SURE_TARGETS and objection(groups, None, *pair[:2], found.pose):
            refused.add(pair)
            continue
        joins += 1
        groups.join(*pair[:2], found.pose)
        settle_names(groups, pair[0], last=False)
        for group in pair[:2]:
            version[group] += 1


@pytest.mark.parametrize("seed", range(20))
def test_the_same_as_looking_at_all_pairs_anew(seed):
    truth = hall(seed)
    level = np.zeros(len(truth.pose), dtype=np.int64) if seed % 2 else truth.level
    quick, slow = groups_of(truth, seed), groups_of(truth, seed)
    join_by_targets(quick, level=level)
    assert join_anew(slow, level) >= 2
    np.testing.assert_array_equal(quick.group, slow.group)
    np.testing.assert_array_equal(quick.pose, slow.pose)
    np.testing.assert_array_equal(quick.sightings.target, slow.sightings.target)
    np.testing.assert_array_equal(quick.sightings.remark, slow.sightings.remark)
    assert quick.why_out == slow.why_out
