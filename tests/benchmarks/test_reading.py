# SPDX-License-Identifier: GPL-2.0-or-later
"""Reading capture text, against numpy.loadtxt on the bare numbers of the same files.

loadtxt checks nothing, knows no header, no kinds and no names: what the checks cost is the ratio.
"""

import io
import time

import numpy as np
from roomtie.processing.captures.capture_text import read_capture_text

HEADER = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"
READINGS = 1600


def seconds(call, times=20):
    best = np.inf
    for _ in range(times):
        start = time.perf_counter()
        call()
        best = min(best, time.perf_counter() - start)
    return best


def test_capture_text(benchmark):
    distance = 3.0 + np.random.default_rng(1).normal(0.0, 0.002, READINGS)
    rows = [f"{0.225 * k:.3f},{r:.4f}" for k, r in enumerate(distance)]
    text = HEADER + "angle,distance,kind,target\n" + "".join(f"{row},ring,\n" for row in rows)
    data = text.encode()
    bare = "\n".join(rows)
    peer = seconds(lambda: np.loadtxt(io.StringIO(bare), delimiter=","))
    survey = benchmark(read_capture_text, data)
    benchmark.extra_info["ratio to numpy.loadtxt"] = benchmark.stats["min"] / peer
    assert len(survey.captures[0]) == READINGS
