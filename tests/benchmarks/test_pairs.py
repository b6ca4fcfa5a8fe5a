# SPDX-License-Identifier: GPL-2.0-or-later
"""Laying one capture over another: how often, how fast, with and without a start, against
general-purpose libraries on the same pairs in the same run.

A pair counts as solved when the pose is within 20 mm and 0.1 degrees. `PAIRS` (72) and `PAIRS_SEED`
(1000; tune on others) in the environment choose the pairs.
"""

import os
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from roomtie.processing.captures.faces import fit_faces
from roomtie.processing.stations.connect_frames import apart
from roomtie.processing.stations.matching import match
from roomtie.processing.stations.overlap import view_of
from roomtie.processing.stations.overlap_starts import Prior

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent / "stations"), str(HERE.parent / "captures"), str(HERE)]
from peers_of_pairs import by_features, by_phase_correlation, refined_by_planes  # noqa: E402
from simulated_buildings import simulated_pairs  # noqa: E402

pytest.importorskip("pytest_benchmark", reason="pytest-benchmark measures these")

NEAR_M, NEAR_RAD = 0.020, np.radians(0.1)
START_SIGMA_M, START_SIGMA_RAD = 1.5, np.radians(5.0)
CLEAR_GAP = 0.10
"""A first answer that leads by this share is not ambiguous."""


@pytest.fixture(scope="module")
def pairs():
    return simulated_pairs(
        int(os.environ.get("PAIRS_SEED", "1000")), int(os.environ.get("PAIRS", "72"))
    )


@pytest.fixture(scope="module")
def views(pairs):
    begin = time.process_time()
    faces = [(fit_faces(pair.first), fit_faces(pair.second)) for pair in pairs]
    middle = time.process_time()
    result = [
        (view_of(pair.first, a), view_of(pair.second, b)) for pair, (a, b) in zip(pairs, faces)
    ]
    end = time.process_time()
    each = 1000.0 / (2 * len(pairs))
    print(
        f"\nfaces {(middle - begin) * each:.1f} ms, view {(end - middle) * each:.1f} ms a capture"
    )
    return result


def solved(pose, pair):
    """Which poses ``(H, 3)`` are right."""
    shift, turn = apart(np.atleast_2d(pose), pair.pose)
    return (shift < NEAR_M) & (turn < NEAR_RAD)


def told(benchmark, pairs, first_right, seconds, **more):
    """Put the figures down and print them."""
    door = np.array([pair.doorway for pair in pairs])
    right = np.array(first_right, dtype=bool)
    figures = {
        "success": round(float(right.mean()), 3),
        "doorway": round(float(right[door].mean()), 3),
        "ms a pair": round(1000 * seconds / len(pairs), 1),
        **{key: round(float(value), 3) for key, value in more.items()},
    }
    benchmark.extra_info.update(figures)
    print(f"\n{benchmark.name}: {figures}")
    return figures


def run_here(benchmark, pairs, views, priors):
    """Match all pairs and judge the answers."""
    found = benchmark.pedantic(
        lambda: [match(a, b, prior) for (a, b), prior in zip(views, priors)],
        rounds=1,
        warmup_rounds=0,
    )
    right = [solved(h.pose, pair) if len(h) else np.zeros(1, bool) for h, pair in zip(found, pairs)]
    first = np.array([r[0] for r in right])
    clear = np.array([len(h) > 0 and h.gap >= CLEAR_GAP for h in found])
    door = np.array([pair.doorway for pair in pairs])
    among = np.array([r[:3].any() for r in right])
    off = [apart(h.pose[0], pair.pose) for h, pair, f in zip(found, pairs, first) if f]
    return told(
        benchmark,
        pairs,
        first,
        benchmark.stats["min"],
        **{
            "among three": among.mean(),
            "among three doorway": among[door].mean(),
            "clear": clear.mean(),
            "right if clear": first[clear].mean() if clear.any() else np.nan,
            "median mm": 1000 * np.median([o[0] for o in off]),
            "median deg": np.degrees(np.median([o[1] for o in off])),
        },
    )


def start_of(pair):
    return Prior(float(pair.start[2]), START_SIGMA_RAD, pair.start[:2], START_SIGMA_M)


def test_with_a_start(benchmark, pairs, views):
    figures = run_here(benchmark, pairs, views, [start_of(pair) for pair in pairs])
    assert figures["success"] > 0.5


def test_without_a_start(benchmark, pairs, views):
    figures = run_here(benchmark, pairs, views, [None] * len(pairs))
    assert figures["success"] > 0.5


def run_peer(benchmark, pairs, method):
    poses = benchmark.pedantic(lambda: [method(pair) for pair in pairs], rounds=1, warmup_rounds=0)
    right = [bool(solved(pose, pair)[0]) for pose, pair in zip(poses, pairs)]
    return told(benchmark, pairs, right, benchmark.stats["min"])


def test_phase_correlation_with_a_start(benchmark, pairs):
    pytest.importorskip("skimage", reason="scikit-image is a peer")
    pytest.importorskip("small_gicp", reason="small_gicp is a peer")
    run_peer(benchmark, pairs, by_phase_correlation)


def test_refinement_of_the_truth_by_planes(benchmark, pairs):
    pytest.importorskip("small_gicp", reason="small_gicp is a peer")
    run_peer(
        benchmark,
        pairs,
        lambda pair: refined_by_planes(pair.first, pair.second, pair.pose + [0.1, -0.05, 0.02]),
    )


def test_features_without_a_start(benchmark, pairs):
    try:
        import open3d  # noqa: F401
    except ImportError as error:
        pytest.skip(f"Open3D is a peer: {error}")
    run_peer(benchmark, pairs, by_features)
