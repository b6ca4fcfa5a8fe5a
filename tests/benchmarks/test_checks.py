# SPDX-License-Identifier: GPL-2.0-or-later
"""The checks of one capture, against numpy.loadtxt on the bare numbers of the same capture."""

import io
import time
from dataclasses import replace

import numpy as np
import pytest
from roomtie.processing.captures.checks import check_capture
from roomtie.processing.captures.checks_survey import SurveyChecks
from roomtie.processing.captures.noise import noise_in
from roomtie.processing.captures.reading import import_captures


@pytest.mark.parametrize("tilt", ["reported", "looked for in the walls"])
def test_checks_of_the_example(benchmark, example_survey, tilt):
    """All 18 captures of the example, with and without a reported tilt."""
    captures = import_captures(example_survey / "captures").captures
    if tilt != "reported":
        captures = [replace(capture, tilt_deg=np.nan) for capture in captures]
    noise = noise_in(captures)
    texts = [
        "\n".join(f"{a:.3f},{d:.4f}" for a, d in zip(c.angle_deg, c.distance_m)) for c in captures
    ]

    def checks():
        across = SurveyChecks()
        for capture, own in zip(captures, noise):
            across.add(check_capture(capture, own))
        return across.findings()

    def peer():
        for text in texts:
            np.loadtxt(io.StringIO(text), delimiter=",")

    benchmark.pedantic(checks, rounds=3)
    mine, theirs = (min(_cpu_seconds(call) for _ in range(7)) for call in (checks, peer))
    benchmark.extra_info["ratio to numpy.loadtxt"] = mine / theirs
    print(f"{1e3 * mine / len(captures):.2f} ms a capture, {mine / theirs:.2f} times numpy.loadtxt")


def _cpu_seconds(call):
    start = time.process_time()
    call()
    return time.process_time() - start
