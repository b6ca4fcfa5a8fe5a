# SPDX-License-Identifier: GPL-2.0-or-later
"""The archive of an indoor map: a manifest and one collection of features a type, in a zip."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..progress import SILENT, Progress
from .indoor_model import IndoorMap

VERSION = "1.0.0"
TIMESTAMP = (1980, 1, 1, 0, 0, 0)  # the zip format knows no earlier day
REGULAR_FILE = 0o100644 << 16


def manifest(created: str, generated_by: str, language: str) -> dict[str, Any]:
    """The archive's description; `created` is ISO 8601."""
    return {
        "version": VERSION,
        "created": created,
        "generated_by": generated_by,
        "language": language,
        "extensions": None,
    }


def write_archive(
    path: Path, contents: IndoorMap, described: Mapping[str, Any], progress: Progress = SILENT
) -> None:
    """Write the archive: the same contents give the same bytes."""
    files: dict[str, Any] = {"manifest.json": dict(described)}
    for kind, features in contents.features.items():
        files[f"{kind}.geojson"] = {"type": "FeatureCollection", "features": list(features)}
    with zipfile.ZipFile(path, "w") as archive:
        for number, (name, content) in enumerate(files.items()):
            progress.at(number / len(files))
            entry = zipfile.ZipInfo(name, TIMESTAMP)
            entry.create_system = 3  # Unix, whatever this is written on
            entry.external_attr = REGULAR_FILE
            entry.compress_type = zipfile.ZIP_DEFLATED
            text = json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False)
            archive.writestr(entry, f"{text}\n", compresslevel=9)
