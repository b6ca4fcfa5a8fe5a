# SPDX-License-Identifier: GPL-2.0-or-later
"""What a building's results were made of, and who works at them."""

import csv
import multiprocessing
import shutil

import pytest
from roomtie.processing.many import work
from roomtie.processing.many.state import (
    DONE,
    FAILED,
    NOT_YET,
    STATE,
    State,
    alone,
    forget_state,
    key_of,
    read_state,
    write_state,
)
from roomtie.processing.many.summary import write_summary
from roomtie.processing.many.tree import Building, find_buildings
from roomtie.processing.many.work import BROKEN, Job, work_on


@pytest.fixture
def tree(tmp_path):
    folder = tmp_path / "tree" / "a"
    (folder / "captures").mkdir(parents=True)
    (folder / "captures" / "S01.csv").write_text("one")
    (folder / "control.csv").write_text("control")
    return folder.parent


def key(tree, version="1", **more):
    (building,) = find_buildings(tree)
    return key_of(building, {"planfromcaptures": {**building.parameters(), **more}}, version)


def test_every_change_of_what_a_plan_depends_on_is_noticed(tree):
    captures = tree / "a" / "captures"
    seen = [key(tree), key(tree, "2"), key(tree, SQUARE="never"), key(tree, SQUARE="within")]
    (captures / "S01.csv").write_text("two")
    seen.append(key(tree))
    (captures / "S02.csv").write_text("two")
    seen.append(key(tree))
    (captures / "S02.csv").rename(captures / "S03.csv")
    seen.append(key(tree))
    (tree / "a" / "control.csv").write_text("better")
    seen.append(key(tree))
    outline = tree.parent / "outline.gpkg"
    outline.write_text("outline")
    seen.append(key(tree, FOOTPRINT=f"{outline}|layername=x"))
    outline.write_text("another")
    seen.append(key(tree, FOOTPRINT=f"{outline}|layername=x"))
    assert len(set(seen)) == len(seen)


def test_where_the_tree_lies_does_not_matter(tree, tmp_path):
    before = key(tree)
    (tree / "a" / ".notes.csv").write_text("no input")
    shutil.move(tree, tmp_path / "elsewhere")
    assert key(tmp_path / "elsewhere") == before


def test_a_state_comes_back_and_what_is_none_counts_as_none(tmp_path):
    state = State(DONE, "key", "said", 1.5, "2026-04-21T09:06:00+00:00")
    write_state(tmp_path, state)
    assert read_state(tmp_path) == state
    assert [path.name for path in tmp_path.iterdir()] == ["state.json"]
    for text in ("", "[]", '{"status": "done", "colour": 1}', "{"):
        (tmp_path / "state.json").write_text(text)
        assert read_state(tmp_path).status == NOT_YET
    forget_state(tmp_path)
    forget_state(tmp_path)
    assert read_state(tmp_path) == State()


def _holds(folder, ready, go):
    with alone(folder) as mine:
        ready.put(mine)
        go.wait(30)


def test_one_at_a_time(tmp_path):
    context = multiprocessing.get_context("fork")
    ready, go = context.Queue(), context.Event()
    child = context.Process(target=_holds, args=(tmp_path, ready, go))
    child.start()
    assert ready.get(timeout=30)
    with alone(tmp_path) as mine:
        assert not mine
    child.kill()  # a lock ends with its process
    child.join()
    with alone(tmp_path) as mine:
        assert mine


def test_captures_that_cannot_be_read_are_a_failure_that_is_kept(tree, tmp_path, monkeypatch):
    def refused(*_):
        raise PermissionError(13, "Permission denied", "S01.csv")

    (building,) = find_buildings(tree)
    results = tmp_path / "results"
    folder = results / building.name
    folder.mkdir(parents=True)
    write_state(folder, State(DONE, "key of better days"))
    monkeypatch.setattr(work, "key_of", refused)
    assert work_on(building, Job(results, "true", {}, "1", 1.0)).word == BROKEN
    state = read_state(folder)
    assert state.status == FAILED and "Permission denied" in state.message


@pytest.mark.parametrize("name", ["=1+1", "+a", "-a", "@SUM(A1)", "\tx", "a=1"])
def test_a_name_is_no_formula_in_the_summary(tmp_path, name):
    """A spreadsheet works out a cell that begins so (OWASP, "CSV Injection")."""
    (tmp_path / "tree" / name / "captures").mkdir(parents=True)
    results = tmp_path / "results"
    results.mkdir()
    write_summary(
        [Building(name, tmp_path / "tree" / name, tmp_path / "tree" / name / "captures")], results
    )
    with (results / "summary.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["building"].lstrip("'") == name
    assert row["building"][0] not in "=+-@\t\r"


def test_a_state_nested_too_deep_counts_as_none(tmp_path):
    (tmp_path / STATE).write_text("[" * 200_000)
    assert read_state(tmp_path) == State()
