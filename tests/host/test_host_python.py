# SPDX-License-Identifier: GPL-2.0-or-later
"""A host whose Python lacks a package, or has one that cannot be loaded."""

import sys
import tempfile

import pytest
from in_the_host import tried
from roomtie.processing.algorithms import host_python

NAMES = ("numpy", "scipy", "shapely", "pyproj", "pygeomag")


@pytest.fixture
def job(example_survey, tmp_path):
    return {
        "INPUT": str(example_survey / "captures" / "S01.csv"),
        "OUTPUT": str(tmp_path / "plan.gpkg"),
        "REPORT": str(tmp_path / "plan.html"),
    }


@pytest.mark.parametrize("name", NAMES)
def test_a_package_that_is_not_there_is_named_with_the_command(
    roomtie, job, tmp_path, monkeypatch, name
):
    monkeypatch.setitem(sys.modules, name, None)
    said = tried(roomtie, "planfromcaptures", job)
    assert said["ended"] == "cannot"
    assert said["sentence"].startswith("The host's Python lacks ")
    assert name in said["sentence"] and "install" in said["sentence"]
    assert not [*tmp_path.iterdir()]
    # The host itself goes on, and the rest of the plugin with it.
    assert roomtie.algorithm("planfromcaptures").shortHelpString()


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    "error", [ImportError("libx.so.1: cannot open shared object file"), ValueError("size changed")]
)
def test_a_package_that_is_damaged_is_named_with_the_reason(
    roomtie, job, tmp_path, monkeypatch, name, error
):
    real = host_python.importlib.import_module

    def importing(wanted):
        if wanted == name:
            raise error
        return real(wanted)

    monkeypatch.setattr(host_python.importlib, "import_module", importing)
    said = tried(roomtie, "planfromcaptures", job)
    assert said["ended"] == "cannot"
    assert f"cannot load {name}" in said["sentence"]
    assert str(error) in said["sentence"] and "install" in said["sentence"]
    assert not [*tmp_path.iterdir()]


@pytest.mark.parametrize(
    ("platform", "command"),
    [
        ("linux", "python3 -m pip install --user"),
        ("win32", "python -m pip install scipy"),
        ("darwin", "python -m pip install scipy"),
    ],
)
def test_the_command_is_that_of_the_platform(roomtie, monkeypatch, platform, command):
    monkeypatch.setattr(sys, "platform", platform)
    monkeypatch.setitem(sys.modules, "scipy", None)
    assert command in host_python.missing_packages()


def test_a_part_of_a_package_that_cannot_be_loaded_is_a_sentence(roomtie, job, monkeypatch):
    monkeypatch.setitem(sys.modules, "roomtie.processing.chain", None)
    said = tried(roomtie, "planfromcaptures", job)
    assert said["ended"] == "refused"
    assert said["sentence"].startswith("The host's Python cannot load roomtie.processing.chain")


@pytest.mark.parametrize("filename", ["/full/roomtie-x", None])
def test_what_the_system_refuses_is_a_sentence_and_leaves_nothing(
    roomtie, job, tmp_path, monkeypatch, filename
):
    from roomtie.processing import chain

    def full(*arguments, **more):
        raise OSError(28, "No space left on device", filename)

    monkeypatch.setattr(chain, "draw_plans", full)
    said = tried(roomtie, "planfromcaptures", {**job, "PLOT_SCALES": ["1:50"]})
    assert said["ended"] == "refused"
    assert said["sentence"] == (
        f"{filename or 'A file'}: could not be read or written: No space left on device."
    )
    assert not [*tmp_path.iterdir()]


def test_no_room_for_temporary_files_is_a_sentence(roomtie, job, tmp_path, monkeypatch):
    def full(**of):
        raise OSError(28, "No space left on device", "/full/roomtie-x")

    monkeypatch.setattr(tempfile, "mkdtemp", full)
    said = tried(roomtie, "planfromcaptures", {**job, "PLOT_SCALES": ["1:50"]})
    assert said["ended"] == "refused"
    assert (
        "/full/roomtie-x: no folder for temporary files could be made: No space" in said["sentence"]
    )
    assert not [*tmp_path.iterdir()]


def test_too_little_memory_is_a_sentence_and_leaves_nothing(roomtie, job, tmp_path, monkeypatch):
    from roomtie.processing import chain

    def hungry(*arguments, **more):
        raise MemoryError

    monkeypatch.setattr(chain, "draw_plans", hungry)
    said = tried(roomtie, "planfromcaptures", {**job, "PLOT_SCALES": ["1:50"]})
    assert said["ended"] == "refused" and said["sentence"].startswith("The memory that")
    assert not [*tmp_path.iterdir()]
