# SPDX-License-Identifier: GPL-2.0-or-later
"""Makes a survey of many stations, or one of many readings, as capture files.

Usage: large.py stations WINGS FOLDER     a storey of about 25 stations a wing (20: 500 stations)
       large.py readings COUNT FOLDER     rings of the example with a hundred thousand readings each

Run it from anywhere but the checkout's top, whose `processing` would shadow the host's.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np

TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS), *(str(TESTS / name) for name in ("stations", "captures"))]

import conftest  # noqa: E402, F401  (loads the package under its name)
from simulated_long import long_building  # noqa: E402
from written_captures import write_captures  # noqa: E402

EXAMPLE = TESTS.parent / "testdata" / "example" / "captures"
A_RING = 100_000
SEED = 5000


def many_readings(folder: Path, count: int) -> None:
    """Rings as dense as a slowly turning instrument gives them: the example's, interpolated along
    the turn, with new errors of 2 mm."""
    draw = np.random.default_rng(SEED)
    files = sorted(EXAMPLE.glob("*.csv"))
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(-(-count // A_RING)):
        lines = files[number % len(files)].read_text("utf-8").splitlines()
        start = next(i for i, line in enumerate(lines) if not line.startswith("#"))
        station = f"M{number + 1:03d}"
        head = [line for line in lines[:start] if not line.startswith("# station")]
        rows = csv.DictReader(lines[start:])
        ring = np.array(
            [
                (row["angle"], row["distance"])
                for row in rows
                if row.get("kind", "ring") == "ring" and row["distance"]
            ],
            dtype=float,
        )
        angle = np.linspace(0.0, 360.0, min(A_RING, count - number * A_RING), endpoint=False)
        distance = np.interp(angle, *ring.T, period=360.0) + draw.normal(size=len(angle)) * 0.002
        text = [f"# station: {station}", *head, "angle,distance"]
        text += [f"{a:.4f},{d:.4f}" for a, d in zip(angle, distance)]
        (folder / f"{station}.csv").write_text("\n".join(text) + "\n", encoding="utf-8")


if __name__ == "__main__":
    kind, number, folder = sys.argv[1:]
    if kind == "stations":
        survey, _ = long_building(SEED, int(number))
        write_captures(Path(folder), survey)
        print(f"{len(survey.captures)} stations")
    else:
        many_readings(Path(folder), int(number))
