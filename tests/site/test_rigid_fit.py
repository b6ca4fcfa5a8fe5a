# SPDX-License-Identifier: GPL-2.0-or-later
"""The fit of control points against a textbook and against scipy."""

from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.site.least_squares import solve
from roomtie.tests.site.simulated_evidence import draw
from scipy.linalg import orthogonal_procrustes

# Ghilani, Adjustment Computations, example 18.1: points A, B, C in x, y and in E, N, and what the
# book's conformal transformation comes to. The figures from memory; that they belong together is
# checked below by numpy's least squares.
XY = np.array([[121.622, -128.066], [141.228, 187.718], [175.802, 135.728]])
EN = np.array([[1049422.40, 51089.20], [1049413.95, 49659.30], [1049244.95, 49884.95]])
A, B, TX, TY = -4.51249, -0.25371, 1050003.715, 50542.131
RESIDUALS = [[-0.004, 0.029], [-0.101, 0.077], [0.105, -0.106]]


def control(plan, host, scale, sigma):
    """Observations of nothing but control points without errors of the plan."""
    like, _ = draw(np.random.default_rng(1), 0, len(plan), 0)
    return replace(
        like,
        plan_m=plan,
        host_m=host,
        scale=scale,
        sigma=np.asarray(sigma, dtype=float),
        plan_covariance=np.zeros_like(like.plan_covariance),
    )


def test_the_textbooks_conformal_transformation():
    """E = a x - b y + TX, N = b x + a y + TY. Our scale is given, not fitted; with the book's, the
    same east, north and rotation are best (the scale drops out of their equations)."""
    design, wanted = [], EN.ravel()
    for x, y in XY:
        design += [[x, -y, 1, 0], [y, x, 0, 1]]
    numpys = np.linalg.lstsq(np.array(design), wanted, rcond=None)[0]
    assert numpys == pytest.approx([A, B, TX, TY], abs=5e-4)
    scale = float(np.hypot(*numpys[:2]))

    o = control(XY, EN, scale, np.full(3, 0.05))
    found = solve(o, np.ones(3, dtype=bool))
    east, north, rotation = found.parameters[:3]
    assert (east, north) == pytest.approx((TX, TY), abs=5e-4)
    # The book turns counterclockwise, 183 deg 13 min 05.0 sec; a rotation of ours is clockwise.
    assert np.degrees(-rotation) % 360 == pytest.approx(183 + 13 / 60 + 5.0 / 3600, abs=2e-5)
    assert found.residual.reshape(3, 2) == pytest.approx(np.array(RESIDUALS), abs=5e-4)


@pytest.mark.parametrize("seed", range(5))
def test_scipy_turns_weighted_points_alike(seed):
    """scipy.linalg.orthogonal_procrustes of points about their weighted means."""
    rng = np.random.default_rng(seed)
    plan, sigma = rng.uniform(-30, 30, (6, 2)), rng.uniform(0.005, 0.05, 6)
    turned = rng.uniform(-np.pi, np.pi)
    matrix = np.array([[np.cos(turned), -np.sin(turned)], [np.sin(turned), np.cos(turned)]])
    host = 0.9996 * plan @ matrix + (5e5, 5e6) + sigma[:, None] * rng.normal(size=(6, 2))
    found = solve(control(plan, host, 0.9996, sigma), np.ones(6, dtype=bool))
    weight = sigma**-2.0 / (sigma**-2.0).sum()
    root = np.sqrt(weight)[:, None]
    theirs, _ = orthogonal_procrustes(root * (plan - weight @ plan), root * (host - weight @ host))
    rotation = np.arctan2(theirs[1, 0], theirs[0, 0])
    assert np.cos(found.parameters[2] - rotation) == pytest.approx(1.0, abs=1e-15)
    assert np.sin(found.parameters[2] - rotation) == pytest.approx(0.0, abs=1e-9)
    shift = weight @ host - 0.9996 * (weight @ plan) @ theirs
    assert found.parameters[:2] == pytest.approx(shift, abs=1e-6)
