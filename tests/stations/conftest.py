# SPDX-License-Identifier: GPL-2.0-or-later
"""Makes the ray caster of the captures' tests and the surveyed storey importable: tests are no
package."""

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
for folder in (HERE, HERE.parent / "captures"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))
