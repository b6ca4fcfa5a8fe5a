# SPDX-License-Identifier: GPL-2.0-or-later
"""The release zip: the same twice, all that is needed, nothing else."""

import hashlib
import subprocess
import sys
import zipfile
from pathlib import Path, PurePosixPath

import pytest
import scipy.linalg  # noqa: F401 - loads the libraries
from roomtie.plugin import build_zip
from threadpoolctl import threadpool_info

ROOT = Path(build_zip.__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def release(tmp_path_factory) -> Path:
    """Built as DEVELOPERS.md says, by a process of its own."""
    output = tmp_path_factory.mktemp("release") / "roomtie.zip"
    subprocess.run([sys.executable, ROOT / "plugin" / "build_zip.py", output], check=True)
    return output


@pytest.fixture
def checkout(tmp_path) -> Path:
    """The smallest checkout that can be released."""
    for name, text in {
        "__init__.py": "",
        "metadata.txt": "[general]\nname=Roomtie\nversion=1.2.3\n",
        "LICENSE": "",
        "README.md": "",
        "plugin/__init__.py": "",
        "plugin/icons/roomtie.svg": "<svg/>",
        "plugin/build_zip.py": "",
        "processing/requirements.txt": "numpy>=1.21\npygeomag==1.1.0\n",
        "processing/captures/__init__.py": "",
        "processing/captures/__pycache__/reader.pyc": "",
        "testdata/example/a.csv": "",
        "testdata/make_example.py": "",
        "tests/conftest.py": "",
        ".ci/run": "",
    }.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text)
    return tmp_path


def test_the_same_checkout_gives_the_same_bytes(release, tmp_path):
    again = tmp_path / "again.zip"
    assert build_zip.main([str(again)]) == 0
    digests = {hashlib.sha256(path.read_bytes()).hexdigest() for path in (release, again)}
    assert len(digests) == 1


def test_everything_is_in_one_folder_of_the_package_name(release):
    with zipfile.ZipFile(release) as archive:
        names = archive.namelist()
    assert {PurePosixPath(name).parts[0] for name in names} == {"roomtie"}
    for needed in ("__init__.py", "metadata.txt", "LICENSE", "README.md"):
        assert f"roomtie/{needed}" in names
    assert "roomtie/processing/requirements.txt" in names
    assert any(name.startswith("roomtie/testdata/example/") for name in names)


def test_nothing_of_the_workshop_is_shipped(release):
    with zipfile.ZipFile(release) as archive:
        names = [PurePosixPath(name) for name in archive.namelist()]
    assert not [name for name in names if name.parts[1] not in {
        "__init__.py", "metadata.txt", "LICENSE", "README.md", "plugin", "processing", "testdata"
    }]  # fmt: skip
    assert not [
        name for name in names if name.parts[1] == "testdata" and name.parts[2] != "example"
    ]
    assert not [name for name in names if "__pycache__" in name.parts or name.suffix == ".pyc"]
    assert PurePosixPath("roomtie/plugin/build_zip.py") not in names


def test_every_module_of_the_checkout_is_shipped(release):
    with zipfile.ZipFile(release) as archive:
        shipped = set(archive.namelist())
    for folder in ("plugin", "processing"):
        for path in (ROOT / folder).rglob("*.py"):
            name = path.relative_to(ROOT).as_posix()
            if name not in build_zip.NOT_SHIPPED:
                assert f"roomtie/{name}" in shipped


def test_the_bundled_declination_is_the_published_one(release, tmp_path):
    """From the zip and without the installed package: test values of the World Magnetic Model 2025
    (NOAA/NCEI, WMM2025_TEST_VALUES.txt, declination printed to 0.01 deg) at whole years, where the
    date leaves no room for rounding."""
    published = {(93, 43, 65e3): 0.50, (-8, -59, 39e3): -15.75, (-103, -50, 3e3): 27.96}
    with zipfile.ZipFile(release) as archive:
        archive.extractall(tmp_path)
    program = f"""
import math, sys
from datetime import date
sys.modules["pygeomag"] = None
sys.path.insert(0, {str(tmp_path)!r})
from roomtie.processing.site.declination import magnetic_field
for place in {list(published)!r}:
    print(math.degrees(magnetic_field(*place, date(2025, 1, 1)).declination_rad))
assert sys.modules["pygeomag"].__file__.startswith({str(tmp_path)!r})
"""
    command = [sys.executable, "-c", program]
    result = subprocess.run(command, capture_output=True, text=True, cwd="/", check=False)
    assert result.returncode == 0, result.stderr
    got = [float(line) for line in result.stdout.split()]
    assert got == pytest.approx(list(published.values()), abs=0.005)


def test_the_bundled_packages_bring_their_licences(release):
    with zipfile.ZipFile(release) as archive:
        licences = {
            name: archive.read(f"roomtie/processing/bundled/{name}/LICENSE").decode("utf-8")
            for name in build_zip.BUNDLED
        }
    assert "MIT" in licences["pygeomag"]
    assert "Redistribution and use in source" in licences["threadpoolctl"]


def test_the_bundled_control_of_threads_is_whole_but_for_its_command_line(release, tmp_path):
    with zipfile.ZipFile(release) as archive:
        archive.extractall(tmp_path)
    program = f"""
import sys
sys.modules["threadpoolctl"] = None
sys.path.insert(0, {str(tmp_path)!r})
from roomtie.processing import threads
control = threads._threadpoolctl()
assert control.__file__.startswith({str(tmp_path)!r})
assert not hasattr(control, "_main")
with threads.one_thread():
    print({{one["num_threads"] for one in control.threadpool_info() if one["user_api"] == "blas"}})
"""
    command = [sys.executable, "-c", program]
    result = subprocess.run(command, capture_output=True, text=True, cwd="/", check=False)
    # The reference library knows no threads, and tells none.
    threaded = any(one["user_api"] == "blas" for one in threadpool_info())
    assert result.stdout.strip() == ("{1}" if threaded else "set()"), result.stderr


def test_a_dependency_that_has_changed_stops_the_release():
    with pytest.raises(build_zip.ReleaseError, match="no command line to leave out"):
        build_zip.shortened("threadpoolctl/threadpoolctl.py", b"def main():\n")


def test_a_small_checkout_ships_by_the_rule(checkout):
    assert sorted(build_zip.shipped_files(checkout)) == [
        "LICENSE",
        "README.md",
        "__init__.py",
        "metadata.txt",
        "plugin/__init__.py",
        "plugin/icons/roomtie.svg",
        "processing/captures/__init__.py",
        "processing/requirements.txt",
        "testdata/example/a.csv",
    ]
    assert build_zip.version(checkout) == "1.2.3"


@pytest.mark.parametrize("missing", ["LICENSE", "README.md", "metadata.txt"])
def test_a_missing_file_is_named(checkout, missing):
    (checkout / missing).unlink()
    with pytest.raises(build_zip.ReleaseError, match=missing):
        build_zip.shipped_files(checkout)


def test_a_file_that_no_rule_knows_stops_the_release(checkout):
    (checkout / "plugin" / "scratch.gpkg").write_bytes(b"")
    with pytest.raises(build_zip.ReleaseError, match=r"plugin/scratch\.gpkg .* move it out"):
        build_zip.shipped_files(checkout)


def test_an_unpinned_dependency_stops_the_release(checkout):
    (checkout / "processing" / "requirements.txt").write_text("pygeomag>=1.1\n")
    with pytest.raises(build_zip.ReleaseError, match="does not pin pygeomag"):
        build_zip.release_contents(checkout)
