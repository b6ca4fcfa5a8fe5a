# SPDX-License-Identifier: GPL-2.0-or-later
"""How whole networks of simulated buildings come out.

    OMP_NUM_THREADS=1 python tests/benchmarks/buildings.py FIRST COUNT [rooms a storey] [WORDS]

prints a line a building and the figures over all; seeds from 1000 on are for reporting. `no-bound`
leaves out the Cramer-Rao bound, which takes as long as the rest; with `closed` nobody saw into a
third of the rooms but from within (what is honest counts as if they had been open). Run it from
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
from closed_rooms import with_closed_rooms  # noqa: E402
from cramer_rao import bound_of  # noqa: E402
from inner_datum import about_all  # noqa: E402
from roomtie.processing.angles import wrap_half  # noqa: E402
from roomtie.processing.chain import tie_stations  # noqa: E402
from roomtie.processing.stations.connect_frames import apart, between, fitted, moved  # noqa: E402
from roomtie.processing.stations.model import Status, TieKind  # noqa: E402
from roomtie.processing.stations.network_options import NetworkOptions  # noqa: E402
from scipy.stats import chi2  # noqa: E402
from simulated_buildings import simulated_building  # noqa: E402

WRONG_M, WRONG_RAD = 0.050, np.radians(0.5)
NEAR_M = 0.010
THREE_SIGMA = 11.829
"""Chi-square of two degrees at the probability of three sigma, 0.9973."""
NINETY_FIVE = 5.991
SPAN_M = 3.0
"""By this a turn is made a length, so that components mix like with like."""
RESAMPLED = 300


@dataclass(frozen=True, eq=False)
class Verdict:
    """One building: `honest (S,)` stations that the data can tie, `tied (S,)`, `near (S,)` of all
    tied honest neighbours, the squared error of each tied station in units of its stated one
    (`distance (S,)`, NaN where unconnected) and in metres (`error_m (S,)`), its stated 1-sigma
    error (`sigma_m (S,)`, root of the mean of both axes), the same of the Cramer-Rao bound
    (`bound_m (S,)`), standardised turns with their stated errors and bounds in radians, names of
    wrong ties, joined groups; of each group the independent `components` of its errors."""

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
    turn_sigma: np.ndarray
    turn_bound: np.ndarray
    components: tuple[np.ndarray, ...]

    @property
    def good(self) -> np.ndarray:
        """Stations that are as they should be, of the honest ones."""
        return (self.tied & self.near & (self.distance <= THREE_SIGMA))[self.honest]


def judge(seed, options=None, bounded=True, closed=False, **kwargs) -> Verdict:
    """Tie a simulated building and hold the network against the truth, and against the Cramer-Rao
    bound if `bounded`; with `closed` rooms, if wanted."""
    survey, truth = simulated_building(seed, **kwargs)
    if closed:
        survey = with_closed_rooms(survey, truth, seed)
    begin = time.process_time()
    network = tie_stations(survey, options or NetworkOptions()).network
    return verdict(seed, survey, truth, network, time.process_time() - begin, bounded)


def verdict(seed, survey, truth, network, seconds, bounded=True) -> Verdict:
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
    turn_w, bound, turn_bound = np.full((3, count), np.nan)
    turn_sigma = np.full(count, np.nan)
    components = []
    for number in np.unique(group[group >= 0]):
        of = np.flatnonzero(group == number)
        motion = fitted(truth.pose[of, :2], pose[of, :2], np.ones(len(of)))
        away = pose[of, :2] - moved(motion, truth.pose[of, :2])
        round_m = wrap_half(pose[of, 2] - truth.pose[of, 2] - motion[2])
        rows = (3 * of[:, None] + np.arange(3)).ravel()
        stated = about_all(network.covariance[np.ix_(rows, rows)], pose[of, :2])
        for k, s in enumerate(of):
            block = stated[3 * k : 3 * k + 3, 3 * k : 3 * k + 3]
            distance[s] = of_two(away[k], block[:2, :2])
            sigma[s] = np.sqrt(np.trace(block[:2, :2]) / 2)
            turn_sigma[s] = np.sqrt(max(block[2, 2], 1e-30))
            turn_w[s] = round_m[k] / turn_sigma[s]
        error[of] = np.hypot(*away.T)
        components.append(independent(np.column_stack([away, round_m]), stated))
        if bounded and not bad[np.ix_(of, of)].any() and len(set(truth.level[of])) == 1:
            own = bound_of(survey, truth, of)
            bound[of] = np.sqrt((own[:, 0, 0] + own[:, 1, 1]) / 2)
            turn_bound[of] = np.sqrt(own[:, 2, 2])
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
        turn_sigma,
        turn_bound,
        tuple(components),
    )


def of_two(error, stated) -> float:
    """The squared error ``(2,)`` of a position in units of its `stated (2, 2)` one, as improbable
    with two degrees of freedom as it is with its own: two stations err along their line only."""
    values, vectors = np.linalg.eigh(stated)
    seen = values > 1e-9 * values[-1]
    square = np.sum((vectors.T @ error)[seen] ** 2 / values[seen])
    freedom = int(seen.sum())
    # chi-square of two degrees is exponential; its inverse is finite however rare the error is.
    return float(square if freedom == 2 else -2.0 * chi2.logsf(square, freedom))


def independent(error, stated) -> np.ndarray:
    """The independent components ``(3m - 3,)`` of the errors ``(m, 3)`` of a group, each in units
    of its `stated (3m, 3m)` error: what the stations of a group have in common counts once."""
    scale = np.tile([1.0, 1.0, SPAN_M], len(error))
    values, vectors = np.linalg.eigh(stated * np.outer(scale, scale))
    # The datum leaves three directions without error.
    seen = vectors[:, 3:].T @ (error.ravel() * scale)
    return seen / np.sqrt(np.maximum(values[3:], 1e-30))


def table(verdicts) -> str:
    """The figures over all buildings."""
    honest = np.concatenate([v.honest for v in verdicts])
    tied = np.concatenate([v.tied for v in verdicts])
    near = np.concatenate([v.near for v in verdicts])
    sound = [v for v in verdicts if not v.wrong]
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
        *coverage(sound),
        ("error median, 95 %", _millimetres(error, 0.5, 0.95)),
        ("stated, median", _millimetres(sigma, 0.5)),
        ("honest pairs left apart", sum(len(v.missing) for v in verdicts)),
        ("buildings by number of groups", dict(sorted(groups.items()))),
        ("seconds a building", f"{np.mean([v.seconds for v in verdicts]):.2f}"),
        ("ms a station", f"{1e3 * sum(v.seconds for v in verdicts) / len(honest):.1f}"),
    ]
    return "\n".join(f"{name:48s} {value}" for name, value in rows)


def _millimetres(values_m, *levels) -> str:
    """Quantiles of lengths; a building with a wrong tie, or none tied, has none."""
    if not len(values_m):
        return "none"
    return ", ".join(f"{1e3 * np.quantile(values_m, level):.2f}" for level in levels) + " mm"


def coverage(verdicts) -> list[tuple[str, str]]:
    """How true the stated errors are, and how near the errors come to the bound."""
    return [
        ("coverage of 95 % ellipses", _share(verdicts, lambda v: v.distance[v.tied] < NINETY_FIVE)),
        (
            "coverage of 95 % orientations",
            _share(verdicts, lambda v: np.abs(v.turn_w[v.tied]) < 1.96),
        ),
        ("coverage of 95 % of independent components", _share(verdicts, _within)),
        ("groups beyond chi-square of 5 %, 1 %", _beyond(verdicts)),
        *_over_bound(verdicts),
    ]


def _share(verdicts, told) -> str:
    """A share over all buildings, and its standard error by drawing buildings again: stations of
    one network err together (bootstrap over clusters, Efron and Tibshirani 1993)."""
    each = [told(v) for v in verdicts]
    each = [own for own in each if len(own)]
    if not each:
        return "none"
    rng = np.random.default_rng(1)
    drawn = [
        np.concatenate([each[k] for k in rng.integers(0, len(each), len(each))]).mean()
        for _ in range(RESAMPLED)
    ]
    return f"{np.concatenate(each).mean():.4f} +- {np.std(drawn):.4f}"


def _within(v):
    return np.abs(np.concatenate([np.empty(0), *v.components])) < 1.96


def _beyond(verdicts) -> str:
    """How many groups' errors as a whole are less probable than 5 % and 1 %."""
    rare = np.array([chi2.sf(z @ z, len(z)) for v in verdicts for z in v.components])
    shares = ", ".join(f"{np.mean(rare < level):.3f}" for level in (0.05, 0.01))
    return f"{shares} of {len(rare)}" if len(rare) else "none"


