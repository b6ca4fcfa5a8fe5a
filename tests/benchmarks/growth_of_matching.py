# SPDX-License-Identifier: GPL-2.0-or-later
"""How the cost of tying stations grows with their number, and whether the ties stay right.

    OMP_NUM_THREADS=1 python tests/benchmarks/growth_of_matching.py SEED WINGS... [bare]

Each number of wings is one storey of about 25 stations a wing; `bare` leaves the geotags out. Seeds
from 1000 on are for reporting. Prints a line a storey, and how the cost grew from one to the next:
the exponent of the number of stations. Run it from anywhere but the checkout's top.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
TESTS = HERE.parent
sys.path[:0] = [str(HERE), str(TESTS), *(str(TESTS / name) for name in ("stations", "captures"))]

import conftest  # noqa: E402, F401  (loads the package under its name)
from buildings import WRONG_M, WRONG_RAD  # noqa: E402
from roomtie.processing.captures.defaults import ANGLE_SIGMA_DEG, DISTANCE_SIGMA_M  # noqa: E402
from roomtie.processing.captures.noise import with_noise  # noqa: E402
from roomtie.processing.chain import fit_all_faces  # noqa: E402
from roomtie.processing.stations.connect import Connector  # noqa: E402
from roomtie.processing.stations.connect_frames import apart, between  # noqa: E402
from roomtie.processing.stations.model import Status, TieKind  # noqa: E402
from roomtie.processing.stations.network import adjust_survey  # noqa: E402
from roomtie.processing.stations.network_options import NetworkOptions  # noqa: E402
from simulated_long import long_building  # noqa: E402


@dataclass(frozen=True)
class Grown:
    """One storey: numbers of stations, of those an overlap can tie and of these tied, the sizes of
    the groups, wrong ties, and CPU seconds for faces, for connecting and for all."""

    stations: int
    honest: int
    tied: int
    groups: tuple[int, ...]
    wrong: tuple[str, ...]
    faces_s: float
    connected_s: float
    total_s: float

    def line(self) -> str:
        """The storey in a line."""
        return (
            f"{self.stations} stations: {self.tied} of {self.honest} tied, groups of "
            f"{', '.join(map(str, self.groups[:6]))}; {len(self.wrong)} wrong ties "
            f"{'; '.join(self.wrong[:4])} | CPU s: faces {self.faces_s:.1f}, connecting "
            f"{self.connected_s:.1f}, all {self.total_s:.1f}, a station "
            f"{1e3 * self.total_s / self.stations:.0f} ms"
        )


def grown(seed, wings, geotags=True) -> Grown:
    """Tie a long storey and hold the ties against the truth."""
    survey, truth = long_building(seed, wings, geotags)
    survey = with_noise(survey, DISTANCE_SIGMA_M, ANGLE_SIGMA_DEG)
    begin = time.process_time()
    faces = fit_all_faces(survey)
    faces_s = time.process_time() - begin
    took = []
    join = Connector.join

    def timed(self, *args, **kwargs):
        start = time.process_time()
        join(self, *args, **kwargs)
        took.append(time.process_time() - start)

    Connector.join = timed
    try:
        network = adjust_survey(survey, faces, NetworkOptions())
    finally:
        Connector.join = join
    total_s = time.process_time() - begin
    pose = np.column_stack([network.xy_m, network.orientation_rad])
    tied = np.array([status is not Status.UNCONNECTED for status in network.status])
    ties = network.ties
    i, j = np.asarray(ties.from_station), np.asarray(ties.to_station)
    overlap = np.array([kind is TieKind.OVERLAP for kind in ties.kind]) & np.asarray(ties.used)
    wrong = []
    for k in np.flatnonzero(overlap):
        off, turn = apart(
            between(pose[i[k]], pose[j[k]]), between(truth.pose[i[k]], truth.pose[j[k]])
        )
        if off > WRONG_M or turn > WRONG_RAD:
            wrong.append(f"{ties.name[k]} ({1e3 * off:.0f} mm, {np.degrees(turn):.2f} deg)")
    honest = truth.honest().any(axis=1)
    sizes = np.bincount(network.network[tied]) if tied.any() else np.zeros(1, dtype=int)
    return Grown(
        len(pose),
        int(honest.sum()),
        int((tied & honest).sum()),
        tuple(int(n) for n in sorted(sizes[sizes > 0], reverse=True)),
        tuple(wrong),
        faces_s,
        sum(took),
        total_s,
    )


def main(seed, wings, geotags=True):
    """A line a storey, with the growth from the one before."""
    before = None
    for number in wings:
        now = grown(seed, number, geotags)
        print(now.line(), flush=True)
        if before is not None:
            more = np.log(now.stations / before.stations)
            connecting = np.log(now.connected_s / before.connected_s) / more
            every = np.log(now.total_s / before.total_s) / more
            print(f"    exponents: connecting {connecting:.2f}, all {every:.2f}", flush=True)
        before = now


if __name__ == "__main__":
    words = [word for word in sys.argv[1:] if word != "bare"]
    main(int(words[0]), [int(word) for word in words[1:]], "bare" not in sys.argv)
