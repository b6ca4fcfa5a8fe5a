# SPDX-License-Identifier: GPL-2.0-or-later
"""How often a tripod that moved during its ring is proposed for leaving out, and how often one that
did not.

    OMP_NUM_THREADS=1 python tests/benchmarks/rates_of_moved.py FIRST COUNT [MILLIMETRES ...]

takes COUNT simulated buildings; in each, one station moves by so many mm (0, 15 and 30 if none is
given) in any direction and turns by 0.3 deg (1 sigma) somewhere in the middle half of its ring.
Prints, for each movement, how many of these stations the network tied, how many of those were
proposed, and proposals of stations that did not move. Run it from anywhere but the checkout's top.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
TESTS = HERE.parent
sys.path[:0] = [str(HERE), str(TESTS), *(str(TESTS / name) for name in ("stations", "captures"))]

import conftest  # noqa: E402, F401  (loads the package under its name)
from roomtie.processing.captures.model import Survey  # noqa: E402
from roomtie.processing.chain import tie_stations  # noqa: E402
from roomtie.processing.stations.model import Status  # noqa: E402
from roomtie.processing.stations.network_options import NetworkOptions  # noqa: E402
from simulated_buildings import simulated_building  # noqa: E402
from simulated_rays import capture_among  # noqa: E402

MEASURED = ("distance_m", "slope_distance_m", "flag", "intensity")


def moved(survey, truth, seed, millimetres):
    """The survey with one honest station moved in its ring, and that station (-1: none)."""
    rng = np.random.default_rng([99, seed])
    station = int(rng.choice(np.flatnonzero(truth.honest.any(axis=1))))
    if not millimetres:
        return survey, -1
    way = rng.uniform(-np.pi, np.pi)
    motion = millimetres / 1e3 * np.array([np.sin(way), np.cos(way), 0.0])
    motion[2] = np.radians(0.3) * rng.standard_normal()
    level = int(truth.level[station])
    plan, here = truth.storeys[level], survey.captures[station]
    there, _ = capture_among(
        plan.segments,
        plan.surface,
        truth.pose[station] + motion,
        np.random.default_rng([11, seed, station]),
        readings=1600,
        outliers=0.01,
        station=here.station,
        level=level,
    )
    ring = slice(int(rng.uniform(0.25, 0.75) * len(there)), len(there))
    columns = {name: getattr(here, name).copy() for name in MEASURED}
    for name, values in columns.items():
        values[ring] = getattr(there, name)[ring]
    captures = list(survey.captures)
    captures[station] = replace(here, **columns)
    return Survey(tuple(captures)), station


def rates(seeds, millimetres):
    stations = tied = found = wrong = 0
    for seed in seeds:
        survey, station = moved(*simulated_building(seed), seed, millimetres)
        network = tie_stations(survey, NetworkOptions()).network
        name = survey.names[station] if station >= 0 else ""
        if name and network.status[station] is not Status.UNCONNECTED:
            tied += 1
            found += name in network.proposals
        others = {other: text for other, text in network.proposals.items() if other != name}
        for other, text in others.items():
            print(f"  building {seed}: {other}, {text}")
        stations += len(survey)
        wrong += len(others)
    print(
        f"{millimetres:g} mm: {found} of {tied} tied stations that moved are proposed; "
        f"{wrong} of {stations} others",
        flush=True,
    )


if __name__ == "__main__":
    first, count = int(sys.argv[1]), int(sys.argv[2])
    for size in [float(a) for a in sys.argv[3:]] or [0.0, 15.0, 30.0]:
        rates(range(first, first + count), size)
