# SPDX-License-Identifier: GPL-2.0-or-later
"""Runs one algorithm in a host of its own, which may then be starved, cancelled or killed.

Usage: in_the_host.py ALGORITHM PARAMETERS [CANCEL_AT]

PARAMETERS is JSON; CANCEL_AT are seconds after the start. The last line said is JSON: how it ended
(`done`, `cancelled`, `refused` with the sentence), how long it took, how long after the instant of
the cancel it ended, and the longest times between two questions whether to stop.
"""

from __future__ import annotations

import importlib.util
import json
import sys
import time
import traceback
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
if "roomtie" not in sys.modules:
    spec = importlib.util.spec_from_file_location(
        "roomtie", ROOT / "__init__.py", submodule_search_locations=[str(ROOT)]
    )
    sys.modules["roomtie"] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(sys.modules["roomtie"])

from qgis.core import (  # noqa: E402
    QgsApplication,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProcessingFeedback,
)


class Asked(QgsProcessingFeedback):
    """Says stop from an instant on, whoever asks, and notes when it was asked."""

    def __init__(self, after: float | None = None) -> None:
        super().__init__()
        self.begun = time.monotonic()
        self.instant = None if after is None else self.begun + after
        self.asked = [self.begun]
        self.where = ["start"]
        self.errors: list[str] = []

    def isCanceled(self) -> bool:  # noqa: N802 - the host's name
        now = time.monotonic()
        self.asked.append(now)
        if now - self.asked[-2] > 0.15:
            frame = sys._getframe(1)
            names = []
            while frame is not None and len(names) < 8:
                names.append(f"{Path(frame.f_code.co_filename).name}:{frame.f_lineno}")
                frame = frame.f_back
            self.where.append(f"{now - self.begun:.2f} {' < '.join(names)}")
        else:
            self.where.append("")
        if self.instant is not None and now >= self.instant:
            self.cancel()
        return super().isCanceled()

    def reportError(self, error: str, fatalError: bool = False) -> None:  # noqa: N802, N803
        self.errors.append(error)

    def gaps(self, until: float) -> list[tuple[float, str]]:
        """The longest times between two questions, and who asked at the end of each."""
        times = [*self.asked, until]
        places = [*self.where[1:], "end"]
        gaps = [(b - a, place) for a, b, place in zip(times, times[1:], places)]
        return sorted(gaps, reverse=True)


def registered(style=None):
    """The provider in this process's host."""
    from roomtie.processing.provider import RoomtieProvider

    provider = RoomtieProvider(style)
    QgsApplication.processingRegistry().addProvider(provider)
    return provider


def tried(provider, name: str, parameters: dict, feedback: Asked | None = None) -> dict:
    """How a run of an algorithm ended."""
    feedback = feedback or Asked()
    algorithm = provider.algorithm(name).create()
    context = QgsProcessingContext()
    can, why = algorithm.canExecute()
    if not can:
        return {"ended": "cannot", "sentence": why}
    good, why = algorithm.checkParameterValues(parameters, context)
    if not good:
        return {"ended": "refused", "sentence": why}
    results: dict = {}
    try:
        results, good = algorithm.run(parameters, context, feedback, {}, False)
        ended = "cancelled" if feedback.isCanceled() and not results else "done"
        sentence = ""
    except QgsProcessingException as error:
        ended, sentence = "refused", str(error)
    except BaseException as error:  # noqa: BLE001 - whatever it is, it is what we look for
        ended, sentence = "traceback", f"{type(error).__name__}: {error}"
        traceback.print_exc()
    end = time.monotonic()
    said = {
        "ended": ended,
        "sentence": sentence,
        "took": end - feedback.begun,
        "gaps": feedback.gaps(end)[:5],
    }
    gaps = [gap for gap, _ in feedback.gaps(end)]
    said["expected_wait"] = sum(g * g for g in gaps) / 2 / max(sum(gaps), 1e-9)
    if feedback.instant is not None:
        said["latency"] = end - feedback.instant
    said["results"] = {k: v for k, v in results.items() if isinstance(v, (str, int, float))}
    return said


def finished(provider, name: str, parameters: dict) -> dict:
    """The results of a run that is to come to its end."""
    said = tried(provider, name, parameters)
    assert said["ended"] == "done", said
    return said["results"]


def started_host() -> tuple:
    """A host without windows, and the provider in it."""
    application = QgsApplication([], False)
    application.initQgis()
    return application, registered()


if __name__ == "__main__":
    name, parameters, *rest = sys.argv[1:]
    application, provider = started_host()
    print("ready", flush=True)
    said = tried(provider, name, json.loads(parameters), Asked(float(rest[0]) if rest else None))
    print(json.dumps(said), flush=True)
    application.exitQgis()
