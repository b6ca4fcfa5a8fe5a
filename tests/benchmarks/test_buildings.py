# SPDX-License-Identifier: GPL-2.0-or-later
"""Whole networks of simulated buildings against the truth.

A few buildings here; `buildings.py` prints the table over as many as asked. `BUILDINGS` (3) and
`BUILDINGS_SEED` (1000) in the environment choose them.
"""

import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from buildings import judge, line, table


def test_networks_of_buildings():
    first = int(os.environ.get("BUILDINGS_SEED", "1000"))
    verdicts = []
    for seed in range(first, first + int(os.environ.get("BUILDINGS", "3"))):
        verdicts.append(judge(seed))
        print("\n" + line(verdicts[-1]))
    print(table(verdicts))
    assert not any(v.wrong for v in verdicts)
    honest = sum(int(v.honest.sum()) for v in verdicts)
    assert sum(int((v.tied & v.honest).sum()) for v in verdicts) > 0.85 * honest
