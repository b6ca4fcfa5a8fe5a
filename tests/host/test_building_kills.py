# SPDX-License-Identifier: GPL-2.0-or-later
"""An update that is killed with SIGKILL at some instant leaves the old layer or the new one."""

import hashlib
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import shapely
from building_layers import building_file, run_sql
from moments import Moments

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
ROOMS = 400
KILLS = int(os.environ.get("ROOMTIE_KILLS", "10"))
SPILLING = {"OGR_SQLITE_PRAGMA": "cache_size=5"}


def started(kind, place, **environment):
    child = subprocess.Popen(
        [sys.executable, str(HERE / "update_in_a_process.py"), str(ROOT), kind, str(place)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd="/",
        env={**os.environ, **environment},
    )
    assert child.stdout.readline() == "ready\n", child.stderr.read()
    return child


def state_of(path):
    """A digest of all rows of a GeoPackage's rooms and their history, and whether it is sound."""
    # GDAL opens it first, as the next user would: that rolls a hot journal back.
    (sound,) = run_sql(path, "PRAGMA integrity_check")
    assert sound == ("ok",)
    with sqlite3.connect(path) as database:
        rows = database.execute("SELECT * FROM raeume ORDER BY fid").fetchall()
        there = database.execute(
            "SELECT count(*) FROM sqlite_master WHERE name = 'raeume_history'"
        ).fetchone()[0]
        old = database.execute("SELECT nummer FROM raeume_history").fetchall() if there else []
        indexed = database.execute("SELECT count(*) FROM rtree_raeume_geom").fetchone()[0]
    assert indexed == len(rows)
    return hashlib.sha256(repr((rows, old)).encode()).hexdigest()


def test_a_geopackage_is_old_or_new_after_every_kill(tmp_path, qgis_app):
    rooms = {
        f"{i:04d}": shapely.box(5 * (i % 20), 5 * (i // 20), 5 * (i % 20) + 4, 5 * (i // 20) + 4)
        for i in range(ROOMS)
    }
    clean = tmp_path / "clean.gpkg"
    building_file(clean, rooms)
    whole = tmp_path / "whole.gpkg"
    shutil.copy(clean, whole)
    # A small cache spills into the file long before the commit, as a large update would.
    child = started("gpkg", whole, **SPILLING)
    begun = time.monotonic()
    assert child.communicate()[0] == "done\n"
    lasts = time.monotonic() - begun
    old, new = state_of(clean), state_of(whole)
    assert old != new
    moments = Moments(lasts, KILLS, seed=8)
    found, journals = [], 0
    for number, moment in enumerate(moments):
        path = tmp_path / f"{number}.gpkg"
        shutil.copy(clean, path)
        child = started("gpkg", path, **SPILLING)
        time.sleep(moment)
        child.send_signal(signal.SIGKILL)
        said = child.communicate()[0]
        journal = path.with_name(f"{number}.gpkg-journal").exists()
        journals += journal
        found.append(state_of(path))
        moments.came(early=journal)
        assert found[-1] in (old, new)
        # What was told as done is there.
        assert found[-1] == new or said == ""
    print(
        f"{len(found)} kills: {found.count(old)} old, {found.count(new)} new, {journals} journals"
    )
    assert old in found, "no kill came before the commit"
    assert journals, "no kill left a journal to roll back"
