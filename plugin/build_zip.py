#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-2.0-or-later
"""Builds the release zip: ``python3 plugin/build_zip.py [OUTPUT.zip]``.

What is shipped is an explicit rule, not whatever lies in the checkout, and the same checkout
gives the same bytes. Pure-Python dependencies that hosts do not bring are put inside, as published,
in the version that ``processing/requirements.txt`` pins.
Needs the standard library, Qt's lrelease for the translations, and pip when the dependency is not
installed already.
"""

from __future__ import annotations

import configparser
import os
import re
import shutil
import subprocess
import sys
import tempfile
import zipfile
from importlib import metadata
from pathlib import Path, PurePosixPath

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = "roomtie"

SINGLE_FILES = ("__init__.py", "metadata.txt", "LICENSE", "README.md")
FOLDERS = ("plugin", "processing", "testdata/example")
SUFFIXES = frozenset(
    {".py", ".txt", ".md", ".html", ".css", ".svg", ".png", ".jpg", ".qml", ".qpt", ".ui"}
    | {".csv", ".json", ".geojson", ".xml"}  # captures, and tables and maps beside them
)
NOT_SHIPPED = frozenset({"plugin/build_zip.py", "plugin/gather_texts.py"})
SOURCES = frozenset({".ts"})
"""Kinds that are shipped compiled."""
NEVER = frozenset({"__pycache__", ".DS_Store"})

TOOLS = ("/usr/lib/qt5/bin", "/usr/lib/qt6/bin")
"""Where Debian keeps Qt's own tools."""

BUNDLED = ("pygeomag", "threadpoolctl")
CUT = {"threadpoolctl/threadpoolctl.py": b"\ndef _main("}
"""Where a module ends for us: after it stands its command line, which runs any code it is given, so
that the plugin repository's scan would refuse the release."""
BUNDLED_FOLDER = "processing/bundled"

# The zip format knows no earlier day.
TIMESTAMP = (1980, 1, 1, 0, 0, 0)
REGULAR_FILE = 0o100644 << 16


class ReleaseError(Exception):
    """The checkout cannot be released as it is; told in one sentence."""


def version(root: Path = ROOT) -> str:
    """The version that ``metadata.txt`` names."""
    manifest = configparser.ConfigParser(interpolation=None)
    if not manifest.read(root / "metadata.txt", encoding="utf-8"):
        raise ReleaseError("metadata.txt is missing: the release takes its version from it")
    return manifest["general"]["version"].strip()


def shipped_files(root: Path = ROOT) -> dict[str, bytes]:
    """Contents by path inside the package. A file that no rule knows stops the release: it is
    either forgotten here or does not belong there."""
    contents = {}
    for name in SINGLE_FILES:
        if not (root / name).is_file():
            raise ReleaseError(f"{name} is missing: every release carries it")
        contents[name] = (root / name).read_bytes()
    for folder in FOLDERS:
        if not (root / folder).is_dir():
            raise ReleaseError(f"the folder {folder} is missing: every release carries it")
        for path in sorted((root / folder).rglob("*")):
            inside = path.relative_to(root)
            name = inside.as_posix()
            if path.is_dir() or name in NOT_SHIPPED or NEVER.intersection(inside.parts):
                continue
            if path.suffix in SOURCES:
                continue
            if path.suffix not in SUFFIXES:
                raise ReleaseError(
                    f"{name} is of a kind that releases do not carry: move it out of {folder}, "
                    f"or add {path.suffix or 'its name'} to the rule in plugin/build_zip.py"
                )
            contents[name] = path.read_bytes()
    return contents


def compiled_catalogues(root: Path = ROOT) -> dict[str, bytes]:
    """The translations in the form that the host reads, by path inside the package."""
    catalogues = sorted((root / "plugin" / "i18n").glob("*.ts"))
    if not catalogues:
        return {}
    places = os.pathsep.join([os.environ.get("PATH", ""), *TOOLS])
    compiler = shutil.which("lrelease", path=places)
    if compiler is None:
        raise ReleaseError(
            "lrelease is missing, which compiles the translations: apt install qttools5-dev-tools"
        )
    contents = {}
    with tempfile.TemporaryDirectory() as folder:
        for catalogue in catalogues:
            compiled = Path(folder) / catalogue.with_suffix(".qm").name
            command = [compiler, "-silent", str(catalogue), "-qm", str(compiled)]
            if subprocess.run(command, check=False).returncode != 0:  # noqa: S603 - own words
                raise ReleaseError(f"lrelease could not compile {catalogue.name}")
            contents[f"plugin/i18n/{compiled.name}"] = compiled.read_bytes()
    return contents


