# SPDX-License-Identifier: GPL-2.0-or-later
"""The import rule holds, covers every stage, and bites."""

import importlib
import os
import pkgutil
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import roomtie.processing

ROOT = Path(roomtie.processing.__file__).resolve().parent.parent
HOST_PARTS = {"algorithms", "layers", "provider", "bundled"}
PURE = sorted(
    f"roomtie.processing.{module.name}"
    for module in pkgutil.iter_modules(roomtie.processing.__path__)
    if module.name not in HOST_PARTS
)

IMPORT_ALL = """
import importlib.util, sys
sys.modules.update(dict.fromkeys(["qgis", "osgeo", "PyQt5", "PyQt6"]))
root, *modules = sys.argv[1:]
spec = importlib.util.spec_from_file_location(
    "roomtie", root + "/__init__.py", submodule_search_locations=[root])
sys.modules["roomtie"] = importlib.util.module_from_spec(spec)
for name in modules:
    importlib.import_module(name)
"""


EACH_FIRST = """
import importlib, os
import numpy, scipy, shapely, pyproj  # what modules import from elsewhere, once for all
for name in modules:
    if os.fork() == 0:
        status = 1
        try:
            importlib.import_module(name)
            status = 0
        except ImportError as error:
            print(f"{name}: {error}", file=sys.stderr, flush=True)
        os._exit(status)
    os.wait()
"""
"""Where two modules import each other, it depends on which comes first."""


def check_imports(root: Path) -> subprocess.CompletedProcess:
    paths = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    return subprocess.run(
        [ROOT / "tests" / "check_imports.sh", root],
        env={**os.environ, "PATH": paths},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def copy(tmp_path) -> Path:
    """The package under a folder name of its own, to plant a mistake in."""
    root = tmp_path / "some other name"
    root.mkdir()
    for name in ("__init__.py", "pyproject.toml"):
        shutil.copy(ROOT / name, root / name)
    for name in ("plugin", "processing"):
        shutil.copytree(ROOT / name, root / name, ignore=shutil.ignore_patterns("__pycache__"))
    return root


def test_the_rule_holds_whatever_the_checkout_is_called(copy):
    result = check_imports(copy)
    assert result.returncode == 0, result.stdout + result.stderr
    assert "KEPT" in result.stdout


def plant(root: Path, stage: str, line: str) -> None:
    """Add a line to a stage's first module."""
    path = root / "processing" / stage.rpartition(".")[2]
    path = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
    path.write_text(f"{path.read_text()}\n{line}\n")


def test_planted_imports_break_it(copy):
    """The host by any of its names, at the top or inside a function, and a stage further down."""
    planted = [
        ("captures", "import qgis.core", "qgis"),
        ("stations", "def later():\n    from osgeo import ogr", "osgeo"),
        ("walls", "from PyQt5 import QtCore", "PyQt5"),
        ("captures", "from ..stations import model", "roomtie.processing.stations"),
        ("walls", "from ..site.model import SiteFit", "roomtie.processing.site.model"),
        ("site", "from ..algorithms import base", "roomtie.processing.algorithms.base"),
    ]
    for stage, line, _ in planted:
        plant(copy, stage, line)
    result = check_imports(copy)
    assert result.returncode != 0
    assert result.stdout.count("BROKEN") == 2
    for stage, _, found in planted:
        assert f"roomtie.processing.{stage} -> {found}" in result.stdout


def test_every_stage_is_under_the_rule(copy):
    """A stage that is added without being named in pyproject.toml would escape."""
    for stage in PURE:
        plant(copy, stage, "import qgis")
    result = check_imports(copy)
    assert result.returncode != 0
    for stage in PURE:
        assert f"{stage} -> qgis" in result.stdout


def test_the_pure_stages_import_without_the_host():
    """In a process that has nothing else loaded and where the host cannot be had."""
    modules = list(PURE)
    for name in PURE:
        package = importlib.import_module(name)
        if hasattr(package, "__path__"):
            modules += [m.name for m in pkgutil.walk_packages(package.__path__, f"{name}.")]
    assert len(modules) > len(PURE)
    command = [sys.executable, "-c", IMPORT_ALL, str(ROOT), *modules]
    result = subprocess.run(command, capture_output=True, text=True, cwd="/", check=False)
    assert result.returncode == 0, result.stderr
    start = IMPORT_ALL.partition("for name")[0]
    command[2] = start + EACH_FIRST
    result = subprocess.run(command, capture_output=True, text=True, cwd="/", check=False)
    assert result.returncode == 0 and not result.stderr
