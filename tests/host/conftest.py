# SPDX-License-Identifier: GPL-2.0-or-later
"""What the host tests share: the host's command line with a profile of its own."""

from __future__ import annotations

import gc
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
# Tests import what they share from the modules beside them.
sys.path.append(str(HERE))


def pytest_collection_modifyitems(items):
    for item in items:
        if HERE in Path(item.path).parents:
            item.add_marker("host")


@pytest.fixture(scope="session", autouse=True)
def no_layer_outlives_the_host(qgis_app):
    """The host never lets go of an exception that an algorithm raised, nor of the layers in its
    frames. Python would delete these at its end, when the host's drivers have gone."""
    yield
    from qgis.core import QgsVectorLayer
    from qgis.PyQt import sip

    gc.collect()
    for thing in gc.get_objects():
        if isinstance(thing, QgsVectorLayer) and sip.ispyowned(thing):
            sip.delete(thing)


@pytest.fixture(scope="session")
def host_process() -> Callable[..., subprocess.CompletedProcess]:
    """``host_process(profile, *arguments, python_path=..., environment=...)`` runs ``qgis_process``
    as a user with this profile folder would, with other variables if told. The user's own profile,
    home and Python packages stay out."""
    # Debian's qgis_process is a wrapper that passes an option which QGIS 3.22 refuses.
    program = shutil.which("qgis_process.bin") or shutil.which("qgis_process")
    if program is None:
        pytest.fail("the host's qgis_process is not installed")

    def run(
        profile: Path, *arguments, python_path=(), environment=None, check=True
    ) -> subprocess.CompletedProcess:
        result = subprocess.run(
            [program, *map(str, arguments)],
            env={
                # With a virtual environment's folder first, the host would take its packages.
                "PATH": "/usr/local/bin:/usr/bin:/bin",
                "LANG": "C.UTF-8",
                "HOME": str(profile),
                "XDG_RUNTIME_DIR": str(profile),
                "QGIS_CUSTOM_CONFIG_PATH": str(profile),
                "QT_QPA_PLATFORM": "offscreen",
                "PYTHONNOUSERSITE": "1",
                "PYTHONPATH": os.pathsep.join(map(str, python_path)),
                **(environment or {}),
            },
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=600,
            check=False,
        )
        if check:
            assert result.returncode == 0, f"{arguments}\n{result.stdout}\n{result.stderr}"
        return result

    return run


@pytest.fixture(scope="session")
def roomtie(qgis_app, qgis_processing):
    """The provider in this process's host, with the plugin's styles."""
    from qgis.core import QgsApplication
    from roomtie.plugin.styles import style_layer
    from roomtie.processing.provider import RoomtieProvider

    registry = QgsApplication.processingRegistry()
    provider = registry.providerById("roomtie")
    if provider is None:
        provider = RoomtieProvider(style_layer)
        registry.addProvider(provider)
    return provider


@pytest.fixture(scope="session")
def plan_file(example, tmp_path_factory) -> Path:
    """The example's plan in its grid; only to be read."""
    from placed_plan import write_plan

    return write_plan(tmp_path_factory.mktemp("plan") / "house.gpkg", example, placed=True).path


@pytest.fixture
def plan(plan_file, tmp_path) -> Path:
    """A copy of it to write to."""
    return Path(shutil.copy(plan_file, tmp_path / "house.gpkg"))


@pytest.fixture
def window(qgis_app):
    """What a dock asks of the host's window; the project is empty when it goes."""
    from qgis.core import QgsProject
    from reviewed_plan import Window

    window = Window()
    yield window
    QgsProject.instance().clear()
    window.close()


@pytest.fixture
def run(roomtie):
    """``run(algorithm, feedback=None, **parameters)`` runs one of the provider's algorithms."""
    import processing

    def run_algorithm(algorithm, feedback=None, **parameters):
        return processing.run(f"roomtie:{algorithm}", parameters, feedback=feedback)

    return run_algorithm


@pytest.fixture(scope="module")
def server():
    """A PostgreSQL server of its own with PostGIS."""
    from postgis_server import Server

    own = Server()
    own.sql("CREATE EXTENSION postgis")
    yield own
    own.stop()


@pytest.fixture(scope="session")
def jobs(roomtie, tmp_path_factory):
    """A job for every algorithm that writes (`tests/faults/jobs.py`), with its inputs."""
    from in_the_host import tried
    from jobs import Jobs

    def run(name, parameters):
        said = tried(roomtie, name, parameters)
        assert said["ended"] == "done", said
        return said["results"]

    return Jobs(tmp_path_factory.mktemp("jobs") / "inputs", run)


@pytest.fixture(scope="session")
def halves(example_survey, tmp_path_factory) -> Path:
    """The example's captures in two folders, `first` and `second`, of which a plan grows."""
    from grown_plans import FIRST

    folder = tmp_path_factory.mktemp("captures")
    for part in ("first", "second"):
        (folder / part).mkdir()
    for file in sorted((example_survey / "captures").iterdir()):
        part = "first" if file.stem in FIRST else "second"
        shutil.copy(file, folder / part / file.name)
    return folder


@pytest.fixture(scope="session")
def make_plan(roomtie):
    """``make_plan(feedback=None, **parameters)`` runs the main job."""
    import processing

    def run_job(feedback=None, **parameters):
        return processing.run("roomtie:planfromcaptures", parameters, feedback=feedback)

    return run_job


@pytest.fixture(scope="session")
def half_plan_file(make_plan, halves, example_survey, tmp_path_factory) -> Path:
    """The plan of the first half, placed by control points; only to be read."""
    from grown_plans import SCALES

    folder = tmp_path_factory.mktemp("placed")
    make_plan(
        INPUT=str(halves / "first"),
        CONTROL=str(example_survey / "control.csv"),
        CONTROL_NAME="target",
        PLOT_SCALES=SCALES,
        OUTPUT=str(folder / "plan.gpkg"),
        REPORT=str(folder / "plan.html"),
    )
    return folder / "plan.gpkg"


@pytest.fixture
def half_plan(half_plan_file, tmp_path) -> Path:
    """A copy of it to write over."""
    return Path(shutil.copy(half_plan_file, tmp_path / "plan.gpkg"))
