# SPDX-License-Identifier: GPL-2.0-or-later
"""The contract's guarantee of plot scales, on drawn plans and on arrangements of any kind."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.angles import turn, unit
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.captures.model import Survey
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.errors import SurveyError
from roomtie.processing.walls.faces import find_walls
from roomtie.processing.walls.plot_scales import TOLERANCE_M, draw_walls
from roomtie.processing.walls.squaring import Square
from roomtie.processing.walls.tolerance import check_tolerance
from simulated import capture_of, loop
from simulated_walls import network_of, walls_of


def drawn_at(walls, tolerance_m, square=Square.NEVER, plot_scale=50):
    drawn = draw_walls(walls, plot_scale=plot_scale, tolerance_m=tolerance_m, square=square)
    check_tolerance(walls, drawn, tolerance_m)
    return drawn


def chain(points):
    """Faces along a line of points, the free side on the right."""
    points = np.asarray(points, dtype=float)
    return np.stack([points[:-1], points[1:]], axis=1)


def test_the_tolerances_are_a_quarter_of_a_millimetre_on_paper():
    assert TOLERANCE_M == {20: 0.005, 50: 0.0125, 100: 0.025, 200: 0.05}
    own = draw_walls(walls_of([[(0, 0), (3, 0)]]), plot_scale=None, tolerance_m=0.01,
                     square=Square.NEVER)  # fmt: skip
    assert own.plot_scale == 40


def test_a_small_niche_becomes_one_straight_face():
    niche = chain([(0, 0), (2, 0), (2, -0.02), (2.5, -0.02), (2.5, 0), (4, 0)])
    fine = drawn_at(walls_of(niche), TOLERANCE_M[20])
    assert len(fine) == 5
    coarse = drawn_at(walls_of(niche), TOLERANCE_M[100])
    assert coarse.wall == ("W001",)
    assert np.sort(coarse.drawn_m[0, :, 0]) == pytest.approx([0, 4], abs=1e-3)
    # The readings of all five go with it; none is lost.
    assert (coarse.wall_of_reading[0] == 0).all()
    assert coarse.readings.tolist() == [300]


def test_a_niche_deeper_than_the_tolerance_stays():
    niche = chain([(0, 0), (2, 0), (2, -0.03), (2.5, -0.03), (2.5, 0), (4, 0)])
    drawn = drawn_at(walls_of(niche), TOLERANCE_M[100])
    assert drawn.wall == ("W001", "W002", "W003", "W004", "W005")


def test_collinear_pieces_at_a_doorway_share_a_line_and_stay_two():
    walls = walls_of([[(0, 0), (2, 0)], [(2.9, 0.004), (5, 0.004)]])
    drawn = drawn_at(walls, TOLERANCE_M[20])
    assert len(drawn) == 2
    assert drawn.normal_rad[0] == drawn.normal_rad[1]
    heights = drawn.drawn_m.reshape(-1, 2) @ unit(drawn.normal_rad[0])
    assert np.ptp(heights) < 1e-12
    assert drawn.drawn_m[0, 1, 0] == pytest.approx(2, abs=1e-4)


def test_rooms_in_one_plane_stay_apart():
    # The partition is thicker than any tolerance.
    walls = walls_of([[(0, 0), (2, 0)], [(2.06, 0), (5, 0)]])
    assert len(drawn_at(walls, TOLERANCE_M[200])) == 2


def test_the_two_faces_of_a_thin_wall_are_never_merged():
    walls = walls_of([[(0, 0), (3, 0)], [(3, 0.01), (0, 0.01)]])
    drawn = drawn_at(walls, TOLERANCE_M[200])
    assert len(drawn) == 2
    assert np.cos(drawn.normal_rad[0] - drawn.normal_rad[1]) == pytest.approx(-1)


def test_short_faces_go_and_their_corner_closes():
    # A corner cut off by 2 cm.
    walls = walls_of(chain([(0, 0), (0, 2.986), (0.014, 3), (4, 3)]))
    drawn = drawn_at(walls, TOLERANCE_M[100])
    assert drawn.wall == ("W001", "W003")
    assert (drawn.drawn_m[0, 1] == drawn.drawn_m[1, 0]).all()
    assert drawn.drawn_m[0, 1] == pytest.approx((0, 3))


def test_out_of_square_stays_unless_asked_for():
    ends = chain([(0, 0), (0, 3), (4, 3.02), (4, 0)])
    as_measured = drawn_at(walls_of(ends), 0.025, Square.WHERE_READINGS_ALLOW)
    assert as_measured.squared_by_rad[1] == 0.0
    asked = drawn_at(walls_of(ends), 0.025, Square.WITHIN_TOLERANCE)
    assert np.degrees(abs(asked.squared_by_rad[1])) == pytest.approx(0.286, abs=0.1)


def test_names_stay_over_the_scales():
    walls = walls_of(chain([(0, 0), (0, 3), (2, 3), (2, 3.02), (4, 3.02), (4, 0)]))
    names = [drawn_at(walls, TOLERANCE_M[s], plot_scale=s).wall for s in (20, 50, 100, 200)]
    assert names[0] == walls.wall
    for finer, coarser in zip(names, names[1:]):
        assert set(coarser) <= set(finer)
    for scale, drawn in ((s, drawn_at(walls, TOLERANCE_M[s], plot_scale=s)) for s in (20, 200)):
        assert drawn.plot_scale == scale


@st.composite
def arrangements(draw):
    """Rooms with steps, niches, chamfers and bends of every size around the tolerances."""
    points, at, heading = [(0.0, 0.0)], np.zeros(2), 0.0
    small = st.floats(0.002, 0.08)
    for _ in range(draw(st.integers(2, 9))):
        run = draw(st.one_of(small, st.floats(0.1, 4.0)))
        bend = draw(st.sampled_from([0.0, 90.0, -90.0, 0.2, -0.2, 1.0, 4.0, 45.0])) + 0.05 * draw(
            st.integers(-2, 2)
        )
        heading += np.radians(bend)
        at = at + run * np.array([np.sin(heading), np.cos(heading)])
        points.append(tuple(at))
    return turn(chain(points), draw(st.floats(0, 6.0)))


@settings(max_examples=70, deadline=None)
@given(
    ends=arrangements(),
    tolerance=st.sampled_from([0.0, *TOLERANCE_M.values()]),
    square=st.sampled_from(Square),
    sigma=st.sampled_from([1e-5, 1e-3, 1e-2]),
)
def test_the_guarantee_holds_for_any_faces(ends, tolerance, square, sigma):
    walls = walls_of(ends, sigma_normal_rad=sigma, readings=3)
    drawn = draw_walls(walls, plot_scale=100, tolerance_m=tolerance, square=square)
    moves = check_tolerance(walls, drawn, tolerance)
    assert moves.largest_m <= tolerance + 1e-9
    # Told once more without the check's own code: every supported end to its drawn line.
    for k, face in enumerate(moves.carrier):
        if face >= 0:
            across = (ends[k] - drawn.drawn_m[face, 0]) @ unit(drawn.normal_rad[face])
            assert np.abs(across).max() <= tolerance + 1e-6
    assert set(drawn.wall) <= set(walls.wall)
    assert len(set(drawn.wall)) == len(drawn.wall)


def test_the_check_finds_a_face_that_moved_too_far():
    walls = walls_of(chain([(0, 0), (0, 3), (4, 3)]))
    drawn = drawn_at(walls, 0.0125)
    shifted = drawn.centre_m + 0.013 * drawn.normal
    bad = dataclasses.replace(
        drawn, centre_m=shifted, drawn_m=drawn.drawn_m + 0.013 * drawn.normal[:, None, :]
    )
    with pytest.raises(SurveyError, match=r"Wall W001 at 1:50 lies 13\.00 mm"):
        check_tolerance(walls, bad, 0.0125)


def test_the_check_finds_a_turned_face():
    walls = walls_of([[(0, 0), (0, 3)]])
    drawn = drawn_at(walls, 0.0125)
    bad = dataclasses.replace(drawn, normal_rad=drawn.normal_rad + 0.0125 / 1.5 * 1.01)
    with pytest.raises(SurveyError, match="its least-squares face"):
        check_tolerance(walls, bad, 0.0125)


def test_the_check_finds_a_face_left_out():
    walls = walls_of(chain([(0, 0), (0, 3), (4, 3)]))
    drawn = drawn_at(walls, 0.0125)
    bad = dataclasses.replace(
        drawn, wall_of_reading=tuple(np.where(w == 1, -1, w) for w in drawn.wall_of_reading)
    )
    with pytest.raises(SurveyError, match="W002 at 1:50 is left out"):
        check_tolerance(walls, bad, 0.0125)


def test_the_check_finds_what_is_drawn_off_its_face():
    walls = walls_of(chain([(0, 0), (0, 3), (4, 3)]))
    drawn = drawn_at(walls, 0.0125)
    with pytest.raises(SurveyError, match="not drawn on its face"):
        check_tolerance(walls, dataclasses.replace(drawn, drawn_m=drawn.drawn_m + 0.001), 0.0125)


def test_the_check_finds_readings_that_lost_their_face():
    walls = walls_of(chain([(0, 0), (0, 3), (4, 3)]))
    drawn = drawn_at(walls, 0.0125)
    wall = drawn.wall_of_reading[0].copy()
    wall[5] = 1
    with pytest.raises(SurveyError, match="Readings of wall W001"):
        check_tolerance(walls, dataclasses.replace(drawn, wall_of_reading=(wall,)), 0.0125)


@pytest.mark.parametrize("tolerance", [-0.001, float("nan")])
def test_a_bad_tolerance_is_told(tolerance):
    with pytest.raises(SurveyError, match="expected a length of 0 or more"):
        draw_walls(walls_of([[(0, 0), (3, 0)]]), plot_scale=50, tolerance_m=tolerance,
                   square=Square.NEVER)  # fmt: skip


@pytest.mark.parametrize("threshold", [-1.0, float("nan")])
def test_a_bad_threshold_of_squaring_is_told(threshold):
    with pytest.raises(SurveyError, match="standard errors within which a face turns; expected"):
        draw_walls(walls_of([[(0, 0), (3, 0)]]), plot_scale=50, tolerance_m=0.01,
                   square=Square.WHERE_READINGS_ALLOW, untellable=threshold)  # fmt: skip


def test_only_measured_walls_are_drawn():
    drawn = drawn_at(walls_of([[(0, 0), (3, 0)]]), 0.0125)
    with pytest.raises(SurveyError, match="as measured"):
        draw_walls(drawn, plot_scale=100, tolerance_m=0.025, square=Square.NEVER)


def test_readings_stay_within_tolerance_and_noise():
    """From readings to drawn faces: normal residuals within tolerance + 3.29 sigma."""
    rng = np.random.default_rng(2)
    room = [(0, 0), (2, 0), (2, 0.012), (4, 0.015), (4.02, 3), (2.4, 3), (2.4, 3.03), (0, 3.03)]
    capture, _ = capture_of(loop(room), (1.7, 1.4), rng=rng, outliers=0.01)
    walls = find_walls(
        Survey((capture,)), [fit_faces(capture)], network_of(["A"], [(0, 0)], [0.0])
    )[0]
    for scale, tolerance in TOLERANCE_M.items():
        for square in Square:
            drawn = drawn_at(walls, tolerance, square, scale)
            wall = drawn.wall_of_reading[0]
            on = np.flatnonzero(wall >= 0)
            assert len(on) == (walls.wall_of_reading[0] >= 0).sum()
            face = wall[on]
            across = np.einsum(
                "ij,ij->i", capture.xy_m[on] - drawn.centre_m[face], drawn.normal[face]
            )
            sigma = np.hypot(0.002, capture.distance_m[on] * np.radians(0.03))
            assert (np.abs(across) <= tolerance + 3.29 * sigma).all()


def test_the_guarantee_on_a_published_building(shared_data):
    import json

    folder = shared_data("duplex-level-1")
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    pose = {s["station"]: s for s in truth["stations"]}
    survey = import_captures(folder)
    north = {"S01", "S04", "S06", "S07", "S10"}
    network = network_of(
        survey.names,
        [(pose[n]["x"], pose[n]["y"]) for n in survey.names],
        [np.radians(pose[n]["orientation_deg"]) for n in survey.names],
        network=[1 if n in north else 2 for n in survey.names],
    )
    walls = find_walls(survey, [fit_faces(c) for c in survey.captures], network)[0]
    for scale, tolerance in TOLERANCE_M.items():
        drawn = drawn_at(walls, tolerance, Square.WHERE_READINGS_ALLOW, scale)
        # The model is drawn square: nearly every face may turn, by less than its error.
        assert np.mean(drawn.squared_by_rad != 0.0) > 0.95
        assert (np.abs(drawn.squared_by_rad) <= 2.6 * np.hypot(drawn.sigma_normal_rad, 1e-4)).all()
