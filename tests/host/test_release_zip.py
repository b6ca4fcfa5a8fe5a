# SPDX-License-Identifier: GPL-2.0-or-later
"""The release zip, installed as a user would into an empty profile, does the main job."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import zipfile
from pathlib import Path

import pytest
import shapely
from roomtie.plugin import build_zip

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


def test_the_main_job_runs_from_the_zip(profile, host_process, shapely_alone, tmp_path):
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

    survey = profile / "profiles/default/python/plugins/roomtie/testdata/example"
    plan, report = tmp_path / "plan.gpkg", tmp_path / "plan.html"
    result = host_process(
        profile,
        *("run", "roomtie:planfromcaptures", "--"),
        f"INPUT={survey / 'captures'}",
        f"CONTROL={survey / 'control.csv'}",
        "TARGET_CRS=EPSG:32631",
        f"OUTPUT={plan}",
        f"REPORT={report}",
        python_path=[shapely_alone],
    )
    with sqlite3.connect(plan) as database:
        layers = {name for (name,) in database.execute("select table_name from gpkg_contents")}
        counts = {
            name: database.execute(f'select count(*) from "{name}"').fetchone()[0]
            for name in layers & LAYERS
        }
    assert layers >= LAYERS, result.stdout
    assert counts["stations"] == len(list((survey / "captures").glob("*.csv")))
    assert all(counts.values()), counts
    assert "<html" in report.read_text(encoding="utf-8")
    site = json.loads(report.with_suffix(".json").read_text(encoding="utf-8"))["site"]
    # From the bundled package: there is no other that could know it.
    assert "WMM" in json.dumps(site)


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
