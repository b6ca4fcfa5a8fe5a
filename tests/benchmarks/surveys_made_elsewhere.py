# SPDX-License-Identifier: GPL-2.0-or-later
"""How networks of surveys made elsewhere lie to what is known of their stations.

    OMP_NUM_THREADS=1 python tests/benchmarks/surveys_made_elsewhere.py FOLDER [NAME ...]

`FOLDER` holds the surveys by name (default: all of `SURVEYS`). Each connected group is laid over
its reference by a shift and a turn; printed are the differences that remain, of positions and
orientations, of the relative poses of stations that a tie joins, and the largest misclosures.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

import numpy as np

TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS)]

import conftest  # noqa: E402, F401  (loads the package under its name)
from roomtie.processing.angles import wrap_half  # noqa: E402
from roomtie.processing.captures.reading import import_captures  # noqa: E402
from roomtie.processing.chain import tie_stations  # noqa: E402
from roomtie.processing.stations.connect_frames import apart, between, fitted, moved  # noqa: E402
from roomtie.processing.stations.network_options import NetworkOptions  # noqa: E402

SURVEYS = {
    "duplex-level-1": ("truth.json", "true poses of a simulation in a published building model"),
    "flat-six-stations": ("taped_positions.json", "taped to centimetres, turned by eye"),
    "office-floor-scans": ("reference_poses.json", "the recording's own corrected poses, no truth"),
}
"""Folder, file of the reference, and what the reference is worth."""


def compared(folder: Path, reference: str) -> None:
    """Tie a survey and print its differences to the reference."""
    known = json.loads((folder / reference).read_text(encoding="utf-8"))["stations"]
    by_name = {s["station"]: (s["x"], s["y"], np.radians(s["orientation_deg"])) for s in known}
    begin = time.process_time()
    network = tie_stations(import_captures(folder), NetworkOptions()).network
    seconds = time.process_time() - begin
    truth = np.array([by_name[name] for name in network.station])
    pose = np.column_stack([network.xy_m, network.orientation_rad])
    groups = [np.flatnonzero(network.network == number) for number in np.unique(network.network)]
    groups = [of for of in groups if len(of) > 1]
    print(
        f"{folder.name}: {len(pose)} stations, {sum(map(len, groups))} of them in {len(groups)} "
        f"groups, {seconds:.1f} s of CPU"
    )
    for of in groups:
        motion = fitted(truth[of, :2], pose[of, :2], np.ones(len(of)))
        away = np.hypot(*(pose[of, :2] - moved(motion, truth[of, :2])).T)
        turn = wrap_half(pose[of, 2] - truth[of, 2] - motion[2])
        # The shift and turn are told by positions; what all orientations have in common is shown.
        spread = np.abs(wrap_half(turn - np.median(turn)))
        names = ", ".join(network.station[s] for s in of)
        print(f"  {names}: positions {_said(1e3 * away, 'mm', 1)}, orientations", end=" ")
        print(_said(np.degrees(np.abs(turn)), "deg", 3), end=", among themselves ")
        print(_said(np.degrees(spread), "deg", 3))
    ties = network.ties
    ends = {
        (int(i), int(j))
        for used, i, j in zip(ties.used, ties.from_station, ties.to_station)
        if used and i >= 0 and j >= 0 and network.network[i] == network.network[j]
    }
    if ends:
        i, j = np.array(sorted(ends)).T
        off, turn = apart(between(pose[i], pose[j]), between(truth[i], truth[j]))
        print(
            f"  tied pairs: {len(i)}, relative positions {_said(1e3 * off, 'mm', 1)}, turns "
            f"{_said(np.degrees(turn), 'deg', 3)}"
        )
    for loop in network.loops[:3]:
        names = ", ".join(network.station[s] for s in loop.stations)
        print(
            f"  loop {names}: {1e3 * loop.misclosure_m:.1f} mm, "
            f"{np.degrees(loop.misclosure_rad):.3f} deg, 1:{loop.length_m / loop.misclosure_m:.0f}"
        )


def _said(values: np.ndarray, unit: str, digits: int) -> str:
    return f"median {np.median(values):.{digits}f}, largest {values.max():.{digits}f} {unit}"


if __name__ == "__main__":
    for name in sys.argv[2:] or SURVEYS:
        print(f"{name}: reference is {SURVEYS[name][1]}")
        compared(Path(sys.argv[1]) / name, SURVEYS[name][0])
