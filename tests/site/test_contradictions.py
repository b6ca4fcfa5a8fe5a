# SPDX-License-Identifier: GPL-2.0-or-later
"""Planted blunders and contradictions are found, named, and the stronger evidence is followed."""

from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.angles import wrap_half
from roomtie.processing.site.contradictions import judge
from roomtie.processing.site.judged import rotation_known
from roomtie.processing.site.observations import COMPASS, CONTROL, GEOTAG
from roomtie.tests.site.simulated_evidence import draw


def items(observations, kind):
    return np.flatnonzero(observations.of_kind(kind))


def verdict(observations):
    return judge(observations, ("",) * len(observations))


def shifted(observations, item, east=0.0, north=0.0):
    host = observations.host_m.copy()
    host[item] += (east, north)
    return replace(observations, host_m=host)


def bent(observations, item, degrees):
    bearing = observations.bearing_rad.copy()
    bearing[item - observations.positions] += np.radians(degrees)
    return replace(observations, bearing_rad=wrap_half(bearing))


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("degrees", [30.0, -60.0, 175.0])
def test_a_bent_compass_is_found_among_others(seed, degrees):
    rng = np.random.default_rng(seed)
    observations, true = draw(rng, 5, 0, 6, bearing_sigma_deg=2.5)
    steel = int(rng.choice(items(observations, COMPASS)))
    judged, solution = verdict(bent(observations, steel, degrees))
    assert np.flatnonzero(~judged.use).tolist() == [steel]
    assert "local attraction" in judged.reason[steel]
    assert any(observations.name[steel] in warning for warning in judged.warnings)
    off = wrap_half(solution.parameters[2] - true[2])
    assert abs(off) < 4 * np.sqrt(solution.covariance[2, 2])


@pytest.mark.parametrize("seed", range(4))
def test_two_bent_compasses_are_found_one_after_the_other(seed):
    observations, _ = draw(np.random.default_rng(seed), 5, 0, 8, bearing_sigma_deg=2.0)
    first, second = items(observations, COMPASS)[[1, 4]]
    judged, _ = verdict(bent(bent(observations, first, 40.0), second, -35.0))
    assert set(np.flatnonzero(~judged.use)) == {first, second}


def test_two_bearings_that_contradict_each_other_are_kept_and_widened():
    """Nothing else tells the rotation: one geotag only."""
    observations, _ = draw(np.random.default_rng(1), 1, 0, 2)
    both = items(observations, COMPASS)
    judged, solution = verdict(bent(observations, both[0], 40.0))
    assert judged.use.all()
    assert all("nothing decides" in judged.reason[i] for i in both)
    assert np.degrees(np.sqrt(solution.covariance[2, 2])) > 10.0
    assert len(judged.warnings) == 1


def test_of_two_contradicting_bearings_control_points_tell_the_wrong_one():
    observations, true = draw(np.random.default_rng(2), 1, 3, 2)
    wrong = items(observations, COMPASS)[1]
    judged, solution = verdict(bent(observations, wrong, 40.0))
    assert np.flatnonzero(~judged.use).tolist() == [wrong]
    assert abs(wrap_half(solution.parameters[2] - true[2])) < np.radians(0.3)


@pytest.mark.parametrize("seed", range(4))
def test_a_geotag_from_a_reflected_signal_is_found(seed):
    observations, _ = draw(np.random.default_rng(seed), 6, 0, 4, geotag_sigma_m=4.0)
    judged, _ = verdict(shifted(observations, 2, 70.0, -30.0))
    assert np.flatnonzero(~judged.use).tolist() == [2]
    assert "m from where the rest puts it" in judged.reason[2]


def test_geotags_shifted_together_give_way_to_control_points():
    observations, true = draw(np.random.default_rng(3), 5, 2, 4)
    tagged = items(observations, GEOTAG)
    judged, solution = verdict(shifted(observations, tagged, 40.0, 0.0))
    assert not judged.use[tagged].any()
    assert judged.use[items(observations, CONTROL)].all()
    assert all("contradicts the control points" in judged.reason[i] for i in tagged)
    assert np.abs(solution.parameters[:2] - true[:2]).max() < 0.1


def test_bearings_bent_together_give_way_to_control_points():
    """A steel floor, or a wrong date: every bearing is off by the same 25 degrees."""
    observations, true = draw(np.random.default_rng(4), 5, 3, 5)
    compasses = items(observations, COMPASS)
    judged, solution = verdict(bent(observations, compasses, 25.0))
    assert not judged.use[compasses].any()
    assert "deg in rotation" in judged.reason[compasses[0]]
    assert abs(wrap_half(solution.parameters[2] - true[2])) < np.radians(0.3)


def test_bearings_bent_together_are_weighed_against_a_spread_of_geotags():
    """Two hundred metres of geotags tell the rotation better than compasses of 10 degrees."""
    observations, true = draw(
        np.random.default_rng(5), 8, 0, 4, size_m=200.0, geotag_sigma_m=2.0, bearing_sigma_deg=5.0
    )
    compasses = items(observations, COMPASS)
    judged, solution = verdict(bent(observations, compasses, 60.0))
    assert not judged.use[compasses].any()
    assert abs(wrap_half(solution.parameters[2] - true[2])) < np.radians(3.0)


