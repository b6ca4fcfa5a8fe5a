# SPDX-License-Identifier: GPL-2.0-or-later
import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest
from roomtie.processing import databases
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.files import all_or_nothing, before_of, scratch_folder
from roomtie.processing.progress import Progress


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_all_files_appear_together(tmp_path):
    with all_or_nothing() as draft:
        draft(tmp_path / "a.html").write_text("a")
        draft(tmp_path / "new" / "b.json").write_text("b")
        assert not (tmp_path / "a.html").exists()
    assert names(tmp_path) == ["a.html", "new"]
    assert (tmp_path / "new" / "b.json").read_text() == "b"


def test_a_failure_leaves_what_was_there(tmp_path):
    (tmp_path / "a.html").write_text("old")
    with pytest.raises(RuntimeError, match="later"), all_or_nothing() as draft:
        draft(tmp_path / "a.html").write_text("new")
        draft(tmp_path / "b.gpkg").write_text("new")
        (tmp_path / (draft(tmp_path / "b.gpkg").name + "-wal")).write_text("companion")
        raise RuntimeError("later")
    assert names(tmp_path) == ["a.html"]
    assert (tmp_path / "a.html").read_text() == "old"


def test_a_draft_that_was_not_written_fails_all(tmp_path):
    with (
        pytest.raises(SurveyError, match=r"b\.json: nothing was written"),
        all_or_nothing() as draft,
    ):
        draft(tmp_path / "a.html").write_text("a")
        draft(tmp_path / "b.json")
    assert names(tmp_path) == []


def test_a_place_that_cannot_be_written_is_named(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(SurveyError, match=r"file.*could not be written"), all_or_nothing() as draft:
        draft(tmp_path / "file" / "a.html").write_text("a")


def test_the_place_is_named_and_not_its_draft(tmp_path):
    with pytest.raises(SurveyError, match=r"/a\.html: could not be written"):  # noqa: SIM117
        with all_or_nothing() as draft:
            draft(tmp_path / "a.html").mkdir()
            draft(tmp_path / "a.html").write_text("a")


LEFT = """
import os, sqlite3, sys
database = sqlite3.connect(sys.argv[1])
database.execute(f"PRAGMA journal_mode = {sys.argv[2]}")
database.execute("CREATE TABLE old (word)")
database.executemany("INSERT INTO old VALUES (?)", [("x" * 900,)] * 500)
database.commit()
database.execute("PRAGMA cache_size = 5")
database.execute("UPDATE old SET word = 'y' || word")
if sys.argv[2] == "WAL":
    database.commit()
os._exit(9)
"""
"""Writes a database and ends like a program that is killed."""


@pytest.mark.parametrize("journal", ["WAL", "DELETE"])
def test_a_journal_that_was_left_does_not_spoil_a_new_database(tmp_path, journal):
    path = tmp_path / "plan.gpkg"
    subprocess.run([sys.executable, "-c", LEFT, str(path), journal], check=False)
    assert len(names(tmp_path)) > 1  # the journal
    with all_or_nothing() as draft:
        with closing(sqlite3.connect(draft(path))) as database:
            database.execute("CREATE TABLE new (word)")
            database.commit()
        draft(tmp_path / "plan.html").write_text("new")
    with closing(sqlite3.connect(path)) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert database.execute("SELECT name FROM sqlite_master").fetchall() == [("new",)]


def test_another_writer_keeps_all_as_it_was(tmp_path, monkeypatch):
    monkeypatch.setattr(databases, "PATIENCE_S", 0.2)
    path, report = tmp_path / "plan.gpkg", tmp_path / "plan.html"
    report.write_text("old")
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE old (word)")
        other.commit()
        other.execute("BEGIN IMMEDIATE")
        other.execute("INSERT INTO old VALUES ('being written')")
        with (
            pytest.raises(
                SurveyError, match=r"plan\.gpkg: could not be written .*no other program"
            ),
            all_or_nothing() as draft,
        ):
            draft(report).write_text("new")
            with closing(sqlite3.connect(draft(path))) as database:
                database.execute("CREATE TABLE new (word)")
                database.commit()
        other.commit()
        assert other.execute("SELECT word FROM old").fetchall() == [("being written",)]
    assert report.read_text() == "old" and names(tmp_path) == ["plan.gpkg", "plan.html"]


def made(path, word):
    with closing(sqlite3.connect(path)) as file, file:
        file.execute("CREATE TABLE t (word, filler)")
        file.executemany("INSERT INTO t VALUES (?, zeroblob(4000))", [(word,)] * 1500)
    return path


@pytest.mark.parametrize("kept", [True, False])
def test_a_cancel_while_files_are_copied_leaves_all_as_it_was(tmp_path, kept):
    path, page = made(tmp_path / "plan.gpkg", "old"), tmp_path / "plan.html"
    made(before_of(path), "older")
    page.write_text("old")
    before = {name: (tmp_path / name).read_bytes() for name in names(tmp_path)}
    asked = []
    progress = Progress(cancelled=lambda: len(asked) > 4, moved=asked.append)
    with pytest.raises(Cancelled), all_or_nothing([path] if kept else [], progress) as draft:
        draft(page).write_text("new")
        made(draft(path), "new")
    assert 0.0 < max(asked) < 1.0
    assert {name: (tmp_path / name).read_bytes() for name in names(tmp_path)} == before


def test_a_scratch_folder_goes_with_its_block(tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with pytest.raises(RuntimeError), scratch_folder() as folder:
        assert folder.parent == tmp_path
        (folder / "copy.gpkg").write_text("x")
        raise RuntimeError
    assert names(tmp_path) == []
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "none"))
    with pytest.raises(SurveyError, match=r"none.*no folder for temporary files could be made"):  # noqa: SIM117
        with scratch_folder():
            pass
