# SPDX-License-Identifier: GPL-2.0-or-later
"""What a person decided is done, said, and carried on; a new run starts from earlier poses."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from inner_datum import about_all, holding
from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.captures.model import Survey
from roomtie.processing.errors import SurveyError
from roomtie.processing.stations import connect
from roomtie.processing.stations.choices import Choices, PairRule, Start
from roomtie.processing.stations.connect_frames import apart, between, composed
from roomtie.processing.stations.model import Status, TieKind
from roomtie.processing.stations.network import adjust_survey
from roomtie.processing.stations.network_options import NetworkOptions
from roomtie.processing.stations.network_walls import Sights
from roomtie.processing.stations.surfaces_apart import sigma_factors, taken_apart
from roomtie.processing.stations.tie_names import named, pairs_named
from simulated_targets import Mark, Sighted
from surveyed import POSES, SIGHTED, faces_of, survey

BEARINGS = {k: np.degrees(pose[2]) + 20.0 for k, pose in enumerate(POSES)}


def poses_of(network):
    return np.column_stack([network.xy_m, network.orientation_rad])


@pytest.fixture(scope="module")
def storey():
    taken = survey(seed=21, compass=BEARINGS)
    return taken, faces_of(taken)


@pytest.fixture(scope="module")
def network(storey):
    return adjust_survey(*storey)


def again(storey, network, start=None, **choices):
    start = Start.of(network.station, network) if start is None else start
    return adjust_survey(*storey, NetworkOptions(choices=Choices(**choices), start=start))


def state(network):
    return dict(zip(network.ties.name, zip(network.ties.used, network.ties.reason)))


# --- starting from poses -----------------------------------------------------------------------


def test_from_its_own_poses_the_network_is_the_same(storey, network):
    found = again(storey, network)
    shift, turn = apart(poses_of(found), poses_of(network))
    # What ties the stations is found at better poses than at first: hundredths of a millimetre.
    assert shift.max() < 2e-4 and turn.max() < np.radians(0.003)
    assert set(found.ties.name) == set(network.ties.name)
    assert np.allclose(found.sigma(), network.sigma(), rtol=0.05)


def test_a_second_run_from_there_stands_still(storey, network):
    first = again(storey, network)
    second = again(storey, first)
    shift, turn = apart(poses_of(first), poses_of(second))
    assert shift.max() < 1e-7 and turn.max() < 1e-7


def test_stations_with_poses_are_not_searched(storey, network, monkeypatch):
    def search(*_):
        raise AssertionError("searched")

    monkeypatch.setattr(connect, "match", search)
    again(storey, network)


def test_poses_far_off_are_refined(storey, network):
    rng = np.random.default_rng(4)
    start = Start.of(network.station, network)
    off = start.pose + rng.normal(size=(5, 3)) * [0.01, 0.01, np.radians(0.2)]
    found = again(storey, network, replace(start, pose=off))
    a, b = poses_of(found), poses_of(network)
    assert np.abs((a - a[0]) - (b - b[0]))[:, 2].max() < np.radians(0.005)


def test_a_station_that_is_new_is_found(storey, network):
    taken, faces = storey
    earlier = adjust_survey(Survey(taken.captures[:4]), faces[:4])
    start = Start.of(taken.names, earlier)
    assert start.known.tolist() == [True, True, True, True, False]
    found = adjust_survey(taken, faces, NetworkOptions(start=start))
    assert found.status[4] is Status.ADJUSTED
    shift, _ = apart(
        between(poses_of(found)[0], poses_of(found)),
        between(poses_of(network)[0], poses_of(network)),
    )
    assert shift.max() < 1e-3


def test_a_new_station_does_not_move_the_datum_of_the_others(storey, network):
    taken, faces = storey
    earlier = adjust_survey(Survey(taken.captures[:4]), faces[:4])
    found = adjust_survey(taken, faces, NetworkOptions(start=Start.of(taken.names, earlier)))
    assert found.joined_since == ("S5",) and not network.joined_since
    # Inner constraints over the first four hold their mean and their turn about it, nothing else.
    own = holding(found.xy_m[:4])
    assert np.abs(own.T @ found.covariance[:12, :12] @ own).max() < 1e-12
    all_five = holding(found.xy_m)
    assert np.abs(all_five.T @ found.covariance @ all_five).max() > 1e-7
    # In one datum it is the network of the five; frames and faces taken differ by little.
    told = np.sqrt(np.diagonal(about_all(found.covariance, found.xy_m)))
    assert np.allclose(told, network.sigma().ravel(), rtol=0.02)
    assert not np.allclose(found.sigma(), network.sigma(), rtol=0.1)


def test_without_search_a_new_station_stays_apart(storey):
    taken, faces = storey
    earlier = adjust_survey(Survey(taken.captures[:4]), faces[:4])
    start = Start.of(taken.names, earlier, search=False)
    found = adjust_survey(taken, faces, NetworkOptions(start=start))
    assert found.status[4] is Status.UNCONNECTED


def test_the_frame_stays(storey, network):
    start = Start.of(network.station, network)
    motion = np.array([12.0, -7.0, 0.3])
    moved = replace(start, pose=composed(motion, start.pose))
    found = again(storey, network, moved)
    shift, turn = apart(poses_of(found), moved.pose)
    assert shift.max() < 5e-4 and turn.max() < np.radians(0.005)


def test_poses_of_other_stations_are_refused(storey, network):
    start = Start(np.zeros((3, 3)), np.ones(3, dtype=int))
    with pytest.raises(SurveyError, match=r"poses to start from are \(3, 3\), expected \(5, 3\)"):
        again(storey, network, start)


# --- holding -----------------------------------------------------------------------------------


def test_held_stations_keep_their_poses_to_the_last_digit(storey, network):
    found = again(storey, network, held=("S2", "S4"))
    assert np.array_equal(found.xy_m[[1, 3]], network.xy_m[[1, 3]])
    assert np.array_equal(found.orientation_rad[[1, 3]], network.orientation_rad[[1, 3]])
    assert [s is Status.HELD for s in found.status] == [False, True, False, True, False]


def test_the_first_held_station_is_the_datum_and_the_others_keep_their_errors(storey, network):
    found = again(storey, network, held=("S2", "S4"))
    assert not found.block(1).any()
    start = Start.of(network.station, network)
    expected = start.relative_covariance(np.array([1, 3]))[3:, 3:]
    assert np.allclose(found.block(3), expected, rtol=1e-9)
    single = again(storey, network, held=("S2",))
    # A held station takes nothing from what the network knows: the others are as certain as with
    # one held, or nearly.
    assert (found.sigma()[[0, 2, 4]] > 0.8 * single.sigma()[[0, 2, 4]]).all()


def test_errors_of_held_stations_follow_into_the_others(storey, network):
    """The derivative by held poses against the difference of two adjustments."""
    start = Start.of(network.station, network)
    step = np.array([2e-4, -1e-4, 1e-5])
    moved = start.pose.copy()
    moved[3] += step
    held = Choices(held=("S2", "S4"))
    covariance = np.zeros((15, 15))
    covariance[9:12, 9:12] = np.outer(step, step)
    options = [
        NetworkOptions(choices=held, start=replace(start, pose=pose, covariance=cov))
        for pose, cov in ((start.pose, covariance), (moved, None))
    ]
    one, two = (adjust_survey(*storey, option) for option in options)
    exact = NetworkOptions(choices=held, start=replace(start, covariance=None))
    without = adjust_survey(*storey, exact)
    change = poses_of(two) - poses_of(without)
    added = one.covariance - without.covariance
    assert np.allclose(added, np.outer(change.ravel(), change.ravel()), atol=2e-10)


def test_several_held_stations_need_poses(storey):
    with pytest.raises(SurveyError, match="Station S2 is to be held beside others, but it has no"):
        adjust_survey(*storey, NetworkOptions(choices=Choices(held=("S2", "S4"))))


def test_held_and_left_out_is_refused():
    with pytest.raises(SurveyError, match="Station S2 is to be held and to be left out"):
        Choices(held=("S1", "S2"), left_out=("S2",))


# --- leaving out -------------------------------------------------------------------------------


def test_a_station_left_out_is_apart_and_said_so(storey, network):
    found = again(storey, network, left_out=("S5",))
    assert found.status[4] is Status.UNCONNECTED
    assert np.isnan(found.sigma()[4]).all()
    assert any("Left out by a person, drawn apart: S5" in text for text in found.warnings)
    assert not any("S5" in name for name, (used, _) in state(found).items() if used)
    assert found.choices.left_out == ("S5",)


def test_sightings_of_a_station_left_out_are_listed(storey, network):
    found = again(storey, network, left_out=("S1",))
    for target in SIGHTED[0]:
        assert state(found)[f"S1 to {target}"] == (False, "its station was left out by a person")


def test_leaving_a_station_out_at_first_is_as_without_it(storey):
    taken, faces = storey
    found = adjust_survey(taken, faces, NetworkOptions(choices=Choices(left_out=("S5",))))
    alone = adjust_survey(Survey(taken.captures[:4]), faces[:4])
    assert np.allclose(found.xy_m[:4], alone.xy_m, atol=1e-9)
    assert np.allclose(found.covariance[:12, :12], alone.covariance, rtol=1e-6, atol=1e-15)


def test_an_overlap_left_out_ties_no_more(storey, network):
    pair = next(n for n, k in zip(network.ties.name, network.ties.kind) if k is TieKind.OVERLAP)
    found = again(storey, network, ties_left_out=frozenset([pair]))
    assert state(found)[pair] == (False, "taken out by a person")
    assert [n for n in found.ties.name if n == pair] == [pair]
    others = {n for n, k in zip(network.ties.name, network.ties.kind) if k is TieKind.OVERLAP}
    # The others stand: only what two stations share without the pair is left.
    assert others - {pair} <= set(state(found))


def test_a_surface_direction_left_out_is_listed():
    pose = np.array([(0.0, 0.0, 0.4), (1.6, -0.7, -2.2)])
    marks = {"T": Mark(0.5, 2.5, normal_rad=np.pi), "A": Mark(-1.9, -1.5), "B": Mark(2.6, 1.1)}
    truth = Sighted(pose, np.zeros(2, dtype=int), marks, [list(marks)] * 2)
    taken = truth.survey(np.random.default_rng(1))
    name = "S1 on the surface of T"

    def used(choices):
        options = NetworkOptions(use_overlap=False, choices=choices)
        faces = [no_faces(len(c)) for c in taken.captures]
        return state(adjust_survey(taken, faces, options))[name]

    assert used(Choices()) == (True, "")
    out = Choices(ties_left_out=frozenset([name]))
    assert used(out) == (False, "taken out by a person")


def test_a_choice_on_a_tie_that_is_not_there_is_said(storey, network):
    found = again(storey, network, ties_left_out=frozenset(["S1 to T99"]))
    assert any("S1 to T99" in text and "no effect" in text for text in found.warnings)


def test_an_unknown_station_to_leave_out_is_named(storey, network):
    with pytest.raises(SurveyError, match="station to leave out, 'S9', is not in the survey"):
        again(storey, network, left_out=("S9",))


# --- weights -----------------------------------------------------------------------------------


def test_a_re_weighted_sighting_pulls_less(storey, network):
    name = "S1 to T1"
    row = network.ties.name.index(name)
    found = again(storey, network, sigma_factor={name: 10.0})
    assert found.ties.redundancy[row] > network.ties.redundancy[row]
    assert found.choices.sigma_factor == {name: 10.0}


def test_a_factor_must_be_above_zero():
    with pytest.raises(SurveyError, match=r"Tie S1 to T1: the factor .* is -1"):
        Choices(sigma_factor={"S1 to T1": -1.0})


def test_re_weighted_overlaps_have_larger_errors(storey, network):
    only = [n for n, k in zip(network.ties.name, network.ties.kind) if k is TieKind.OVERLAP]
    found = again(storey, network, sigma_factor=dict.fromkeys(only, 3.0))
    ratio = found.sigma()[4] / again(storey, network).sigma()[4]
    # The walls' errors are three times as large; targets and compass are as they were.
    assert (ratio > 1.2).all() and (ratio < 3.01).all()


# --- surfaces taken apart ----------------------------------------------------------------------


def sights(*surfaces):
    """Surfaces as lists of stations, each seen with its face of that number."""
    rows = [(s, number, number) for number, own in enumerate(surfaces) for s in own]
    return Sights(*np.array(rows, dtype=np.int64).reshape(-1, 3).T)


def sets_of(found):
    return [set(found.station[found.surface == k]) for k in range(found.surfaces)]


def test_a_barred_pair_shares_nothing_but_each_keeps_the_third():
    found = taken_apart(sights([0, 1, 2], [0, 1], [1, 2]), {(0, 1)})
    assert sets_of(found) == [{1, 2}, {0, 2}, {1, 2}]
    # The third station's face stands on two surfaces: twice its variance on each.
    assert np.allclose(sigma_factors(found, {}), [1, np.sqrt(2), 1, np.sqrt(2), 1, 1])


def test_many_pairs_are_taken_apart_into_few_sets():
    # Of 30 stations 15 pairs: there are 32768 largest sets without any of them.
    barred = {(k, k + 1) for k in range(0, 30, 2)}
    found = sets_of(taken_apart(sights(list(range(30))), barred))
    assert len(found) < 20
    assert all(len(own) == 15 for own in found)
    together = {(a, b) for own in found for a in own for b in own if a < b}
    assert len(together) == 30 * 29 / 2 - 15


def test_factors_are_those_of_faces_on_common_surfaces():
    found = sigma_factors(sights([0, 1, 2], [0, 2]), {(0, 1): 4.0})
    assert found.tolist() == [4.0, 4.0, 1.0, 1.0, 1.0]


stations = st.lists(st.integers(0, 5), min_size=2, max_size=6, unique=True)
pairs = st.sets(st.tuples(st.integers(0, 5), st.integers(0, 5)).filter(lambda p: p[0] < p[1]))


@given(st.lists(stations, min_size=1, max_size=4), pairs)
def test_no_barred_pair_and_all_others(surfaces, barred):
    found = taken_apart(sights(*surfaces), barred)
    seen = set()
    for own in sets_of(found):
        assert len(own) > 1
        assert not any({a, b} <= own for a, b in barred)
        seen |= {(a, b) for a in own for b in own if a < b}
    wanted = {(a, b) for own in surfaces for a in own for b in own if a < b} - barred
    assert seen == wanted


# --- names -------------------------------------------------------------------------------------

word = st.text("ab ", min_size=1, max_size=6) | st.sampled_from(["A with B", "B", "A", "C to D"])


@given(st.lists(word, min_size=2, max_size=5, unique=True), st.data())
def test_the_name_of_an_overlap_leads_back(names, data):
    i = data.draw(st.integers(0, len(names) - 2))
    j = data.draw(st.integers(i + 1, len(names) - 1))
    assert (i, j) in pairs_named([f"{names[i]} with {names[j]}"], names)


@pytest.mark.parametrize(
    ("name", "kind", "station"),
    [
        ("S2 to T 1", TieKind.TARGET, 1),
        ("S1 on the surface of T 1", TieKind.SURFACE, 0),
        ("compass of S2", TieKind.COMPASS, 1),
        ("geotag of S1", TieKind.GEOTAG, 0),
        ("S1 with S2", TieKind.OVERLAP, 0),
    ],
)
def test_names_are_understood(name, kind, station):
    found = named(name, ("S1", "S2"), {"T 1"})
    assert (found.kind, found.station) == (kind, station)


def test_a_rule_says_which_pairs_are_searched():
    start = Start(np.array([[0.0] * 3, [1.0] * 3, [np.nan] * 3, [np.nan] * 3]), np.ones(4, int))
    choices = Choices(left_out=("D",), ties_left_out=frozenset(["A with C"]))
    rule = PairRule.of(tuple("ABCD"), choices, start)
    asked = {(i, j) for j in range(4) for i in range(j) if rule.may_search(i, j)}
    assert asked == {(1, 2)}


def test_choices_on_ties_of_a_station_left_out_are_kept(storey, network):
    pair = next(
        n
        for n, k in zip(network.ties.name, network.ties.kind)
        if k is TieKind.OVERLAP and n.endswith("S5")
    )
    found = again(storey, network, left_out=("S5",), sigma_factor={pair: 2.0})
    assert state(found)[pair] == (False, "its station was left out by a person")
    assert found.choices.sigma_factor == {pair: 2.0}


def test_a_choice_on_a_geotag_is_said_to_do_nothing(storey, network):
    found = again(storey, network, ties_left_out=frozenset(["geotag of S1"]))
    assert any("geotag of S1" in text and "no effect here" in text for text in found.warnings)
