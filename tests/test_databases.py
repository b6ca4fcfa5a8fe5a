# SPDX-License-Identifier: GPL-2.0-or-later
"""Databases that others have open: copied, written over, or left as they were."""

import sqlite3
from contextlib import closing

import pytest
from roomtie.processing import databases
from roomtie.processing.databases import copied, written_over
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.progress import Progress


def made(path, value, rows=2000):
    with closing(sqlite3.connect(path)) as file, file:
        file.execute("CREATE TABLE t (value TEXT, filler BLOB)")
        file.executemany("INSERT INTO t VALUES (?, zeroblob(4000))", [(value,)] * rows)
    return path


def values(path):
    with closing(sqlite3.connect(path)) as file:
        return file.execute("SELECT value, count(*) FROM t GROUP BY value").fetchall()


@pytest.fixture
def files(tmp_path):
    return made(tmp_path / "old.gpkg", "old"), made(tmp_path / "new.gpkg", "new", rows=1500)


def test_one_that_somebody_has_open_is_written_over_and_they_see_it(files):
    old, new = files
    with closing(sqlite3.connect(old)) as reader:
        assert reader.execute("SELECT max(value) FROM t").fetchone() == ("old",)
        written_over(old, new)
        assert reader.execute("SELECT max(value) FROM t").fetchone() == ("new",)
    assert values(old) == [("new", 1500)]


@pytest.mark.parametrize("lock", ["BEGIN IMMEDIATE", "BEGIN; SELECT count(*) FROM t"])
def test_one_that_somebody_writes_or_goes_on_reading_is_left_in_time(files, monkeypatch, lock):
    old, new = files
    monkeypatch.setattr(databases, "PATIENCE_S", 0.3)
    with closing(sqlite3.connect(old, isolation_level=None)) as other:
        for statement in lock.split(";"):
            other.execute(statement).fetchall()
        with pytest.raises(SurveyError, match=r"old.gpkg: could not be written \(.*as it was"):
            written_over(old, new)
    assert values(old) == [("old", 2000)]


def test_a_cancel_in_the_middle_leaves_it_as_it_was(files):
    old, new = files
    asked = []
    progress = Progress(cancelled=lambda: len(asked) > 3, moved=asked.append)
    with pytest.raises(Cancelled):
        written_over(old, new, progress)
    assert 0.0 < max(asked) < 1.0
    assert values(old) == [("old", 2000)]


@pytest.mark.parametrize("after", range(9))
def test_a_cancel_at_any_time_leaves_it_as_it_was_or_comes_too_late(files, after):
    old, new = files
    before, wanted = values(old), values(new)
    asked = []
    progress = Progress(cancelled=lambda: asked.append(1) or len(asked) > after)
    try:
        written_over(old, new, progress)
    except Cancelled:
        assert values(old) == before
    else:
        assert values(old) == wanted


def test_a_copy_is_the_state_of_one_instant_and_changes_nothing(files, tmp_path):
    old, _ = files
    before = old.read_bytes()
    copied(old, tmp_path / "copy.gpkg")
    assert values(tmp_path / "copy.gpkg") == [("old", 2000)]
    assert old.read_bytes() == before


def test_one_that_somebody_is_writing_is_not_copied_half_way(files, tmp_path, monkeypatch):
    old, _ = files
    monkeypatch.setattr(databases, "PATIENCE_S", 0.3)
    with closing(sqlite3.connect(old, isolation_level=None)) as other:
        other.execute("PRAGMA cache_size = 2")
        other.execute("BEGIN EXCLUSIVE")
        other.execute("UPDATE t SET value = 'half'")
        with pytest.raises(SurveyError, match=r"old.gpkg: could not be read \(it is in use\)"):
            copied(old, tmp_path / "copy.gpkg")


def test_what_is_no_database_is_told(tmp_path):
    path = tmp_path / "no.gpkg"
    path.write_text("Dear reader")
    with pytest.raises(SurveyError, match=r"no.gpkg: could not be read"):
        copied(path, tmp_path / "copy.gpkg")
