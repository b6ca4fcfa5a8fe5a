# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.captures.face_model import no_faces
from roomtie.processing.stations.connect_frames import between, moved
from roomtie.processing.stations.overlap import agreement, rough_worth, view_of
from roomtie.processing.stations.overlap_raster import CELL_M, SIDE, raster_of
from shapely import contains_xy
from shapely.geometry import Polygon
from surveyed import POSES, STOREY, faces_of, survey

FREE = Polygon(STOREY[:, 0])


@pytest.fixture(scope="module")
def views():
    taken = survey(seed=3)
    return [view_of(c, f) for c, f in zip(taken.captures, faces_of(taken))]


def test_what_is_measured_through_is_free(views):
    axis = (np.arange(SIDE) + 0.5) * CELL_M - SIDE * CELL_M / 2
    cells = np.stack(np.meshgrid(axis, axis, indexing="ij"), axis=-1).reshape(-1, 2)
    for pose, view in zip(POSES, views):
        free = cells[view.raster == 1]
        assert len(free) * CELL_M**2 > 6.0
        at = moved(pose, free)
        assert contains_xy(FREE, at[:, 0], at[:, 1]).mean() > 0.995


def test_cells_on_faces_lie_on_walls(views):
    axis = (np.arange(SIDE) + 0.5) * CELL_M - SIDE * CELL_M / 2
    cells = np.stack(np.meshgrid(axis, axis, indexing="ij"), axis=-1).reshape(-1, 2)
    a, e = STOREY[:, 0], STOREY[:, 1] - STOREY[:, 0]
    for pose, view in zip(POSES, views):
        at = moved(pose, cells[view.raster > 1])
        share = np.einsum("nkd,kd->nk", at[:, None] - a, e) / np.einsum("kd,kd->k", e, e)
        foot = a + np.clip(share, 0, 1)[..., None] * e
        away = np.hypot(*np.moveaxis(at[:, None] - foot, -1, 0)).min(axis=1)
        assert np.quantile(away, 0.95) < 0.15


def test_cells_tell_what_bearings_tell(views):
    """Against the slower look-up by bearing, which asks the faces themselves."""
    rng = np.random.default_rng(5)
    truth = between(POSES[2], POSES[3])
    shift = truth[:2] + rng.uniform(-3, 3, (200, 2)) * (np.arange(200) > 0)[:, None]
    rough = rough_worth(views[2], views[3], shift, float(truth[2]))
    poses = np.column_stack([shift, np.full(200, truth[2])])
    exact = agreement(views[2], views[3], poses, 0.12, np.radians(8.0)).score_m
    assert rough.argmax() == exact.argmax() == 0
    assert np.corrcoef(rough, exact)[0, 1] > 0.9
    assert abs(rough[0] - exact[0]) < 0.15 * exact[0]


def test_a_capture_without_faces_still_knows_free_space():
    taken = survey(seed=2)
    none = no_faces(len(taken.captures[0]))
    view = view_of(taken.captures[0], none)
    codes = raster_of(none, view.near_m, view.face_at)
    assert (codes == 1).any() and codes.max() == 1
