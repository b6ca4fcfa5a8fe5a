# SPDX-License-Identifier: GPL-2.0-or-later
"""Kills runs with SIGKILL at random instants of their writing, over outputs of an earlier run.

Usage: kills.py COUNT [--seed N] [ALGORITHM…]    (with the host's Python)

Prints what each file was afterwards: `old`, `whole` (a GeoPackage: sound), or what must not be:
`lost`, `part`. Hidden drafts that a killed run left are counted by themselves. Another seed draws
other instants.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import closing
from functools import partial
from pathlib import Path

from in_the_host import finished, started_host
from jobs import WRITING, Jobs, contents

HERE = Path(__file__).resolve().parent


def started(jobs, name, place):
    child = subprocess.Popen(
        [
            sys.executable,
            str(HERE / "in_the_host.py"),
            name,
            json.dumps(jobs.parameters(name, place)),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert child.stdout.readline() == "ready\n"
    return child


def listing(place):
    found = {}
    for folder, _, files in os.walk(place):
        for file in files:
            try:
                found[folder, file] = os.stat(Path(folder, file)).st_mtime_ns
            except FileNotFoundError:
                found[folder, file] = 0
    return found


def writing_begun(place, before, child):
    while child.poll() is None and listing(place) == before:
        time.sleep(0.001)


def laid(jobs, name, place):
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir()
    jobs.lay(name, place)
    for path in map(Path, jobs.outputs(name, place).values()):
        if path.suffix == ".gpkg":
            shutil.copy(jobs.folder / "rooms.gpkg", path)
        else:
            path.write_bytes(b"of an earlier run")
    return contents(place)


def state(place, name, old, new):
    """What became of a file that held `old` and holds `new` now."""
    if new is None:
        return "lost" if old is not None else "not there"
    if new == old:
        return "old"
    path = place / name
    if path.suffix == ".gpkg":
        try:
            with closing(sqlite3.connect(path)) as database:
                sound = database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        except sqlite3.Error:
            sound = False
        return "whole" if sound else "part"
    ends = {".html": b"</html>", ".json": b"}", ".pdf": b"%%EOF", ".dxf": b"EOF"}
    end = ends.get(path.suffix)
    return "whole" if end is None or new.rstrip().endswith(end) else "part"


def main(count, names, seed):
    application, provider = started_host()
    luck = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        jobs = Jobs(Path(folder) / "inputs", partial(finished, provider))
        place = Path(folder) / "place"
        for name in names:
            laid(jobs, name, place)
            child = started(jobs, name, place)
            writing_begun(place, listing(place), child)
            begun = time.monotonic()
            child.communicate()
            lasts = time.monotonic() - begun
            found: Counter = Counter()
            for _ in range(count):
                before = laid(jobs, name, place)
                child = started(jobs, name, place)
                writing_begun(place, listing(place), child)
                time.sleep(luck.uniform(0.0, lasts))
                child.send_signal(signal.SIGKILL)
                child.communicate()
                after = contents(place)
                hidden = [one for one in after if one.startswith(".")]
                found["killed runs that left a hidden draft"] += bool(hidden)
                journals = {one for one in after if one.endswith(("-journal", "-wal", "-shm"))}
                found["journals to roll back"] += bool(journals - {*hidden})
                for one in {*before, *after} - {*hidden} - journals:
                    found[state(place, one, before.get(one), after.get(one))] += 1
            print(name, dict(found), flush=True)
    application.exitQgis()


if __name__ == "__main__":
    words = argparse.ArgumentParser()
    words.add_argument("count", type=int)
    words.add_argument("--seed", type=int, default=5)
    words.add_argument("algorithms", nargs="*")
    said = words.parse_intermixed_args()
    main(said.count, said.algorithms or WRITING, said.seed)
