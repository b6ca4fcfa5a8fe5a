#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-2.0-or-later
"""Builds the release zip and looks at it as the host's plugin repository does when one is uploaded.

    check_release.py      with the Python of the test environment; prints what is wrong

The repository's scan is described in qgis/QGIS-Plugins-Website, `SECURITY_SCANNING.md` and
`qgis-app/plugins/security_scanner.py`: bandit, detect-secrets, kinds and rights of files. Its
metadata and its structure are judged by qgis-plugin-analyzer. Beside that: two builds under other
circumstances are the same bytes, and what is shipped of other people is as they published it.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import tempfile
import zipfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

ROOT = Path(__file__).resolve().parent.parent
TOOLS = Path(sys.executable).parent
MOST_MB = 20
"""The repository takes none of more than 25 MB (from memory)."""

PASSED_OVER = frozenset({"B404", "B410", "B603", "B607"})
"""What the repository leaves out as well: that a process is started at all is no fault."""

QUOTED_SQL = (
    "processing/layers/complaints.py",
    "processing/layers/geopackage_rows.py",
    "processing/layers/rtree.py",
    "processing/layers/maintained/",
    "processing/many/geopackage.py",
    "processing/many/postgis.py",
)
"""Where SQL is put together (B608): names of tables and columns cannot be bound. They are quoted,
and values from a file are checked to be one literal each (`edits.read_undo`)."""

WRONG_KINDS = frozenset({".exe", ".dll", ".so", ".dylib", ".bat", ".sh", ".ps1", ".cmd", ".pyc"})


def main() -> int:
    """Builds, checks, says what is wrong and returns the exit status."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        release = folder / "roomtie.zip"
        wrong = [*build_twice(release, folder)]
        if not wrong:
            with zipfile.ZipFile(release) as archive:
                wrong += files(archive, release.stat().st_size)
                archive.extractall(folder / "shipped")
            shipped = folder / "shipped" / "roomtie"
            wrong += [*bandit(shipped), *secrets(shipped), *analyser(shipped)]
    for said in wrong:
        print(said)
    print(f"{len(wrong)} faults of the release" if wrong else "the release is as it should be")
    return 1 if wrong else 0


def build_twice(release: Path, folder: Path) -> Iterator[str]:
    """The zip is written to `release`; a fault when a build under another umask, locale, time zone
    and seed gives other bytes."""
    digests = []
    for path, umask, told in (
        (release, 0o022, {}),
        (folder / "again.zip", 0o077, {"LC_ALL": "C", "TZ": "Pacific/Apia", "PYTHONHASHSEED": "7"}),
    ):
        command = [sys.executable, ROOT / "plugin" / "build_zip.py", path]
        built = subprocess.run(
            command, env={**os.environ, **told}, umask=umask, capture_output=True, text=True
        )
        if built.returncode:
            yield f"build_zip.py: {built.stderr.strip()}"
            return
        digests.append(hashlib.sha256(path.read_bytes()).hexdigest())
    print(f"{release.name}: {release.stat().st_size} bytes, SHA-256 {digests[0]}")
    if len(set(digests)) > 1:
        yield "two builds of the same checkout differ"


def files(archive: zipfile.ZipFile, size: int) -> Iterator[str]:
    """Kinds, rights and places of the files."""
    if size > MOST_MB * 1_000_000:
        yield f"the zip has {size} bytes; expected no more than {MOST_MB} MB"
    for entry in archive.infolist():
        path = PurePosixPath(entry.filename)
        if path.is_absolute() or ".." in path.parts or path.parts[0] != "roomtie":
            yield f"{entry.filename}: outside the package's folder"
        if any(part.startswith(".") for part in path.parts):
            yield f"{entry.filename}: hidden"
        if path.suffix.lower() in WRONG_KINDS:
            yield f"{entry.filename}: a kind that is not shipped"
        if entry.external_attr >> 16 & 0o7111:
            yield f"{entry.filename}: may be executed"


def bandit(shipped: Path) -> Iterator[str]:
    """What bandit says of the code, other than of SQL where that is known to be quoted."""
    found = json.loads(told("bandit", "-q", "-r", shipped, "-f", "json"))
    yield from (f"bandit: {error['filename']}: {error['reason']}" for error in found["errors"])
    known: Counter[str] = Counter()
    for one in found["results"]:
        place = Path(one["filename"]).relative_to(shipped).as_posix()
        if one["test_id"] in PASSED_OVER:
            continue
        if one["test_id"] == "B608" and place.startswith(QUOTED_SQL):
            known[place] += 1
            continue
        yield f"{place}:{one['line_number']}: {one['test_id']} {one['issue_text']}"
    print(f"bandit: {sum(known.values())} places of quoted SQL in {len(known)} modules")
    for prefix in QUOTED_SQL:
        if not any(place.startswith(prefix) for place in known):
            yield f"{prefix}: puts no SQL together any more; take it out of the list"


def secrets(shipped: Path) -> Iterator[str]:
    """What detect-secrets takes for a password, a key or a token."""
    words = ("scan", "--all-files", "--exclude-files", r"metadata\.txt", ".")
    found = json.loads(told("detect-secrets", *words, folder=shipped))
    if not found["plugins_used"]:
        yield "detect-secrets: used none of its detectors"
    for place, ones in found["results"].items():
        for one in ones:
            yield f"{place}:{one['line_number']}: {one['type']}"


def analyser(shipped: Path) -> Iterator[str]:
    """What qgis-plugin-analyzer says of metadata, structure and kinds of files."""
    words = ("analyze", "--scope", "metadata", "--linters", "none", "--no-cache", "--json")
    output = shipped.parent / "analysed"
    text = told("qgis-analyzer", *words, "--output", output, shipped)
    found = json.loads(text[text.index("{") :])
    standards = found["qgis_compliance"]["repository_standards"]
    yield from (
        f"{one['file']}: {one['type']}: {one['message']}"
        for one in found["qgis_compliance"]["best_practices"]["issues"]
    )
    for part in ("structure", "metadata"):
        if not standards[part]["is_valid"]:
            yield f"qgis-plugin-analyzer: {part}: {json.dumps(standards[part])[:300]}"
    repository = found["repository_compliance"]
    print(f"qgis-plugin-analyzer {found['analyzer_version']}: {json.dumps(repository)[:300]}")


def told(program: str, *words: object, folder: Path | None = None) -> str:
    """What a tool of the environment prints; its findings are no failure of the tool."""
    command = [TOOLS / program, *map(str, words)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=folder, timeout=900)
    if "{" not in done.stdout:
        raise SystemExit(f"{program} said no JSON: {done.stderr.strip() or done.stdout.strip()}")
    return done.stdout


if __name__ == "__main__":
    sys.exit(main())
