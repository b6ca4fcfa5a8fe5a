# SPDX-License-Identifier: GPL-2.0-or-later
"""How networks of several storeys and of sighted targets come out.

    OMP_NUM_THREADS=1 python tests/benchmarks/storeys.py targets FIRST COUNT
    OMP_NUM_THREADS=1 python tests/benchmarks/storeys.py names FIRST COUNT
    OMP_NUM_THREADS=1 python tests/benchmarks/storeys.py rings FIRST COUNT

`targets`: three storeys of three stations each, sightings alone, joined by targets in the stair.
`names`: four stations of one room, one of which writes the names of its targets in another order.
`rings`: simulated buildings of three storeys with full captures. Seeds from 1000 on are for
reporting. Run it from anywhere but the checkout's top, whose `processing` would shadow the host's.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS), *(str(TESTS / name) for name in ("stations", "captures"))]

import conftest  # noqa: E402, F401  (loads the package under its name)
from roomtie.processing.angles import turn, wrap_half  # noqa: E402
from roomtie.processing.captures.face_model import no_faces  # noqa: E402
from roomtie.processing.chain import tie_stations  # noqa: E402
from roomtie.processing.stations.connect_frames import between  # noqa: E402
from roomtie.processing.stations.network import adjust_survey  # noqa: E402
from roomtie.processing.stations.network_options import NetworkOptions  # noqa: E402
from simulated_buildings import simulated_building  # noqa: E402
from simulated_targets import room_with_targets, storeys_with_a_stair  # noqa: E402

NINETY_FIVE, THREE_SIGMA = 5.991, 11.829
"""Chi-square of two degrees at 95 % and at the probability of three sigma."""

SIGHTINGS = NetworkOptions(hold="S1", use_overlap=False)


def adjusted(truth, seed):
    """The network of a survey of sightings."""
    taken = truth.survey(np.random.default_rng([23, seed]))
    return adjust_survey(taken, [no_faces(len(c)) for c in taken.captures], SIGHTINGS)


def against(network, pose, first):
    """Squared position errors ``(S,)`` in units of the stated ones, standardised turns ``(S,)`` and
    errors in metres, all against the held station; NaN where another network lies."""
    here = np.column_stack([network.xy_m, network.orientation_rad])
    error = between(here[first], here) - between(pose[first], pose)
    error[:, :2] = turn(error[:, :2], here[first, 2])
    square, turned = np.full(len(pose), np.nan), np.full(len(pose), np.nan)
    for k in np.flatnonzero(network.network == network.network[first]):
        block = network.block(int(k))
        if k != first:
            square[k] = error[k, :2] @ np.linalg.solve(block[:2, :2], error[k, :2])
            turned[k] = wrap_half(error[k, 2]) / np.sqrt(block[2, 2])
    return square, turned, np.hypot(*error[:, :2].T)


def share(values):
    return f"{100 * np.mean(values):.1f} %"


def targets(first, count):
    """Storeys joined by sightings alone."""
    print("| joined by | one network | 95 % ellipses | 95 % turns | upper storeys in 3 sigma |")
    print("| --- | --- | --- | --- | --- |")
    for title, options in (
        ("two targets in the stair", {"stair": 2}),
        ("three", {"stair": 3}),
        ("one target and its surface", {"stair": 1, "surfaces": True}),
    ):
        whole, square, turned, upper = [], [], [], []
        for seed in range(first, first + count):
            truth = storeys_with_a_stair(seed, **options)
            network = adjusted(truth, seed)
            whole.append(len(set(network.network)) == 1)
            own, angle, _ = against(network, truth.pose, 0)
            square.append(own)
            turned.append(angle)
            upper.append(own[truth.level > 0])
        known = np.concatenate(square)
        known, angles = known[np.isfinite(known)], np.concatenate(turned)
        angles = angles[np.isfinite(angles)]
        above = np.concatenate(upper)
        print(
            f"| {title} | {share(whole)} | {share(known <= NINETY_FIVE)} | "
            f"{share(np.abs(angles) <= 1.96)} | {share(above[np.isfinite(above)] <= THREE_SIGMA)} |"
        )


def names(first, count):
    """Names of one station in another order."""
    figures = dict.fromkeys(("all found", "some", "left apart", "not found", "turned"), 0)
    invented, told = 0, 0
    for seed in range(first, first + count):
        rng = np.random.default_rng([29, seed])
        truth = room_with_targets(seed)
        station = int(rng.integers(len(truth.by)))
        own = list(truth.by[station])
        order = rng.permutation(len(own))
        written = {(station, own[k]): own[m] for k, m in enumerate(order) if k != m}
        network = adjusted(replace(truth, written=written), seed)
        meant = {f"S{station + 1} to {new}": old for (_, old), new in written.items()}
        ties = network.ties
        taken = {
            name: network.targets.name[k]
            for name, k, reason in zip(ties.name, ties.to_target, ties.reason)
            if "in the capture" in reason
        }
        right = sum(taken.get(name) == old for name, old in meant.items())
        invented += sum(meant.get(name) != old for name, old in taken.items())
        _, _, off = against(network, truth.pose, 0)
        if np.max(off[network.network == network.network[0]]) > 0.05:
            figures["turned"] += 1
            told += any("exchanged" in warning for warning in network.warnings)
        elif right == len(meant):
            figures["all found"] += 1
        elif network.statistics.unconnected_stations or len(network.groups) > 1:
            figures["left apart"] += 1
        else:
            figures["some" if right else "not found"] += 1
    print(f"{count} networks: " + ", ".join(f"{what} {n}" for what, n in figures.items()))
    print(f"turned ones with a warning {told}; sightings given a wrong name {invented}")


def rings(first, count):
    """Whole buildings."""
    whole, square, millimetres, turned = 0, [], [], []
    for seed in range(first, first + count):
        survey, truth = simulated_building(seed, rooms=4, storeys=3, stair=2)
        # The first station of the well, whose storey all others hang on.
        (held,) = np.flatnonzero(np.array(survey.names) == truth.in_the_well(0)[0])
        network = tie_stations(survey, NetworkOptions(hold=survey.names[held])).network
        own, angle, off = against(network, truth.pose, held)
        joined = {(join.lower, join.upper) for join in network.storeys} == {(0, 1), (1, 2)}
        whole += joined
        above = np.isfinite(own) & (truth.level > 0)
        square.append(own[above])
        turned.append(angle[above])
        millimetres.append(1000 * off[above])
        print(
            f"{seed}: {len(truth)} stations, {len(network.groups)} groups, storeys joined "
            f"{joined}, upper in 3 sigma {share(own[above] <= THREE_SIGMA)}",
            flush=True,
        )
    known, angles = np.concatenate(square), np.concatenate(turned)
    print(
        f"{count} buildings, storeys joined in {whole}; {len(known)} stations on upper storeys: "
        f"{share(known <= THREE_SIGMA)} within three sigma, {share(known <= NINETY_FIVE)} within "
        f"the 95 % ellipse, {share(np.abs(angles) <= 1.96)} of turns; "
        f"{np.median(np.concatenate(millimetres)):.1f} mm off in the median"
    )


if __name__ == "__main__":
    {"targets": targets, "names": names, "rings": rings}[sys.argv[1]](*map(int, sys.argv[2:4]))
