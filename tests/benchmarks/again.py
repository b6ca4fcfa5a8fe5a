# SPDX-License-Identifier: GPL-2.0-or-later
"""What it costs to adjust stations again from their poses, against the first time.

    OMP_NUM_THREADS=1 python tests/benchmarks/again.py [FIRST COUNT]

ties the example survey and simulated buildings of about 20 stations (seeds FIRST to FIRST + COUNT,
1000 and 3 if left out), then again from the poses found: nothing decided (and with no search for
stations without a pose), a station left out, two held, an overlap left out. Prints CPU seconds,
shares of the first run, and the largest difference of the second run's poses. Run it from anywhere
but the checkout's top.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
TESTS = HERE.parent
sys.path[:0] = [str(HERE), str(TESTS), *(str(TESTS / name) for name in ("stations", "captures"))]

import conftest  # noqa: E402, F401  (loads the package under its name)
from roomtie.processing.captures.reading import import_captures  # noqa: E402
from roomtie.processing.chain import tie_stations  # noqa: E402
from roomtie.processing.stations.choices import Choices, Start  # noqa: E402
from roomtie.processing.stations.model import Status, TieKind  # noqa: E402
from roomtie.processing.stations.network_options import NetworkOptions  # noqa: E402
from simulated_buildings import simulated_building  # noqa: E402


def timed(survey, options):
    began = time.process_time()
    network = tie_stations(survey, options).network
    return network, time.process_time() - began


def measure(title, survey):
    first, seconds = timed(survey, NetworkOptions())
    start = Start.of(first.station, first)
    tied = [n for n, s in zip(first.station, first.status) if s is not Status.UNCONNECTED]
    overlaps = [
        name
        for name, kind, used in zip(first.ties.name, first.ties.kind, first.ties.used)
        if kind is TieKind.OVERLAP and used
    ]
    same = [n for n, g in zip(first.station, first.network) if g == first.network[0]]
    decided = {
        "nothing": Choices(),
        "left out": Choices(left_out=(tied[-1],)),
        "held": Choices(held=tuple(same[:2])),
        "tie out": Choices(ties_left_out=frozenset(overlaps[:1])),
    }
    shares, shift = [], 0.0
    runs = [(word, choices, start) for word, choices in decided.items()]
    runs.insert(1, ("no search", Choices(), replace(start, search=False)))
    for word, choices, begin in runs:
        network, again = timed(survey, NetworkOptions(choices=choices, start=begin))
        shares.append(f"{word} {again:.2f} s ({again / seconds:.2f})")
        if word == "nothing":
            known = start.known
            shift = float(np.hypot(*(network.xy_m - first.xy_m)[known].T).max(initial=0.0))
    print(
        f"{title}: {len(first)} stations, {len(tied)} tied, first {seconds:.2f} s; again "
        f"{', '.join(shares)}; largest difference {1e3 * shift:.2f} mm",
        flush=True,
    )


if __name__ == "__main__":
    first_seed, count = (int(a) for a in sys.argv[1:3]) if len(sys.argv) > 2 else (1000, 3)
    measure("example", import_captures(TESTS.parent / "testdata" / "example" / "captures"))
    for seed in range(first_seed, first_seed + count):
        measure(f"building {seed}", simulated_building(seed, rooms=10)[0])