def test_a_wrong_control_point_among_three_is_found():
    """Moved away from the others' circle of confusion: along the line to the two others."""
    observations, true = draw(np.random.default_rng(6), 3, 4, 3)
    wrong = items(observations, CONTROL)[2]
    judged, solution = verdict(shifted(observations, wrong, 0.6, 0.4))
    assert np.flatnonzero(~judged.use).tolist() == [wrong]
    assert np.abs(solution.parameters[:2] - true[:2]).max() < 0.1


def test_two_control_points_whose_distance_is_wrong_are_widened():
    """Half a metre: the geotags are too coarse to tell which of the two it is."""
    observations, _ = draw(np.random.default_rng(7), 3, 2, 3)
    both = items(observations, CONTROL)
    apart = observations.host_m[both[1]] - observations.host_m[both[0]]
    apart /= np.hypot(*apart)
    judged, solution = verdict(shifted(observations, both[1], *(0.5 * apart)))
    assert judged.use.all()
    assert (judged.observations.sigma[both] > 0.1).all()
    assert np.sqrt(solution.covariance[0, 0]) > 0.1


def test_a_control_point_of_another_place_is_found_by_the_geotags():
    observations, true = draw(np.random.default_rng(8), 5, 2, 5)
    wrong = items(observations, CONTROL)[1]
    judged, solution = verdict(shifted(observations, wrong, 300.0, -200.0))
    assert np.flatnonzero(~judged.use).tolist() == [wrong]
    assert np.abs(solution.parameters[:2] - true[:2]).max() < 3.0


def test_the_last_evidence_of_rotation_is_not_thrown_away():
    observations, _ = draw(np.random.default_rng(9), 2, 0, 1, size_m=12.0)
    judged, solution = verdict(bent(observations, items(observations, COMPASS)[0], 120.0))
    assert rotation_known(judged.observations, judged.use)
    assert np.isfinite(solution.covariance).all()


@pytest.mark.parametrize("seed", range(5))
def test_errors_larger_than_stated_do_not_make_the_result_too_good(seed):
    """Geotags that scatter 2.2 times as much as they say, none of them alone to blame."""
    observations, true = draw(np.random.default_rng(seed), 12, 0, 4, geotag_sigma_m=6.0)
    small = np.where(observations.of_kind(GEOTAG), observations.sigma / 2.2, observations.sigma)
    judged, solution = verdict(replace(observations, sigma=small))
    assert judged.used(GEOTAG).sum() >= 7
    assert (judged.observations.sigma > small).any() or not judged.use.all()
    off = solution.parameters[:2] - true[:2]
    assert off @ np.linalg.solve(solution.covariance[:2, :2], off) < 13.8
    assert judged.warnings


def test_order_of_items_does_not_matter():
    """The same survey read in another order gives the same verdict and the same fit."""
    observations, _ = draw(np.random.default_rng(11), 5, 0, 5, station_sigma_m=0.0,
                           orientation_sigma_deg=0.0)  # fmt: skip
    observations = bent(observations, items(observations, COMPASS)[2], 40.0)
    judged, solution = verdict(observations)
    back = np.r_[4, 3, 2, 1, 0, 9, 8, 7, 6, 5]
    turned = replace(
        observations,
        name=tuple(observations.name[i] for i in back),
        plan_m=observations.plan_m[::-1],
        host_m=observations.host_m[::-1],
        bearing_rad=observations.bearing_rad[::-1],
        sigma=observations.sigma[back],
    )
    judged_back, solution_back = verdict(turned)
    assert {observations.name[i] for i in np.flatnonzero(~judged.use)} == {
        turned.name[i] for i in np.flatnonzero(~judged_back.use)
    }
    assert solution_back.parameters == pytest.approx(solution.parameters, rel=1e-9, abs=1e-6)


def test_three_bearings_of_which_no_two_agree_are_not_put_to_the_vote():
    observations, _ = draw(np.random.default_rng(13), 1, 0, 3, bearing_sigma_deg=2.0)
    first, _, third = items(observations, COMPASS)
    judged, solution = verdict(bent(bent(observations, first, -50.0), third, 50.0))
    assert judged.use.all()
    assert len(judged.warnings) == 1
    assert np.degrees(np.sqrt(solution.covariance[2, 2])) > 15.0


def test_honest_evidence_is_left_alone():
    """At a false alarm rate of 0.1 % a test, and some 26 tests a survey: about 2 of 80 surveys
    lose something; seven would be three standard deviations more."""
    rng = np.random.default_rng(12)
    touched = 0
    for _ in range(80):
        observations, _ = draw(rng, 5, 2, 5)
        judged, _ = verdict(observations)
        touched += not judged.use.all() or (judged.observations.sigma != observations.sigma).any()
    assert touched < 7
