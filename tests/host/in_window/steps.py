# SPDX-License-Identifier: GPL-2.0-or-later
"""Runs a script inside the host's window, step by step, while the window goes on living.

A script is a generator function of this folder's module named in ``ROOMTIE_SCRIPT``: it does
something a person would do and yields what to wait for, seconds or a condition. What it puts into
its dictionary is written to the file that ``ROOMTIE_RESULT`` names, and the host ends.
"""

from __future__ import annotations

import importlib
import json
import os
import time
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path

from qgis.PyQt.QtCore import QTimer
from qgis.utils import iface

LONGEST_WAIT = 120.0
Wait = float | Callable[[], bool]
Script = Callable[[dict], Iterator[Wait]]


class Heartbeat:
    """The longest time for which the window's thread did not come back to its events; `own` is the
    most that it worked itself meanwhile, whatever else the machine had to do."""

    def __init__(self) -> None:
        self.timer = QTimer()
        self.timer.timeout.connect(self.beat)
        self.longest = self.own = 0.0
        self.last, self.worked = time.perf_counter(), time.thread_time()

    def start(self) -> None:
        self.longest = self.own = 0.0
        self.last, self.worked = time.perf_counter(), time.thread_time()
        self.timer.start(5)

    def beat(self) -> None:
        now, worked = time.perf_counter(), time.thread_time()
        self.longest, self.last = max(self.longest, now - self.last), now
        self.own, self.worked = max(self.own, worked - self.worked), worked

    def stop(self) -> float:
        self.beat()
        self.timer.stop()
        return self.longest


class Player:
    """Plays a script to its end."""

    def __init__(self, script: Script) -> None:
        self.result: dict = {}
        self.steps = script(self.result)
        self.wait: Wait = 0.0
        self.since = time.monotonic()
        self.timer = QTimer()
        self.timer.timeout.connect(self.tick)
        self.timer.start(50)

    def tick(self) -> None:
        waited = time.monotonic() - self.since
        try:
            if callable(self.wait):
                if not self.wait():
                    if waited > LONGEST_WAIT:
                        raise TimeoutError(f"waited {waited:.0f} s")
                    return
            elif waited < self.wait:
                return
            self.timer.stop()  # a step may open a window with an event loop of its own
            self.wait = next(self.steps)
            self.since = time.monotonic()
            self.timer.start(50)
        except StopIteration:
            self.end()
        except Exception:  # noqa: BLE001 - whatever it is, the test tells it
            self.result["error"] = traceback.format_exc()
            self.end()

    def end(self) -> None:
        Path(os.environ["ROOMTIE_RESULT"]).write_text(json.dumps(self.result, default=str))
        os._exit(0)  # no question about unsaved work


def picture(name: str) -> None:
    """A picture of the window into the folder that ROOMTIE_PICTURES names, where one does."""
    folder = os.environ.get("ROOMTIE_PICTURES")
    if folder:
        iface.mainWindow().grab().save(str(Path(folder) / f"{name}.png"))


def begin() -> Player:
    """Play the script that the environment names, once the window stands."""
    return Player(importlib.import_module(os.environ["ROOMTIE_SCRIPT"]).script)