def pinned_version(distribution: str, root: Path = ROOT) -> str:
    """The version of ``distribution`` that ``processing/requirements.txt`` pins."""
    requirements = (root / "processing" / "requirements.txt").read_text(encoding="utf-8")
    pin = re.search(rf"^{re.escape(distribution)}==([\w.]+)", requirements, re.MULTILINE)
    if pin is None:
        raise ReleaseError(
            f"processing/requirements.txt does not pin {distribution}: "
            f"a release needs a line {distribution}==VERSION"
        )
    return pin[1]


def installed_distribution(distribution: str, wanted: str) -> dict[str, bytes]:
    """The files of an installed distribution; empty where it is absent or of another version."""
    try:
        found = metadata.distribution(distribution)
    except metadata.PackageNotFoundError:
        return {}
    if found.version != wanted or found.files is None:
        return {}
    return {
        file.as_posix(): Path(str(file.locate())).read_bytes()
        for file in found.files
        if file.suffix != ".pyc"
    }


def downloaded_distribution(distribution: str, wanted: str) -> dict[str, bytes]:
    """The files of the wheel that pip's index offers."""
    requirement = f"{distribution}=={wanted}"
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps"]
        command += ["--only-binary", ":all:", "--dest", folder, requirement]
        if subprocess.run(command, check=False).returncode != 0:  # noqa: S603 - no shell, own words
            raise ReleaseError(
                f"{requirement} is neither installed here nor could pip download it: "
                f"install it, or run this with the Python of the test environment"
            )
        (wheel,) = Path(folder).glob("*.whl")
        with zipfile.ZipFile(wheel) as archive:
            return {name: archive.read(name) for name in archive.namelist()}


def shortened(name: str, content: bytes) -> bytes:
    """A module without what `CUT` names."""
    end = CUT.get(name)
    if end is None:
        return content
    if content.count(end) != 1:
        raise ReleaseError(f"{name} has no command line to leave out: look at it and change CUT")
    return content[: content.index(end)].rstrip() + b"\n"


def bundled_files(distribution: str, root: Path = ROOT) -> dict[str, bytes]:
    """The package of one dependency as it was published, its licence with it."""
    wanted = pinned_version(distribution, root)
    files = installed_distribution(distribution, wanted) or downloaded_distribution(
        distribution, wanted
    )
    contents, licensed = {}, False
    for name, content in files.items():
        path = PurePosixPath(name)
        if path.parts[0] == distribution:
            if path.suffix in {".so", ".pyd", ".dll"}:
                raise ReleaseError(f"{distribution} {wanted} is not pure Python: {name}")
            contents[f"{BUNDLED_FOLDER}/{name}"] = content
        elif name == f"{distribution}.py":  # a package of one module
            inside = f"{distribution}/{name}"
            contents[f"{BUNDLED_FOLDER}/{inside}"] = shortened(inside, content)
        elif ".dist-info" in path.parts[0] and path.name.upper().startswith(("LICEN", "COPYING")):
            contents[f"{BUNDLED_FOLDER}/{distribution}/{path.name}"] = content
            licensed = True
    if not licensed:
        raise ReleaseError(f"{distribution} {wanted} carries no licence file: it cannot be shipped")
    return contents


def release_contents(root: Path = ROOT) -> dict[str, bytes]:
    """Everything the zip holds, by path inside the package."""
    contents = {**shipped_files(root), **compiled_catalogues(root)}
    named = []
    for distribution in BUNDLED:
        contents.update(bundled_files(distribution, root))
        named.append(f"{distribution} {pinned_version(distribution, root)}")
    contents[f"{BUNDLED_FOLDER}/README.txt"] = (
        f"Copies of pure-Python packages, each under the licence in its folder: "
        f"{', '.join(named)}. Unchanged, but for threadpoolctl's command line, which is left out.\n"
    ).encode()
    return contents


def write_zip(output: Path, contents: dict[str, bytes]) -> None:
    """The same contents give the same bytes: sorted, dated alike, with the same rights."""
    with zipfile.ZipFile(output, "w") as archive:
        for name in sorted(contents):
            entry = zipfile.ZipInfo(f"{PACKAGE}/{name}", TIMESTAMP)
            entry.create_system = 3  # Unix, whatever this is built on
            entry.external_attr = REGULAR_FILE
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, contents[name], compresslevel=9)


def main(arguments: list[str]) -> int:
    """Builds the zip named by the arguments and says what it is."""
    try:
        name = arguments[0] if arguments else f"{PACKAGE}-{version()}.zip"
        contents = release_contents()
        write_zip(Path(name), contents)
    except ReleaseError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    sys.stdout.write(f"{name}: {PACKAGE} {version()}, {len(contents)} files\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
