# SPDX-License-Identifier: GPL-2.0-or-later
"""Makes the ray caster `simulated` importable: tests are no package."""

import sys
from pathlib import Path

FOLDER = str(Path(__file__).resolve().parent)
if FOLDER not in sys.path:
    sys.path.insert(0, FOLDER)
