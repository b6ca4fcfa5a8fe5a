# SPDX-License-Identifier: GPL-2.0-or-later
"""How whole networks of simulated buildings come out.

    OMP_NUM_THREADS=1 python tests/benchmarks/buildings.py FIRST COUNT [rooms a storey]

prints a line a building and the figures over all; seeds from 1000 on are for reporting. Run it from
anywhere but the checkout's top, whose `processing` would shadow the host's.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
TESTS = HERE.parent
sys.path[:0] = [str(HERE), str(TESTS), *(str(TESTS / name) for name in ("stations", "captures"))]

import conftest  # noqa: E402, F401  (loads the package under its name)
from roomtie.processing.angles import wrap_half  # noqa: E402
from roomtie.processing.chain import tie_stations  # noqa: E402
from roomtie.processing.stations.connect_frames import apart, between, fitted, moved  # noqa: E402
from roomtie.processing.stations.model import Status, TieKind  # noqa: E402
from roomtie.processing.stations.network import NetworkOptions  # noqa: E402
from simulated_buildings import simulated_building  # noqa: E402
from simulated_rays import cast  # noqa: E402

WRONG_M, WRONG_RAD = 0.050, np.radians(0.5)
NEAR_M = 0.010
THREE_SIGMA = 11.829
"""Chi-square of two degrees at the probability of three sigma, 0.9973."""
NINETY_FIVE = 5.991


@dataclass(frozen=True, eq=False)
class Verdict:
    """One building: `honest (S,)` stations that the data can tie, `tied (S,)`, `near (S,)` of all
    tied honest neighbours, the squared error of each tied station in units of its stated one
    (`distance (S,)`, NaN where unconnected) and in metres (`error_m (S,)`), its stated 1-sigma
    error (`sigma_m (S,)`, root of the mean of both axes), the same of the Cramer-Rao bound
    (`bound_m (S,)`), standardised turns, names of wrong ties, joined groups."""

    seed: int
    honest: np.ndarray
    tied: np.ndarray
    near: np.ndarray
    distance: np.ndarray
    error_m: np.ndarray
    sigma_m: np.ndarray
    turn_w: np.ndarray
    wrong: tuple[str, ...]
    missing: tuple[str, ...]
    groups: int
    seconds: float
    bound_m: np.ndarray

    @property
    def good(self) -> np.ndarray:
        """Stations that are as they should be, of the honest ones."""
        return (self.tied & self.near & (self.distance <= THREE_SIGMA))[self.honest]


def judge(seed, options=None, **kwargs) -> Verdict:
    """Tie a simulated building and hold the network against the truth."""
    survey, truth = simulated_building(seed, **kwargs)
    begin = time.process_time()
    network = tie_stations(survey, options or NetworkOptions()).network
    return verdict(seed, survey, truth, network, time.process_time() - begin)


def verdict(seed, survey, truth, network, seconds) -> Verdict:
    """Hold a network against the truth."""
    count = len(truth)
    pose = np.column_stack([network.xy_m, network.orientation_rad])
    tied = np.array([s is not Status.UNCONNECTED for s in network.status])
    group = np.where(tied, network.network, -1 - np.arange(count))
    off, turn = apart(
        between(pose[:, None], pose[None]), between(truth.pose[:, None], truth.pose[None])
    )
    same = group[:, None] == group
    bad = same & ((off > WRONG_M) | (turn > WRONG_RAD))
    neighbours = truth.honest & same
    near = ~(neighbours & (off > NEAR_M)).any(axis=1)
    ties = network.ties
    wrong = tuple(
        f"{ties.name[k]} ({1000 * off[i, j]:.0f} mm, {np.degrees(turn[i, j]):.2f} deg)"
        for k, (i, j) in enumerate(zip(ties.from_station, ties.to_station))
        if ties.used[k] and ties.kind[k] is TieKind.OVERLAP and bad[i, j]
    )
    distance, error, sigma = np.full(count, np.nan), np.full(count, np.nan), np.full(count, np.nan)
    turn_w, bound = np.full(count, np.nan), np.full(count, np.nan)
    for number in np.unique(group[group >= 0]):
        of = np.flatnonzero(group == number)
        motion = fitted(truth.pose[of, :2], pose[of, :2], np.ones(len(of)))
        away = pose[of, :2] - moved(motion, truth.pose[of, :2])
        round_m = wrap_half(pose[of, 2] - truth.pose[of, 2] - motion[2])
        for k, s in enumerate(of):
            block = network.block(s)
            distance[s] = away[k] @ np.linalg.pinv(block[:2, :2], rcond=1e-9) @ away[k]
            sigma[s] = np.sqrt(np.trace(block[:2, :2]) / 2)
            turn_w[s] = round_m[k] / np.sqrt(max(block[2, 2], 1e-30))
        error[of] = np.hypot(*away.T)
        if not bad[np.ix_(of, of)].any() and len(set(truth.level[of])) == 1:
            own = bound_of(survey, truth, of)
            bound[of] = np.sqrt(np.maximum(np.trace(own, axis1=1, axis2=2) / 2, 0.0))
    honest = truth.honest.any(axis=1)
    apart_pairs = np.argwhere(np.triu(truth.honest & ~same))
    missing = tuple(
        f"{network.station[i]}-{network.station[j]} {truth.share[i, j]:.2f}" for i, j in apart_pairs
    )
    return Verdict(
        seed,
        honest,
        tied,
        near,
        distance,
        error,
        sigma,
        turn_w,
        wrong,
        missing,
        len(np.unique(group[group >= 0])),
        seconds,
        bound,
    )


def bound_of(survey, truth, members) -> np.ndarray:
    """The Cramer-Rao bound of the positions of stations that share one datum (inner constraints):
    covariance ``(m, 2, 2)`` from all usable readings, with the line of every true segment unknown.
    A reading tells its distance across the segment: range and angle both count, by incidence."""
    count = len(members)
    plan = truth.storeys[truth.level[members[0]]]
    total = np.zeros((3 * count, 3 * count))
    segments = plan.segments
    edge = segments[:, 1] - segments[:, 0]
    normal = np.column_stack([-edge[:, 1], edge[:, 0]]) / np.hypot(*edge.T)[:, None]
    cross = np.zeros((len(segments), 2, 3 * count))
    inner = np.zeros((len(segments), 2, 2))
    for k, s in enumerate(members):
        capture, pose = survey.captures[s], truth.pose[s]
        azimuth = capture.angle_rad[capture.usable_ring] + pose[2]
        distance, hit = cast(segments, pose[:2], azimuth)
        measured = capture.distance_m[capture.usable_ring]
        good = (hit >= 0) & (np.abs(measured - distance) < 0.03) & (distance < 30)
        azimuth, distance, hit = azimuth[good], distance[good], hit[good]
        ray = np.column_stack([np.sin(azimuth), np.cos(azimuth)])
        across = np.abs(np.einsum("ij,ij->i", ray, normal[hit]))
        slanted = np.sqrt(np.maximum(1 - across**2, 0.0))
        sigma = np.hypot(
            across * capture.distance_sigma_m,
            slanted * distance * np.radians(capture.angle_sigma_deg),
        )
        arm = distance[:, None] * ray
        turn = normal[hit, 0] * arm[:, 1] - normal[hit, 1] * arm[:, 0]
        row = np.column_stack([normal[hit], turn]) / sigma[:, None]
        middle = segments[hit].mean(axis=1)
        along = np.einsum("ij,ij->i", pose[:2] + arm - middle, edge[hit]) / np.hypot(*edge[hit].T)
        line = np.column_stack([-np.ones(len(hit)), -along]) / sigma[:, None]
        of = slice(3 * k, 3 * k + 3)
        total[of, of] += row.T @ row
        for axis in range(2):
            for other in range(3):
                np.add.at(cross, (hit, axis, 3 * k + other), line[:, axis] * row[:, other])
            for other in range(2):
                np.add.at(inner, (hit, axis, other), line[:, axis] * line[:, other])
    solvable = inner[:, 0, 0] * inner[:, 1, 1] - inner[:, 0, 1] ** 2 > 1e-6 * (
        inner[:, 0, 0] * inner[:, 1, 1] + 1e-30
    )
    inverse = np.linalg.inv(inner[solvable])
    total -= np.einsum("kai,kab,kbj->ij", cross[solvable], inverse, cross[solvable])
    # A segment that one reading each hits tells nothing about the poses.
    weak = cross[~solvable]
    for one, square in zip(weak, inner[~solvable]):
        if square[0, 0] > 0:
            total -= np.outer(one[0], one[0]) / square[0, 0]
    xy = truth.pose[members, :2] - truth.pose[members, :2].mean(axis=0)
    datum = np.zeros((3, 3 * count))
    datum[0, 0::3] = datum[1, 1::3] = 1.0
    datum[2, 0::3], datum[2, 1::3] = xy[:, 1], -xy[:, 0]
    full = np.block([[total, datum.T], [datum, np.zeros((3, 3))]])
    covariance = np.linalg.inv(full)[: 3 * count, : 3 * count]
    return np.array([covariance[3 * k : 3 * k + 2, 3 * k : 3 * k + 2] for k in range(count)])


def table(verdicts) -> str:
    """The figures over all buildings."""
    honest = np.concatenate([v.honest for v in verdicts])
    tied = np.concatenate([v.tied for v in verdicts])
    near = np.concatenate([v.near for v in verdicts])
    distance = np.concatenate([v.distance for v in verdicts])
    sound = [v for v in verdicts if not v.wrong]
    clean = np.concatenate([v.distance[v.tied] for v in sound]) if sound else np.empty(0)
    turn = np.concatenate([v.turn_w[v.tied] for v in sound]) if sound else np.empty(0)
    error = np.concatenate([v.error_m[v.tied] for v in sound]) if sound else np.empty(0)
    sigma = np.concatenate([v.sigma_m[v.tied] for v in sound]) if sound else np.empty(0)
    good = np.concatenate([v.good for v in verdicts])
    groups = Counter(v.groups for v in verdicts)
    rows = [
        ("buildings", len(verdicts)),
        ("stations", len(honest)),
        ("stations with an honest tie", int(honest.sum())),
        ("of these tied", f"{tied[honest].mean():.4f}"),
        ("of these tied and within 10 mm of neighbours", f"{(tied & near)[honest].mean():.4f}"),
        ("of these also within three sigma", f"{good.mean():.4f}"),
        ("wrong ties accepted", sum(len(v.wrong) for v in verdicts)),
        ("buildings with a wrong tie", sum(bool(v.wrong) for v in verdicts)),
        ("coverage of 95 % ellipses", f"{np.mean(clean < NINETY_FIVE):.4f}"),
        ("coverage of 95 % orientations", f"{np.mean(np.abs(turn) < 1.96):.4f}"),
        (
            "error median, 95 %",
            f"{1e3 * np.median(error):.2f}, {1e3 * np.quantile(error, 0.95):.2f} mm",
        ),
        ("stated, median", f"{1e3 * np.median(sigma):.2f} mm"),
        ("rms error over Cramer-Rao bound, all and by building", _ratios(sound)),
        ("honest pairs left apart", sum(len(v.missing) for v in verdicts)),
        ("buildings by number of groups", dict(sorted(groups.items()))),
        ("seconds a building", f"{np.mean([v.seconds for v in verdicts]):.2f}"),
        ("ms a station", f"{1e3 * sum(v.seconds for v in verdicts) / len(honest):.1f}"),
    ]
    del distance
    return "\n".join(f"{name:48s} {value}" for name, value in rows)


def _ratios(verdicts) -> str:
    """Root mean square errors over the bound: over all stations, and the median and 90 % of the
    buildings'."""
    each, square, bounds = [], 0.0, 0.0
    for v in verdicts:
        of = np.isfinite(v.bound_m) & (v.bound_m > 0)
        if of.any():
            one, two = np.sum(v.error_m[of] ** 2), np.sum(2 * v.bound_m[of] ** 2)
            each.append(np.sqrt(one / two))
            square, bounds = square + one, bounds + two
    if not each:
        return "none"
    return f"{np.sqrt(square / bounds):.2f}, {np.median(each):.2f}, {np.quantile(each, 0.9):.2f}"


def line(v) -> str:
    """One building in a line."""
    told = (
        f"{v.seed}: {len(v.tied)} stations, {v.honest.sum()} honest, "
        f"{(v.tied & v.honest).sum()} tied in {v.groups} groups, {v.good.sum()} good, "
        f"{v.seconds:.1f} s"
    )
    if v.wrong:
        told += f"; WRONG {', '.join(v.wrong)}"
    if v.missing:
        told += f"; apart {', '.join(v.missing[:6])}"
    return told


def main(first, count, rooms=None):
    verdicts = []
    for seed in range(first, first + count):
        verdicts.append(judge(seed, rooms=rooms))
        print(line(verdicts[-1]), flush=True)
    print(table(verdicts))


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
