# SPDX-License-Identifier: GPL-2.0-or-later
"""A disk that is full: one sentence says so, and what was there is as it was."""

import os
import shutil
import subprocess
from contextlib import contextmanager

import pytest
from in_the_host import tried
from jobs import WRITING, contents

PAGE = 4096


@contextmanager
def small_disk(place, size, lazy=False):
    """A disk of so many bytes. Unless `lazy`, nothing on it may be open any more when it goes."""
    place.mkdir(exist_ok=True)
    if (
        os.geteuid()
        or subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)], capture_output=True
        ).returncode
    ):
        pytest.skip("only root can mount a small disk")
    try:
        yield place
    except BaseException:
        subprocess.run(["umount", "--lazy", str(place)], check=True)
        raise
    subprocess.run(["umount", *(["--lazy"] if lazy else []), str(place)], check=True)


def pages(files):
    return PAGE * sum(-(-len(data) // PAGE) for data in files.values())


@pytest.mark.parametrize("name", WRITING)
def test_a_full_disk_is_told_and_nothing_is_left(roomtie, jobs, tmp_path, name):
    before = jobs.lay(name, tmp_path)
    if name == "updatebuildinglayer":
        # Its journal and its inverse need room too, so that any but little will do.
        sizes = [pages(before) + 4 * PAGE, pages(before) + pages(before) // 2]
    else:
        assert tried(roomtie, name, jobs.parameters(name, tmp_path))["ended"] == "done"
        sizes = [pages(contents(tmp_path)) * part // 100 // PAGE * PAGE for part in (30, 97)]
    for size in sizes:
        # The host keeps a maintained layer open for a while after it was read.
        lazy = name == "updatebuildinglayer"
        with small_disk(tmp_path / "disk", max(size, PAGE), lazy) as disk:
            before = jobs.lay(name, disk)
            said = tried(roomtie, name, jobs.parameters(name, disk))
            assert said["ended"] == "refused", said
            assert (
                "full" in said["sentence"]
                or "o space" in said["sentence"]
                or ("in part only" in said["sentence"])
            )
            assert "\n" not in said["sentence"].strip() and "INSERT" not in said["sentence"]
            assert contents(disk) == before


@pytest.mark.parametrize("ending", [".gpkg", ".shp", ".geojson", ".csv"])
def test_whatever_the_format_of_a_layer(roomtie, jobs, tmp_path, ending):
    def parameters(to):
        given = jobs.parameters("extractwalls", to)
        return {**given, "FLAGGED_READINGS": str(to / f"flagged{ending}"), "WALL_FACES": None}

    whole = tmp_path / "whole"
    whole.mkdir()
    assert tried(roomtie, "extractwalls", parameters(whole))["ended"] == "done"
    size = pages(contents(whole))
    for part in (50, 97):
        with small_disk(tmp_path / "disk", size * part // 100 // PAGE * PAGE) as disk:
            said = tried(roomtie, "extractwalls", parameters(disk))
            assert said["ended"] == "refused", said
            assert contents(disk) == {}


@pytest.mark.parametrize("room", [5, 60, 120, 180])
def test_a_table_of_a_database_that_is_there(roomtie, jobs, tmp_path, room):
    given = jobs.parameters("extractwalls", tmp_path)
    alone = given | {"FLAGGED_READINGS": str(tmp_path / "table.gpkg"), "WALL_FACES": None}
    assert tried(roomtie, "extractwalls", alone)["ended"] == "done"
    table = pages({"": (tmp_path / "table.gpkg").read_bytes()})
    database = jobs.folder / "rooms.gpkg"
    size = pages({"": database.read_bytes()}) + table * room // 100 // PAGE * PAGE
    with small_disk(tmp_path / "disk", size) as disk:
        shutil.copy(database, disk / "project.gpkg")
        before = contents(disk)
        into = f"ogr:dbname='{disk / 'project.gpkg'}' table=\"flagged\" (geom)"
        said = tried(roomtie, "extractwalls", alone | {"FLAGGED_READINGS": into})
        assert said["ended"] == "refused", said
        assert "\n" not in said["sentence"].strip()
        assert contents(disk) == before


def test_a_format_that_drops_features_is_refused(roomtie, jobs, tmp_path):
    given = jobs.parameters("extractwalls", tmp_path)
    given |= {"FLAGGED_READINGS": str(tmp_path / "flagged.fgb"), "WALL_FACES": None}
    said = tried(roomtie, "extractwalls", given)
    assert said["ended"] == "refused"
    # Older releases of GDAL drop readings without a return, newer ones say that they cannot.
    reasons = ("features, expected a format that keeps them all", "could not be written")
    assert any(reason in said["sentence"] for reason in reasons), said
    assert contents(tmp_path) == {}


def test_a_full_folder_for_temporary_files_is_told(roomtie, jobs, tmp_path, monkeypatch):
    import tempfile

    with small_disk(tmp_path / "disk", 16 * PAGE) as disk:
        monkeypatch.setattr(tempfile, "tempdir", str(disk))
        given = jobs.parameters("planfromcaptures", tmp_path)
        shutil.copy(jobs.plan, tmp_path / "earlier.gpkg")
        given["EARLIER"] = str(tmp_path / "earlier.gpkg")
        before = contents(tmp_path)
        said = tried(roomtie, "planfromcaptures", given)
        assert said["ended"] == "refused" and "\n" not in said["sentence"].strip(), said
        assert contents(tmp_path) == before
