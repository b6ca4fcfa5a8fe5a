# SPDX-License-Identifier: GPL-2.0-or-later
"""Folders that take nothing, files that others hold, and projects and layers that are not as they
should be: a sentence, and nothing changed."""

import subprocess

import pytest
from in_the_host import tried
from jobs import WRITING, contents
from test_full_disk import PAGE, small_disk


@pytest.mark.parametrize("name", WRITING)
def test_a_folder_that_takes_nothing_is_named(roomtie, jobs, tmp_path, name):
    with small_disk(tmp_path / "disk", 1024 * PAGE, lazy=name == "updatebuildinglayer") as disk:
        before = jobs.lay(name, disk)
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        said = tried(roomtie, name, jobs.parameters(name, disk))
        assert said["ended"] == "refused", said
        sentence = said["sentence"].strip()
        assert str(disk) in sentence or "building.gpkg" in sentence
        assert "\n" not in sentence and "Traceback" not in sentence
        assert "ead-only" in sentence or "writ" in sentence
        assert contents(disk) == before
