# SPDX-License-Identifier: GPL-2.0-or-later
"""Loads the checkout under its package name: its folder may be called anything, and its
``processing`` must not shadow the host's."""

import gc
import importlib.util
import os
import sys
from pathlib import Path

import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parent.parent
SHARED = ROOT.parent / "shared" / "data"
# Tests import what they share with those that are run by hand.
sys.path.append(str(ROOT / "tests" / "faults"))

if "roomtie" not in sys.modules:
    spec = importlib.util.spec_from_file_location(
        "roomtie", ROOT / "__init__.py", submodule_search_locations=[str(ROOT)]
    )
    package = importlib.util.module_from_spec(spec)
    sys.modules["roomtie"] = package
    spec.loader.exec_module(package)


# A check of a change must not fail by the luck of the draw, nor by the clock: where CI says so,
# hypothesis draws the same cases each time, and half as many. By hand it looks for new ones.
settings.register_profile("ci", derandomize=True, max_examples=50, deadline=None)
settings.register_profile("by hand", deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "by hand")


@pytest.fixture(scope="session", autouse=True)
def without_the_host(request):
    """Where the run is meant to be without the host, nothing may have fetched it by the end."""
    yield
    if not request.config.pluginmanager.hasplugin("pytest_qgis"):
        assert "qgis" not in sys.modules


@pytest.fixture(scope="session")
def example_survey() -> Path:
    """The project's own scenario."""
    return ROOT / "testdata" / "example"


@pytest.fixture(scope="session")
def shared_data():
    """A folder of the data made elsewhere; the test is skipped where it is absent."""

    def folder(name: str) -> Path:
        path = SHARED / name
        if not path.exists():
            pytest.skip(f"the shared data set {name} is not beside this checkout")
        return path

    return folder


@pytest.fixture(scope="session")
def example(example_survey):
    """The example survey tied, and drawn at two plot scales: `tied`, `drawn`."""
    from types import SimpleNamespace

    from roomtie.processing.captures.reading import import_captures
    from roomtie.processing.chain import draw_plans, tie_stations
    from roomtie.processing.stations.network_options import NetworkOptions

    tied = tie_stations(import_captures(example_survey / "captures"), NetworkOptions())
    return SimpleNamespace(tied=tied, drawn=draw_plans(tied, (50, 200)))


def pytest_collection_finish():
    """The collector of cycles would go through all that was collected, over and over."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 100)