def _over_bound(verdicts) -> list[tuple[str, str]]:
    """Errors and stated errors over the bound: root mean squares over all stations, and the median
    and 90 % of the buildings'. Positions have two components, and a station that hangs on nothing
    but a corner a bound of decimetres; so each station's ratio counts, not its millimetres."""

    def ratios(square):
        each = [square(v)[np.isfinite(v.bound_m) & (v.bound_m > 1e-6)] for v in verdicts]
        means = [own.mean() for own in each if len(own)]
        if not means:
            return "none"
        every = np.sqrt([np.concatenate(each).mean(), np.median(means), np.quantile(means, 0.9)])
        return ", ".join(f"{value:.2f}" for value in every)

    return [
        (
            "errors over Cramer-Rao bound: positions",
            ratios(lambda v: (v.error_m / v.bound_m) ** 2 / 2),
        ),
        ("  orientations", ratios(lambda v: (v.turn_w * v.turn_sigma / v.turn_bound) ** 2)),
        ("stated errors over bound: positions", ratios(lambda v: (v.sigma_m / v.bound_m) ** 2)),
        ("  orientations", ratios(lambda v: (v.turn_sigma / v.turn_bound) ** 2)),
    ]


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


def main(first, count, rooms=None, bounded=True, closed=False):
    verdicts = []
    for seed in range(first, first + count):
        verdicts.append(judge(seed, bounded=bounded, closed=closed, rooms=rooms))
        print(line(verdicts[-1]), flush=True)
    print(table(verdicts))


if __name__ == "__main__":
    numbers = [word for word in sys.argv[1:] if word not in ("no-bound", "closed")]
    main(*map(int, numbers), bounded="no-bound" not in sys.argv, closed="closed" in sys.argv)
