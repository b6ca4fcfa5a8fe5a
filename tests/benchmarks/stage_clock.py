# SPDX-License-Identifier: GPL-2.0-or-later
"""What each stage of a run costs: CPU time, memory, and how long it is deaf to a cancel.

The stages are functions of the package, watched from outside while they run in their own chain;
what a stage calls of another one is the other's. For Linux, whose kernel tells a process's peak of
memory and starts it anew when asked.
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from functools import wraps
from pathlib import Path

from roomtie.processing import progress

OUTSIDE = "the rest"


class StageClock:
    """By stage, in CPU seconds of this process: `seconds`, and the longest time `deaf` between two
    looks at the cancel button, counted for the stage that had most of it, `between` which places of
    the source; and the peak of memory in MB, `peak_mb`."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = defaultdict(float)
        self.peak_mb: dict[str, float] = defaultdict(float)
        self.deaf: dict[str, float] = defaultdict(float)
        self.between: dict[str, str] = {}
        self._stack = [OUTSIDE]
        self._unheard: dict[str, float] = defaultdict(float)
        self._before = ""
        self._then = time.process_time()

    def watch(self, module, name: str, stage: str) -> None:
        """Count what `module.name` does for `stage`, wherever it is called by that name."""
        function = getattr(module, name)

        @wraps(function)
        def watched(*args, **kwargs):
            self._charge()
            self._stack.append(stage)
            try:
                return function(*args, **kwargs)
            finally:
                self._charge()
                self._stack.pop()

        setattr(module, name, watched)

    def listen(self) -> None:
        """Watch the looks at the cancel button."""
        at = progress.Progress.at

        def heard(own, fraction):
            self._look()
            at(own, fraction)

        progress.Progress.at = heard

    def _charge(self) -> None:
        now = time.process_time()
        stage = self._stack[-1]
        self.seconds[stage] += now - self._then
        self._unheard[stage] += now - self._then
        self.peak_mb[stage] = max(self.peak_mb[stage], _peak_mb())
        self._then = time.process_time()

    def _look(self) -> None:
        now = time.process_time()
        self.seconds[self._stack[-1]] += now - self._then
        self._unheard[self._stack[-1]] += now - self._then
        self._then = now
        stage = max(self._unheard, key=self._unheard.__getitem__)
        total = sum(self._unheard.values())
        here = _caller()
        if total > self.deaf[stage]:
            self.deaf[stage] = total
            self.between[stage] = f"{self._before} to {here}"
        self._unheard.clear()
        self._before = here


def _caller() -> str:
    """Where the look comes from, by file and line."""
    frame = sys._getframe(2)
    while frame.f_back and Path(frame.f_code.co_filename).name in ("progress.py", "stage_clock.py"):
        frame = frame.f_back
    return f"{Path(frame.f_code.co_filename).stem}:{frame.f_lineno}"


def _peak_mb() -> float:
    """The peak of resident memory since the last call."""
    status = Path("/proc/self/status").read_text(encoding="ascii", errors="replace")
    peak = next(line for line in status.splitlines() if line.startswith("VmHWM"))
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    return int(peak.split()[1]) / 1024.0
