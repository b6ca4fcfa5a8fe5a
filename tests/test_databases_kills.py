# SPDX-License-Identifier: GPL-2.0-or-later
"""Databases with journals of both kinds, kept beside, and killed while they are written over."""

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest
from moments import Moments
from roomtie.processing.databases import closed_for_good, copied, written_over
from roomtie.processing.files import all_or_nothing, before_of

ROOT = Path(__file__).resolve().parent.parent
KILLS = int(os.environ.get("ROOMTIE_KILLS", "12"))
CHILD = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[1])
import importlib.util
spec = importlib.util.spec_from_file_location(
    "roomtie", sys.argv[1] + "/__init__.py", submodule_search_locations=[sys.argv[1]]
)
module = importlib.util.module_from_spec(spec)
sys.modules["roomtie"] = module
spec.loader.exec_module(module)
from roomtie.processing.files import all_or_nothing
import shutil
plan, new = Path(sys.argv[2]), Path(sys.argv[3])
print("ready", flush=True)
with all_or_nothing([plan]) as draft:
    shutil.copy(new, draft(plan))
    draft(plan.with_suffix(".html")).write_text("new")
print("done", flush=True)
"""


def filled(path, word, rows=200, journal="DELETE"):
    with closing(sqlite3.connect(path)) as database:
        database.execute(f"PRAGMA journal_mode = {journal}")
        database.execute("CREATE TABLE t (word TEXT, filler BLOB)")
        database.executemany(
            "INSERT INTO t VALUES (?, ?)",
            [(word, random.Random(i).randbytes(900)) for i in range(rows)],
        )
        database.commit()
    return path


def words(path):
    with closing(sqlite3.connect(path)) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return {word for (word,) in database.execute("SELECT word FROM t")}


def names(folder):
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.parametrize("journal", ["DELETE", "WAL"])
def test_a_copy_leaves_no_trace(tmp_path, journal):
    source = filled(tmp_path / "a.gpkg", "old", journal=journal)
    before, there = source.read_bytes(), names(tmp_path)
    copied(source, tmp_path / "b.gpkg")
    assert words(tmp_path / "b.gpkg") == {"old"}
    closed_for_good(tmp_path / "b.gpkg")
    assert source.read_bytes() == before and names(tmp_path) == [*there, "b.gpkg"]


def test_a_copy_has_what_another_connection_has_just_written(tmp_path):
    source = filled(tmp_path / "a.gpkg", "old", journal="WAL")
    with closing(sqlite3.connect(source)) as other:
        other.execute("UPDATE t SET word = 'newer'")
        other.commit()  # in the journal, not yet in the file
        copied(source, tmp_path / "b.gpkg")
    assert words(tmp_path / "b.gpkg") == {"newer"}


@pytest.mark.parametrize("journal", ["DELETE", "WAL"])
def test_those_who_have_it_open_see_the_new_one(tmp_path, journal):
    path = filled(tmp_path / "a.gpkg", "old", journal=journal)
    with closing(sqlite3.connect(path)) as other:
        assert other.execute("SELECT DISTINCT word FROM t").fetchall() == [("old",)]
        written_over(path, filled(tmp_path / "new.gpkg", "new", rows=77))
        assert other.execute("SELECT DISTINCT word FROM t").fetchall() == [("new",)]
        assert other.execute("SELECT count(*) FROM t").fetchall() == [(77,)]
    assert words(path) == {"new"}


def test_the_last_version_is_kept_beside(tmp_path):
    path = filled(tmp_path / "plan.gpkg", "old")
    for word, kept in (("second", "old"), ("third", "second")):
        with all_or_nothing([path]) as draft:
            filled(draft(path), word)
        assert words(path) == {word} and words(before_of(path)) == {kept}
    assert names(tmp_path) == ["plan.before.gpkg", "plan.gpkg"]


def test_a_failure_leaves_all_as_it_was(tmp_path):
    path = filled(tmp_path / "plan.gpkg", "old")
    before = path.read_bytes()
    with pytest.raises(RuntimeError), all_or_nothing([path]) as draft:
        filled(draft(path), "new")
        raise RuntimeError
    assert path.read_bytes() == before and names(tmp_path) == ["plan.gpkg"]


def test_it_is_old_or_new_after_every_kill(tmp_path):
    old = filled(tmp_path / "old.gpkg", "old", rows=4000)
    new = filled(tmp_path / "new.gpkg", "new", rows=4500)

    def started(path):
        child = subprocess.Popen(
            [sys.executable, "-c", CHILD, str(ROOT), str(path), str(new)],
            stdout=subprocess.PIPE,
            text=True,
            cwd="/",
        )
        assert child.stdout.readline() == "ready\n"
        return child

    def fresh(name):
        folder = tmp_path / name
        folder.mkdir()
        path = folder / "plan.gpkg"
        path.write_bytes(old.read_bytes())
        return path

    child = started(fresh("whole"))
    begun = time.monotonic()
    assert child.communicate()[0] == "done\n"
    lasts = time.monotonic() - begun
    moments = Moments(lasts, KILLS, seed=7)
    found = set()
    for number, moment in enumerate(moments):
        path = fresh(str(number))
        child = started(path)
        time.sleep(moment)
        child.send_signal(signal.SIGKILL)
        child.communicate()
        found |= (state := words(path))
        moments.came(early=state == {"old"})
        assert state in ({"old"}, {"new"})
    assert "old" in found  # some were killed before the end


KILLED_WRITER = """
import os, signal, sqlite3, sys
database = sqlite3.connect(sys.argv[1], isolation_level=None)
database.execute("PRAGMA cache_size = 2")
database.execute("BEGIN")
database.execute("UPDATE t SET word = 'new'")
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_what_a_killed_writer_left_half_done_is_not_copied(tmp_path):
    path = filled(tmp_path / "plan.gpkg", "old")
    subprocess.run([sys.executable, "-c", KILLED_WRITER, str(path)], check=False)
    assert (tmp_path / "plan.gpkg-journal").stat().st_size > 0
    copied(path, tmp_path / "copy.gpkg")
    assert words(tmp_path / "copy.gpkg") == {"old"}


@pytest.mark.parametrize("journal", ["DELETE", "WAL"])
def test_a_copy_leaves_nothing_beside(tmp_path, journal):
    path = filled(tmp_path / "plan.gpkg", "old", journal=journal)
    copied(path, tmp_path / "copy.gpkg")
    assert sorted(file.name for file in tmp_path.iterdir()) == ["copy.gpkg", "plan.gpkg"]
