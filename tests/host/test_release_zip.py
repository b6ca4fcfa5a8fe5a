# SPDX-License-Identifier: GPL-2.0-or-later
"""The release zip, installed as a user would into an empty profile, does the main job."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
import shapely
from roomtie.plugin import build_zip

sys.path.append(str(Path(__file__).resolve().parents[1]))
from same_results import plan_differences, report_differences

LAYERS = {
    *("stations", "readings", "targets", "ties", "wall_faces", "rooms", "openings"),
    "network_covariance",
}


@pytest.fixture(scope="module")
def shapely_alone(tmp_path_factory) -> Path:
    """A folder for PYTHONPATH with shapely 2, which Debian 12 lacks, and nothing besides."""
    folder = tmp_path_factory.mktemp("python")
    package = Path(shapely.__file__).resolve().parent
    for name in ("shapely", "shapely.libs"):
        if (package.parent / name).exists():
            (folder / name).symlink_to(package.parent / name)
    return folder


@pytest.fixture(scope="module")
def profile(tmp_path_factory, host_process, shapely_alone) -> Path:
    """An empty profile with the zip unpacked into its plugins, as the host's installer does."""
    folder = tmp_path_factory.mktemp("profile")
    plugins = folder / "profiles" / "default" / "python" / "plugins"
    plugins.mkdir(parents=True)
    build_zip.write_zip(folder / "roomtie.zip", build_zip.release_contents())
    with zipfile.ZipFile(folder / "roomtie.zip") as archive:
        archive.extractall(plugins)
    host_process(folder, "plugins", "enable", "roomtie", python_path=[shapely_alone])
    return folder


@pytest.fixture(scope="module")
def main_job(profile, host_process, shapely_alone):
    """``main_job(captures, folder, **environment)`` runs it from the zip; the plan and its report's
    numbers in that folder."""

    def run(captures: Path, folder: Path, **environment: str) -> tuple[Path, Path]:
        plan, report = folder / "plan.gpkg", folder / "plan.html"
        host_process(
            profile,
            *("run", "roomtie:planfromcaptures", "--"),
            f"INPUT={captures}",
            f"CONTROL={captures.parent / 'control.csv'}",
            "TARGET_CRS=EPSG:32631",
            f"OUTPUT={plan}",
            f"REPORT={report}",
            python_path=[shapely_alone],
            environment=environment,
        )
        return plan, report.with_suffix(".json")

    return run


@pytest.fixture(scope="module")
def survey(profile) -> Path:
    return profile / "profiles/default/python/plugins/roomtie/testdata/example"


@pytest.fixture(scope="module")
def made(main_job, survey, tmp_path_factory) -> tuple[Path, Path]:
    """The plan and the numbers of the main job, on one thread."""
    return main_job(survey / "captures", tmp_path_factory.mktemp("made"), OMP_NUM_THREADS="1")


def test_the_main_job_runs_from_the_zip(made, survey, shapely_alone):
    probe = "import importlib.util as u; print(u.find_spec('pygeomag'))"
    seen = subprocess.run(
        ["/usr/bin/python3", "-c", probe],
        env={"PYTHONPATH": str(shapely_alone), "PYTHONNOUSERSITE": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    if seen.stdout.strip() != "None":
        pytest.skip("the host's own Python has pygeomag: the bundled one would not be used")
    plan, numbers = made
    with sqlite3.connect(plan) as database:
        layers = {name for (name,) in database.execute("select table_name from gpkg_contents")}
        counts = {
            name: database.execute(f'select count(*) from "{name}"').fetchone()[0]
            for name in layers & LAYERS
        }
    assert layers >= LAYERS
    assert counts["stations"] == len(list((survey / "captures").glob("*.csv")))
    assert all(counts.values()), counts
    assert "<html" in numbers.with_suffix(".html").read_text(encoding="utf-8")
    site = json.loads(numbers.read_text(encoding="utf-8"))["site"]
    # From the bundled package: there is no other that could know it.
    assert "WMM" in json.dumps(site)
    if "ROOMTIE_RESULTS" in os.environ:  # for the comparison of hosts: tests/host_matrix.sh
        kept = Path(os.environ["ROOMTIE_RESULTS"])
        kept.mkdir(parents=True, exist_ok=True)
        shutil.copy(plan, kept)
        shutil.copy(numbers, kept)


def test_the_same_captures_give_the_same_bits(main_job, made, survey, tmp_path):
    """Again, with all else different: threads, locale (a decimal comma, and a dotless i), time
    zone, the seed of hashes, the order in which the files lie in their folder."""
    locales, captures = tmp_path / "locales", tmp_path / "survey" / "captures"
    locales.mkdir()
    captures.mkdir(parents=True)
    command = ["localedef", "-i", "tr_TR", "-f", "UTF-8", str(locales / "tr_TR.UTF-8")]
    subprocess.run(command, check=True, capture_output=True)
    for path in sorted((survey / "captures").iterdir(), reverse=True):
        shutil.copy(path, captures)
    shutil.copy(survey / "control.csv", captures.parent)
    other = main_job(
        captures,
        tmp_path,
        **{"LOCPATH": str(locales), "LANG": "tr_TR.UTF-8", "LC_ALL": "tr_TR.UTF-8"},
        **{"OMP_NUM_THREADS": "4", "OPENBLAS_NUM_THREADS": "4"},
        **{"TZ": "Pacific/Apia", "PYTHONHASHSEED": "4"},
    )
    assert report_differences(made[1], other[1], exact=True) == []
    assert plan_differences(made[0], other[0], exact=True) == []


def test_what_is_missing_is_said(profile, host_process, tmp_path):
    """A host with an older shapely, or none, loads the plugin and names what it lacks."""
    (tmp_path / "shapely.py").write_text("raise ModuleNotFoundError('there is none here')\n")
    listed = host_process(profile, "list", python_path=[tmp_path])
    assert "roomtie:planfromcaptures" in listed.stdout
    result = host_process(
        profile,
        *("run", "roomtie:planfromcaptures", "--"),
        f"INPUT={tmp_path}",
        f"OUTPUT={tmp_path / 'plan.gpkg'}",
        python_path=[tmp_path],
        check=False,
    )
    assert result.returncode != 0
    assert "shapely" in result.stdout + result.stderr
    assert not (tmp_path / "plan.gpkg").exists()
