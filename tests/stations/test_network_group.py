# SPDX-License-Identifier: GPL-2.0-or-later
"""The adjustment of one group: the scatter of its walls."""

from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.stations.network_evidence import evidence_of
from roomtie.processing.stations.network_group import adjust_group
from roomtie.processing.stations.network_options import NetworkOptions
from roomtie.processing.stations.network_system import Datum
from surveyed import POSES, survey

ROOM = POSES[:2]


def adjusted(seed, uneven_m=0.0):
    """The group of two stations in one room, whose walls are seen where they are to this."""
    taken = survey(seed=seed, poses=ROOM, sighted={})
    rng = np.random.default_rng(seed)
    faces = []
    for own in (fit_faces(capture) for capture in taken.captures):
        off = uneven_m * rng.standard_normal((len(own), 1)) * own.normal
        faces.append(replace(own, centre_m=own.centre_m + off))
    evidence = evidence_of(taken, faces, NetworkOptions())
    return adjust_group(evidence, np.arange(2), ROOM, Datum(), {}, True)


def test_chance_makes_no_scatter():
    """Walls as good as stated: in a small group the residuals' median is off by a third, often."""
    assert [adjusted(seed).scatter for seed in range(40)] == [1.0] * 40


def test_walls_that_fit_worse_than_stated_raise_the_errors():
    found = adjusted(3, uneven_m=0.003)
    assert found.scatter > 3.0
    plain = adjusted(3).snooping.adjustment.covariance(np.arange(6))
    rough = found.snooping.adjustment.covariance(np.arange(6))
    # The walls' share of the covariance; there is nothing else.
    assert np.trace(rough) == pytest.approx(found.scatter**2 * np.trace(plain), rel=0.2)
