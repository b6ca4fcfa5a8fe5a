# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.site.model import North, SiteFit
from roomtie.processing.site.placement import Placement


def fit(network: int, east: float, rotation_deg: float, unit_m: float = 1.0) -> SiteFit:
    return SiteFit(
        network=network,
        target_crs="EPSG:32631",
        unit_m=unit_m,
        east_m=east,
        north_m=6_352_000.0,
        rotation_rad=np.radians(rotation_deg),
        scale=0.9996,
        covariance=np.eye(3) * 1e-4,
        north=North(0.0, 0.0, "", None, 0.0),
        evidence=(),
        decides_position="geotag",
        decides_rotation="compass",
    )


PLAN = np.array([[0.0, 0.0], [10.0, 0.0], [0.0, 20.0], [-3.5, 7.25]])


def test_the_contract_formula_holds():
    placed = fit(1, 500_000.0, 30.0).to_target(PLAN)
    r, k = np.radians(30.0), 0.9996
    x, y = PLAN.T
    np.testing.assert_allclose(placed[:, 0], 500_000 + k * (x * np.cos(r) + y * np.sin(r)))
    np.testing.assert_allclose(placed[:, 1], 6_352_000 + k * (-x * np.sin(r) + y * np.cos(r)))


@pytest.mark.parametrize("unit_m", [1.0, 0.3048])
def test_to_plan_undoes_to_target(unit_m):
    one = fit(1, 500_000.0, 337.4, unit_m)
    np.testing.assert_allclose(one.to_plan(one.to_target(PLAN)), PLAN, atol=1e-8)


def test_each_group_moves_by_its_own_fit_and_others_with_the_first():
    placement = Placement((fit(1, 500_000.0, 30.0), fit(2, 500_100.0, 10.0)))
    np.testing.assert_array_equal(placement.place(2, PLAN), fit(2, 500_100.0, 10.0).to_target(PLAN))
    np.testing.assert_array_equal(placement.place(7, PLAN), fit(1, 500_000.0, 30.0).to_target(PLAN))


def test_the_site_grid_keeps_the_first_plan_and_brings_the_others_into_its_axes():
    first, second = fit(1, 500_000.0, 30.0), fit(2, 500_100.0, 10.0)
    placement = Placement((first, second), site_grid=True)
    np.testing.assert_array_equal(placement.place(1, PLAN), PLAN)
    np.testing.assert_allclose(
        first.to_target(placement.place(2, PLAN)), second.to_target(PLAN), atol=1e-8
    )
    assert placement.rotation_rad(2) == pytest.approx(np.radians(-20.0))
