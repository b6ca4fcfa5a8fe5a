# SPDX-License-Identifier: GPL-2.0-or-later
"""The same command under a scheduler: a Slurm array, as the help page has it."""

import csv
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).resolve().parent))
from slurm_machine import Cluster, missing
from trees import ROOT, Tree

NAMES = [f"b{number:02d}" for number in range(7)]


def script_of_the_help() -> str:
    """The job script of the help page."""
    page = (ROOT / "plugin" / "help" / "many-buildings.md").read_text("utf-8")
    return re.search(r"```bash\n(#!/bin/bash\n#SBATCH.*?)```", page, re.S)[1]


@pytest.fixture
def cluster(tmp_path):
    if missing():
        pytest.skip(missing())
    (tmp_path / "cluster").mkdir()
    own = Cluster(tmp_path / "cluster")
    yield own
    own.stop()


def test_a_slurm_array_does_all_of_it_once(cluster, tmp_path):
    tree = Tree(tmp_path, NAMES)
    tree.add("bad", "broken.csv")
    script = script_of_the_help()
    # What a user changes: where things are, how many tasks, the interpreter of these tests.
    for said, here in (
        ("--array=1-10", "--array=1-3"),
        ("/path/to/plugins", str(tree.packages)),
        ("/data/surveys /data/results", f"{tree.surveys} {tree.results}"),
        ("/usr/bin/python3", sys.executable),
        ("--set TARGET_CRS=EPSG:32631", f"--qgis-process {shlex.quote(str(tree.program))}"),
    ):
        assert said in script
        script = script.replace(said, here)
    job = tmp_path / "job.sh"
    job.write_text(script)
    more = {"CALLS": str(tree.calls_file), "LASTS": "0.2"}
    cluster.run("sbatch", f"--chdir={tmp_path}", job, **more)
    cluster.wait()
    assert sorted(tree.calls()) == NAMES, (cluster.folder / "slurmctld.log").read_text()
    with (tree.results / "summary.csv").open(encoding="utf-8", newline="") as file:
        states = {row["building"]: row["status"] for row in csv.DictReader(file)}
    assert states == {**dict.fromkeys(NAMES, "done"), "bad": "failed"}
    logs = [path.read_text() for path in tmp_path.glob("slurm-*.out")]
    assert len(logs) == 3 and sum("made" in log for log in logs) == 3
    # Submitted again, it does the broken one alone.
    cluster.run("sbatch", f"--chdir={tmp_path}", job, **more)
    cluster.wait()
    assert sorted(tree.calls()) == NAMES and tree.calls("begin").count("bad") == 2


def test_dask_does_all_of_it_once(tmp_path):
    """The help's program, on a local cluster of two processes."""
    pytest.importorskip("distributed")
    tree = Tree(tmp_path, NAMES)
    page = (ROOT / "plugin" / "help" / "many-buildings.md").read_text("utf-8")
    program = re.search(r"```python\n(.*?)```", page, re.S)[1]
    for said, here in (
        ('"/data/surveys", "/data/results"', f'"{tree.surveys}", "{tree.results}"'),
        ('"--jobs", "1"', f'"--jobs", "1", "--qgis-process", "{tree.program}"'),
        ("Client()", "Client(n_workers=2, threads_per_worker=1, dashboard_address=None)"),
    ):
        assert said in program
        program = program.replace(said, here)
    (tmp_path / "parts.py").write_text(program)
    result = subprocess.run(
        [sys.executable, "parts.py"],
        env={**os.environ, "CALLS": str(tree.calls_file), "PYTHONPATH": str(tree.packages)},
        capture_output=True,
        text=True,
        cwd=tmp_path,
        timeout=200,
        check=False,
    )
    assert result.returncode == 0, result.stderr
    assert "[0, 0, 0, 0, 0, 0, 0, 0, 0, 0]" in result.stdout
    assert sorted(tree.calls()) == NAMES
