# SPDX-License-Identifier: GPL-2.0-or-later
"""Reading capture files, against libraries on the bare numbers of the same files.

numpy.loadtxt and json.loads check nothing, know no header, no kinds and no names: what the checks
cost is in the ratio.
"""

import io
import json
import time

import numpy as np
import pytest
from roomtie.processing.captures.capture_text import read_capture_text
from roomtie.processing.captures.scan_json import read_scan_json

HEADER = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"
READINGS = 1600


def seconds(call, times=20):
    best = np.inf
    for _ in range(times):
        start = time.perf_counter()
        call()
        best = min(best, time.perf_counter() - start)
    return best


def against(benchmark, call, name, peer):
    survey = benchmark(call)
    ratio = benchmark.stats["min"] / seconds(peer)
    benchmark.extra_info[f"ratio to {name}"] = ratio
    print(f"{1e3 * benchmark.stats['min']:.2f} ms, {ratio:.2f} times {name}")
    assert len(survey.captures[0]) == READINGS


@pytest.mark.parametrize("layout", ["plain", "decimal comma", "quoted"])
def test_capture_text(benchmark, layout):
    distance = 3.0 + np.random.default_rng(1).normal(0.0, 0.002, READINGS)
    rows = [f"{0.225 * k:.3f},{r:.4f}" for k, r in enumerate(distance)]
    bare = "\n".join(rows)
    text = HEADER + "angle,distance,kind,target\n" + "".join(f"{row},ring,\n" for row in rows)
    if layout == "decimal comma":
        text = text.replace(",", ";").replace(".", ",")
    elif layout == "quoted":
        text = text.replace(",ring,", ',"ring",""')
    data = text.encode()
    against(
        benchmark,
        lambda: read_capture_text(data),
        "numpy.loadtxt",
        lambda: np.loadtxt(io.StringIO(bare), delimiter=","),
    )


def test_laser_scan_json(benchmark):
    distance = 3.0 + np.random.default_rng(1).normal(0.0, 0.002, READINGS)
    scan = {"angle_min": -3.14, "angle_increment": 6.28 / READINGS}
    data = json.dumps({**scan, "ranges": [round(r, 4) for r in distance]}).encode()
    against(benchmark, lambda: read_scan_json(data), "json.loads", lambda: json.loads(data))
