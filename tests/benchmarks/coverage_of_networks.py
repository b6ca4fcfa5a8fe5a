# SPDX-License-Identifier: GPL-2.0-or-later
"""How true the stated errors of networks are, over many simulated buildings.

    OMP_NUM_THREADS=1 python tests/benchmarks/coverage_of_networks.py FIRST COUNT [rooms a storey]

The captures are those of `buildings.py`, but the stations start near their true poses, so that no
time goes into finding ties: what is judged is the adjustment of what the data carry. Prints bare
and furnished buildings apart. Run it from anywhere but the checkout's top.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))
from buildings import coverage, verdict
from roomtie.processing.chain import tie_stations
from roomtie.processing.stations.choices import Start
from roomtie.processing.stations.network_options import NetworkOptions
from scipy.sparse.csgraph import connected_components
from simulated_buildings import simulated_building
from simulated_rays import Surface

OFF = (0.003, 0.003, 0.0005)
"""How far stations start from their true poses (m, m, rad; 1 sigma)."""


def judged(seed, rooms=None):
    """The verdict on a building whose honest overlaps are known, and whether it is furnished."""
    survey, truth = simulated_building(seed, rooms=rooms)
    _, group = connected_components(truth.honest, directed=False)
    rng = np.random.default_rng([19, seed])
    start = Start(truth.pose + rng.normal(size=truth.pose.shape) * OFF, group + 1, search=False)
    network = tie_stations(survey, NetworkOptions(start=start)).network
    furnished = any((plan.surface == Surface.FURNITURE).any() for plan in truth.storeys)
    return verdict(seed, survey, truth, network, 0.0), furnished


def main(first, count, rooms=None):
    found = [judged(seed, rooms) for seed in range(first, first + count)]
    for name, chosen in (("bare", False), ("furnished", True)):
        verdicts = [own for own, furnished in found if furnished is chosen]
        print(f"{name}: {len(verdicts)} buildings, {sum(len(v.tied) for v in verdicts)} stations")
        for what, figure in coverage(verdicts):
            print(f"  {what:50s} {figure}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
