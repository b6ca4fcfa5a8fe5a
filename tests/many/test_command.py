# SPDX-License-Identifier: GPL-2.0-or-later
"""The command over a tree: what is done again, what fails, what happens when it is stopped."""

import csv
import json
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest
from roomtie.plugin import build_zip

sys.path.append(str(Path(__file__).resolve().parent))
from trees import Tree

KILLS = int(os.environ.get("ROOMTIE_KILLS", "6"))


@pytest.fixture
def tree(tmp_path):
    return Tree(tmp_path)


def summary(tree):
    with (tree.results / "summary.csv").open(encoding="utf-8", newline="") as file:
        return {row["building"]: row for row in csv.DictReader(file)}


def alive(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


def test_what_is_done_is_not_done_again(tree):
    code, said = tree.run("--set", "SQUARE=never", "--jobs", "2")
    assert code == 0, said
    assert sorted(tree.calls()) == ["a", "b", "c"]
    assert "3 made" in said
    code, said = tree.run("--set", "SQUARE=never")
    assert code == 0 and "3 kept" in said
    assert len(tree.calls()) == 3
    (tree.surveys / "b" / "captures" / "S01.csv").write_text("measured again")
    assert tree.run("--set", "SQUARE=never")[0] == 0
    assert tree.calls()[3:] == ["b"]
    assert "measured again" in (tree.results / "b" / "b.gpkg").read_text()
    assert tree.run("--set", "SQUARE=within tolerance")[0] == 0
    assert sorted(tree.calls()[4:]) == ["a", "b", "c"]
    assert tree.run("--set", "SQUARE=within tolerance", "--again")[0] == 0
    assert len(tree.calls()) == 10
    (tree.results / "c" / "c.gpkg").unlink()
    assert tree.run("--set", "SQUARE=within tolerance")[0] == 0
    assert tree.calls()[10:] == ["c"]


def test_the_summary_tells_of_every_building(tree):
    tree.add("late", "slow.csv")
    tree.run("--part", "1/2")
    rows = summary(tree)
    assert {name: row["status"] for name, row in rows.items()} == {
        **{"a": "done", "b": "not yet"},
        **{"c": "done", "late": "not yet"},
    }
    first = rows["a"]
    assert (first["stations"], first["rooms"], first["area_m2"]) == ("2", "2", "15.50")
    assert (first["sigma_position_m"], first["warnings"]) == ("0.020", "1")
    page = (tree.results / "summary.html").read_text("utf-8")
    assert '<a href="a/a.html">a</a>' in page and "not yet" in page


def test_a_broken_building_stops_nobody(tree):
    tree.add("bad", "broken.csv")
    code, said = tree.run()
    assert code == 1 and "3 made" in said and "1 failed" in said
    row = summary(tree)["bad"]
    assert row["status"] == "failed"
    assert row["message"].endswith("bad/captures: the folder holds no captures.")
    # Both streams of the host are kept; which of them comes first is its buffers' business.
    log = (tree.results / "bad" / "run.log").read_text().splitlines()
    assert "Inputs" in log
    assert any(line.endswith("the folder holds no captures.") for line in log)
    assert not (tree.results / "bad" / "bad.gpkg").exists()
    tree.run()
    assert Counter(tree.calls("begin")) == {"a": 1, "b": 1, "c": 1, "bad": 2}
    code, said = tree.run("--skip-failed")
    assert code == 1 and tree.calls("begin").count("bad") == 2
    (tree.surveys / "bad" / "captures" / "broken.csv").unlink()
    assert tree.run("--skip-failed")[0] == 0


def test_a_plan_that_cannot_be_made_again_stays_as_it_was(tree):
    tree.run()
    before = (tree.results / "a" / "a.gpkg").read_text()
    (tree.surveys / "a" / "captures" / "broken.csv").write_text("x")
    assert tree.run()[0] == 1
    assert (tree.results / "a" / "a.gpkg").read_text() == before
    assert summary(tree)["a"]["status"] == "failed"
    (tree.surveys / "a" / "captures" / "broken.csv").unlink()
    assert tree.run()[0] == 0


def test_a_database_that_cannot_be_had_does_not_cost_the_plan(tree):
    code, said = tree.run("--postgis", "host=/nowhere")
    assert code == 1 and "3 failed" in said
    rows = summary(tree)
    assert {row["status"] for row in rows.values()} == {"done"}
    assert {row["in_database"] for row in rows.values()} == {"no"}
    assert "PostGIS, schema surveys: the database refused" in rows["a"]["message"]
    assert tree.run()[0] == 0
    assert len(tree.calls()) == 3
    assert summary(tree)["a"]["message"] == summary(tree)["a"]["in_database"] == ""


def test_a_building_that_takes_too_long_is_given_up(tree):
    tree.add("endless", "slow.csv")
    code, said = tree.run("--timeout", "1.5", "--jobs", "2")
    assert code == 1 and "no result within 1.5 s" in said
    assert sorted(tree.calls()) == ["a", "b", "c"]
    assert not any(map(alive, tree.pids()))


def test_asked_to_stop_it_stops_and_goes_on_later(tree):
    tree.add("d", "slow.csv")
    child = tree.start("--jobs", "1")
    while tree.calls("begin")[-1:] != ["d"]:
        time.sleep(0.02)
    child.send_signal(signal.SIGTERM)
    begun = time.monotonic()
    said = child.communicate(timeout=30)[0]
    assert time.monotonic() - begun < 3.0
    assert child.returncode == 130 and "3 made" in said and "1 stopped" in said
    assert not any(map(alive, tree.pids()))
    assert summary(tree)["d"]["status"] == "not yet"
    (tree.surveys / "d" / "captures" / "slow.csv").unlink()
    assert tree.run()[0] == 0
    assert sorted(tree.calls()) == ["a", "b", "c", "d"]


def test_killed_at_any_instant_it_goes_on_where_it_was(tmp_path):
    luck = random.Random(84)
    names = [f"b{number:02d}" for number in range(12)]
    tree = Tree(tmp_path, names)
    survey, told, kills_at_work = 0, {}, 0

    def done():
        """The buildings that are called done for the survey as it now is; each must be whole."""
        found = set()
        for name in names:
            path = tree.results / name / "state.json"
            if path.exists() and tree.state(name)["status"] == "done":
                plan = (tree.results / name / f"{name}.gpkg").read_text()
                # One plan a key, for good.
                assert told.setdefault((name, tree.state(name)["key"]), plan) == plan
                if f"{name} survey {survey}" in plan:
                    found.add(name)
        return found

    for _ in range(KILLS):
        if len(done()) == len(names) or not survey:
            survey += 1
            for name in names:
                text = f"{name} survey {survey}\n"
                (tree.surveys / name / "captures" / "S01.csv").write_text(text)
        begun = len(tree.calls("begin"))
        child = tree.start("--jobs", "3", lasts=0.25)
        time.sleep(luck.uniform(0.2, 0.9))
        child.send_signal(signal.SIGKILL)
        child.communicate()
        kills_at_work += len(tree.calls("begin")) > begun
        deadline = time.monotonic() + 5.0
        while any(map(alive, tree.pids())):  # the host ends with the one that started it
            assert time.monotonic() < deadline
            time.sleep(0.02)
    ended, before = done(), Counter(tree.calls("begin"))
    code, said = tree.run("--jobs", "3")
    assert code == 0, said
    again = Counter(tree.calls("begin")) - before
    assert set(again) == set(names) - ended, "what was done is not done again, the rest is"
    assert done() == set(names)
    print(
        f"{kills_at_work} of {KILLS} kills met the host at work, {survey} surveys of 12 buildings"
    )
    assert kills_at_work
    for name in names:
        files = {path.name for path in (tree.results / name).iterdir()}
        plan = {f"{name}{end}" for end in (".gpkg", ".html", ".json")}
        assert files == {*plan, "state.json", "run.log", ".lock"}


def test_two_parts_at_once_do_all_of_it_once(tmp_path):
    names = [f"b{number:02d}" for number in range(9)]
    tree = Tree(tmp_path, names)
    children = [tree.start("--part", f"{k}/2", "--jobs", "2", lasts=0.1) for k in (1, 2)]
    assert [child.communicate(timeout=60)[1] for child in children] == [None, None]
    assert [child.returncode for child in children] == [0, 0]
    assert sorted(tree.calls()) == names
    assert tree.run("--dry-run")[0] == 0
    assert {row["status"] for row in summary(tree).values()} == {"done"}


def test_the_same_part_twice_at_once_makes_nothing_twice(tmp_path):
    names = [f"b{number:02d}" for number in range(6)]
    tree = Tree(tmp_path, names)
    children = [tree.start("--jobs", "2", lasts=0.3) for _ in range(2)]
    said = " ".join(child.communicate(timeout=60)[0] for child in children)
    assert sorted(tree.calls()) == names
    assert "another process works at it" in said


def test_what_is_made_of_each_plan(tree):
    tree.add("north/4")
    (tree.surveys / "b" / "captures" / "S01.csv").write_text("no map")
    options = ("--also", "exportindoor", "--also", "plansheet", "--set", "exportindoor.COUNTRY=IT")
    options += ("--set", "plansheet.PLOT_SCALE=1:50", "--set", "exportdrawing.READINGS=true")
    code, said = tree.run(*options)
    assert code == 1 and "b: failed" in said and "there is no room" in said
    assert not (tree.results / "b" / "b.gpkg").exists()
    folder = tree.results / "north" / "4"
    names = {path.name for path in folder.iterdir() if path.name.startswith("north-4")}
    assert names == {
        *("north-4.gpkg", "north-4.html", "north-4.json"),
        *("north-4-indoor.zip", "north-4-indoor.html", "north-4.pdf"),
    }
    given = json.loads((folder / "north-4-indoor.zip").read_text())
    assert (given["COUNTRY"], given["VENUE_NAME"]) == ("IT", "north/4")
    assert json.loads((folder / "north-4.pdf").read_text())["PLOT_SCALE"] == "1:50"
    assert "COUNTRY" not in (folder / "north-4.gpkg").read_text()
    (folder / "north-4.pdf").unlink()
    before = len(tree.calls())
    tree.run(*options, "--skip-failed")
    assert tree.calls()[before:] == ["4"], "what lacks a result is made again"
    code, said = tree.run("--set", "elsewhere.COUNTRY=IT")
    assert code == 1 and "found a parameter of elsewhere; expected one of" in said


def test_parameters_reach_the_host(tree):
    (tree.surveys / "a" / "control.csv").write_text("target,east_m,north_m\n")
    (tree.surveys / "b" / "parameters.json").write_text('{"USE_COMPASS": false, "SQUARE": "never"}')
    (tree.surveys / "c" / "parameters.json").write_text('{"OUTPUT": "mine.gpkg"}')
    common = tree.surveys.parent / "common.json"
    common.write_text('{"SQUARE": "within tolerance", "MAX_DISTANCE": 20}')
    code, said = tree.run("--parameters", str(common), "--set", "MAX_DISTANCE=30")
    assert code == 1 and "OUTPUT is decided by the tree" in said
    first = (tree.results / "a" / "a.gpkg").read_text()
    assert f'"CONTROL": "{tree.surveys / "a" / "control.csv"}"' in first
    assert '"MAX_DISTANCE": "30"' in first and '"SQUARE": "within tolerance"' in first
    second = (tree.results / "b" / "b.gpkg").read_text()
    assert '"SQUARE": "never"' in second and '"USE_COMPASS": "false"' in second


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--set", "SQUARE"], "found SQUARE; expected NAME=VALUE"),
        (["--part", "3/2"], "found 3/2; expected K/N"),
        (["--qgis-process", "/nowhere/host"], "/nowhere/host: there is no such program"),
        (["--parameters", "/nowhere.json"], "/nowhere.json: could not be read"),
        (["--jobs", "0"], "expected numbers above zero"),
    ],
)
def test_wrong_use_is_told_before_anything_is_done(tree, words, sentence):
    code, said = tree.run(*words)
    assert code == 2 and sentence in said
    assert not tree.calls("begin")


def test_results_among_the_surveys_are_refused(tree):
    tree.results = tree.surveys / "results"
    code, said = tree.run()
    assert code == 2 and "lie in each other" in said
    assert not tree.results.exists()


def test_it_starts_from_what_a_release_ships(tmp_path):
    for name, content in build_zip.shipped_files().items():
        path = tmp_path / "roomtie" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    result = subprocess.run(
        # Without site-packages: nothing but the standard library is needed to start.
        [sys.executable, "-S", "-m", "roomtie.processing.many", "/nowhere", str(tmp_path / "r")],
        env={"PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        cwd="/",
        check=False,
    )
    assert result.returncode == 2
    assert result.stderr == "/nowhere: there is no such folder; expected a tree of surveys.\n"
