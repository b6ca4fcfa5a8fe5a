# SPDX-License-Identifier: GPL-2.0-or-later
"""Laying one capture over another: how often, how fast, with and without a start, against
general-purpose libraries on the same pairs in the same run.

A pair counts as solved when the pose is within 20 mm and 0.1 degrees. `PAIRS` (72) and `PAIRS_SEED`
(1000; tune on others) in the environment choose the pairs, `PAIRS_SEEDS` (1) from how many seeds on
end so many are taken. Shares are printed with their standard errors.
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
NEARBY = np.array([0.10, -0.05, 0.02])
"""How far off (m, m, rad) a pose is that only needs refining."""
NEARBY_SIGMA_M, NEARBY_SIGMA_RAD = 0.10, 0.02
CLEAR_GAP = 0.10
"""A first answer that leads by this share is not ambiguous."""


@pytest.fixture(scope="module")
def pairs():
    count, seed, seeds = (
        int(os.environ.get(name, usual))
        for name, usual in (("PAIRS", "72"), ("PAIRS_SEED", "1000"), ("PAIRS_SEEDS", "1"))
    )
    return [pair for k in range(seeds) for pair in simulated_pairs(seed + k, count)]


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


def solved(poses, pair):
    """Which poses ``(H, 3)`` are right."""
    shift, turn = apart(poses, pair.pose)
    return (shift < NEAR_M) & (turn < NEAR_RAD)


def told(benchmark, pairs, answers, clear=None):
    """Judge the poses ``(H, 3)`` that each pair got, best first, put the figures down and print
    them; `clear (N,)` says which first answers are not ambiguous."""
    right = [solved(poses, pair) for poses, pair in zip(answers, pairs)]
    first = np.array([bool(r[:1].any()) for r in right])
    door = np.array([pair.doorway for pair in pairs])
    shares = {"success": first, "doorway": first[door]}
    if clear is not None:
        among = np.array([bool(r[:3].any()) for r in right])
        shares |= {"among three": among, "among three doorway": among[door]}
        shares |= {"clear": clear, "right if clear": first[clear]}
    figures = {}
    for name, which in shares.items():
        share = which.mean() if len(which) else np.nan
        error = np.sqrt(share * (1 - share) / max(len(which), 1))
        figures[name], figures[f"{name} +-"] = round(float(share), 3), round(float(error), 3)
    figures["ms a pair"] = round(1000 * benchmark.stats["min"] / len(pairs), 1)
    off = [apart(p[0], pair.pose) for p, pair, good in zip(answers, pairs, first) if good]
    if off:
        shift, turn = np.median(off, axis=0)
        figures["median mm"] = round(float(1000 * shift), 2)
        figures["median deg"] = round(float(np.degrees(turn)), 4)
    benchmark.extra_info.update(figures)
    print(f"\n{benchmark.name} ({len(pairs)} pairs, {door.sum()} through doorways): {figures}")
    return figures


def run_here(benchmark, pairs, views, priors):
    """Match all pairs and judge the answers."""
    found = benchmark.pedantic(
        lambda: [match(a, b, prior) for (a, b), prior in zip(views, priors)],
        rounds=1,
        warmup_rounds=0,
    )
    clear = np.array([len(h) > 0 and h.gap >= CLEAR_GAP for h in found])
    return told(benchmark, pairs, [h.pose for h in found], clear)


def start_of(pair):
    return Prior(float(pair.start[2]), START_SIGMA_RAD, pair.start[:2], START_SIGMA_M)


def test_with_a_start(benchmark, pairs, views):
    figures = run_here(benchmark, pairs, views, [start_of(pair) for pair in pairs])
    assert figures["success"] > 0.5


def test_without_a_start(benchmark, pairs, views):
    figures = run_here(benchmark, pairs, views, [None] * len(pairs))
    assert figures["success"] > 0.5


def test_from_nearby(benchmark, pairs, views):
    nearby = [pair.pose + NEARBY for pair in pairs]
    priors = [Prior(p[2], NEARBY_SIGMA_RAD, p[:2], NEARBY_SIGMA_M) for p in nearby]
    figures = run_here(benchmark, pairs, views, priors)
    assert figures["success"] > 0.5


def run_peer(benchmark, pairs, method):
    poses = benchmark.pedantic(lambda: [method(pair) for pair in pairs], rounds=1, warmup_rounds=0)
    return told(benchmark, pairs, [pose[None] for pose in poses])


def test_phase_correlation_with_a_start(benchmark, pairs):
    pytest.importorskip("skimage", reason="scikit-image is a peer")
    pytest.importorskip("small_gicp", reason="small_gicp is a peer")
    run_peer(benchmark, pairs, by_phase_correlation)


def test_planes_from_nearby(benchmark, pairs):
    pytest.importorskip("small_gicp", reason="small_gicp is a peer")
    run_peer(
        benchmark,
        pairs,
        lambda pair: refined_by_planes(pair.first, pair.second, pair.pose + NEARBY),
    )


def test_features_without_a_start(benchmark, pairs):
    try:
        import open3d  # noqa: F401
    except ImportError as error:
        pytest.skip(f"Open3D is a peer: {error}")
    run_peer(benchmark, pairs, by_features)
