# SPDX-License-Identifier: GPL-2.0-or-later
"""How often the truth lies within the stated errors of the site fit: ``python coverage_of_site.py
[SURVEYS]``.

Simulated surveys of each kind, every error of the model drawn (`tests/site/simulated_evidence.py`),
fixed seeds. 95 % are promised: 1.96 sigma for the rotation and for east and north of a corner 47 m
from the origin, the ellipse of 2.448 sigma for the origin.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import conftest  # noqa: F401  (loads the package under its name)
from roomtie.tests.site.simulated_coverage import SCENARIOS, simulated

HEADERS = ("rotation", "origin", "corner east", "corner north", "planted found", "others lost")


def main(surveys: int, say: Callable[[str], None] = print) -> None:
    """Print the table as Markdown."""
    say(f"| {surveys} surveys of each kind | " + " | ".join(HEADERS) + " |")
    say("| --- |" + " --- |" * len(HEADERS))
    for name in SCENARIOS:
        outcome = simulated(name, surveys)
        inside = [f"{100 * share:.1f} %" for share in outcome.inside()]
        planted = f"{100 * outcome.found:.1f} %" if np.isfinite(outcome.found) else ""
        say(f"| {name} | " + " | ".join([*inside, planted, f"{100 * outcome.lost:.2f} %"]) + " |")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
