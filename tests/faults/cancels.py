# SPDX-License-Identifier: GPL-2.0-or-later
"""Cancels runs at random instants and measures how long each takes to end.

Usage: cancels.py COUNT [--seed N] [--data CAPTURES] [ALGORITHM…]    (with the host's Python)

With `--data`, the survey of that folder is imported, adjusted and drawn (Plan from captures only).
An instant counts from the start of the run, in seconds of this process's own work, which other
programs on the machine do not lengthen, and so does the time to the end; another seed draws other
instants. What was left in the folder is compared with what was there before.
"""

from __future__ import annotations

import argparse
import random
import shutil
import tempfile
import time
from functools import partial
from pathlib import Path

import numpy as np
from in_the_host import Asked, finished, started_host, tried
from jobs import WRITING, Jobs, contents


class Timed(Asked):
    """Says stop from an instant of the process's own time on."""

    def __init__(self, after=None):
        super().__init__()
        self.start = time.process_time()
        self.stop = None if after is None else self.start + after
        self.times = []

    def isCanceled(self):  # noqa: N802 - the host's name
        now = time.process_time()
        self.times.append(now)
        if self.stop is not None and now >= self.stop:
            self.cancel()
        return super().isCanceled()


def main(count, names, data=None, seed=11):
    application, provider = started_host()
    luck = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        jobs = Jobs(Path(folder) / "inputs", partial(finished, provider))
        place = Path(folder) / "place"
        for name in names:
            given = {"INPUT": data} if data else {}

            def fresh(name=name, given=given):
                shutil.rmtree(place, ignore_errors=True)
                place.mkdir()
                return jobs.lay(name, place), {**jobs.parameters(name, place), **given}

            _, parameters = fresh()
            whole = Timed()
            said = tried(provider, name, parameters, whole)
            assert said["ended"] == "done", said
            lasts = time.process_time() - whole.start
            gaps = np.diff([whole.start, *whole.times])
            waits, left, heard = [], 0, 0
            for _ in range(count):
                before, parameters = fresh()
                instant = luck.uniform(0.0, lasts)
                feedback = Timed(instant)
                said = tried(provider, name, parameters, feedback)
                own = time.process_time() - feedback.start - instant
                if said["ended"] == "done":
                    continue
                heard += 1
                waits.append(own)
                left += contents(place) != before or said["ended"] != "cancelled"
            waits = np.array(waits or [np.nan])
            print(
                f"{name}: {lasts:.2f} s, longest time between questions {gaps.max():.2f} s; "
                f"{heard} of {count} cancelled, something left {left} times; to the end: median "
                f"{np.median(waits):.3f}, 95 % {np.quantile(waits, 0.95):.3f}, "
                f"longest {waits.max():.3f} s",
                flush=True,
            )
    application.exitQgis()


if __name__ == "__main__":
    words = argparse.ArgumentParser()
    words.add_argument("count", type=int)
    words.add_argument("--seed", type=int, default=11)
    words.add_argument("--data")
    words.add_argument("algorithms", nargs="*")
    said = words.parse_intermixed_args()
    names = said.algorithms or (["planfromcaptures"] if said.data else WRITING)
    main(said.count, names, said.data, said.seed)
