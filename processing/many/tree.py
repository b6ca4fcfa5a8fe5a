# SPDX-License-Identifier: GPL-2.0-or-later
"""The surveys of a folder tree, one a building.

A building is a folder with a subfolder ``captures``, or a folder that holds captures itself and no
such building below it. ``control.csv`` beside the captures is its control, and
``parameters.json`` holds parameters of its own.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import SurveyError

CAPTURES = "captures"
CONTROL = "control.csv"
PARAMETERS = "parameters.json"
SUFFIXES = frozenset({".csv", ".txt", ".json", ".xml"})
PART = re.compile(r"(\d+)/(\d+)")


@dataclass(frozen=True)
class Building:
    """One survey: its name (the path from the top of the tree, with ``/``), its folder, and where
    its captures lie."""

    name: str
    folder: Path
    captures: Path

    def parameters(self) -> dict[str, Any]:
        """Parameters of the algorithm that this building brings along. SurveyError when its file of
        parameters is no JSON object."""
        found: dict[str, Any] = {}
        if (self.folder / CONTROL).is_file():
            found.update(CONTROL=str(self.folder.resolve() / CONTROL), CONTROL_NAME="target")
        path = self.folder / PARAMETERS
        if path.is_file():
            found.update(absolute(read_parameters(path), self.folder))
        return found

    def inputs(self) -> list[Path]:
        """Every file of the captures, in a fixed order."""
        files = {path for path in self.captures.rglob("*") if path.is_file()}
        return sorted(path for path in files if not _hidden(path, self.folder))


def find_buildings(top: Path) -> list[Building]:
    """The buildings of a tree by name. SurveyError when it cannot be read, or holds none."""
    if not top.is_dir():
        raise SurveyError(f"{top}: there is no such folder; expected a tree of surveys.")
    found = sorted(_below(top, top), key=lambda one: one.name)
    if not found:
        raise SurveyError(
            f"{top}: no folder of it holds captures; expected folders with a subfolder {CAPTURES}, "
            f"or with files {', '.join(sorted(SUFFIXES))} in them."
        )
    return found


def _below(folder: Path, top: Path) -> list[Building]:
    try:
        with os.scandir(folder) as entries:
            inside = sorted(
                (e for e in entries if not e.name.startswith(".")), key=lambda e: e.name
            )
    except OSError as error:
        raise SurveyError(f"{folder}: could not be read ({error.strerror or error}).") from error
    folders = [Path(entry.path) for entry in inside if entry.is_dir() and not _back(entry)]
    name = folder.relative_to(top).as_posix() if folder != top else top.resolve().name
    if any(path.name == CAPTURES for path in folders):
        return [Building(name, folder, folder / CAPTURES)]
    found = [building for path in folders for building in _below(path, top)]
    own = [entry for entry in inside if entry.is_file() and _is_capture(Path(entry.path))]
    return found or ([Building(name, folder, folder)] if own else [])


def _is_capture(path: Path) -> bool:
    return path.suffix.lower() in SUFFIXES and path.name not in (CONTROL, PARAMETERS)


def _back(entry: os.DirEntry[str]) -> bool:
    """Whether a link leads to where it came from."""
    return entry.is_symlink() and Path(entry.path).resolve() in Path(entry.path).absolute().parents


def _hidden(path: Path, folder: Path) -> bool:
    return any(part.startswith(".") for part in path.relative_to(folder).parts)


def read_parameters(path: Path) -> dict[str, Any]:
    """Parameters from a JSON object. SurveyError tells the file and what it is instead."""
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise SurveyError(f"{path}: could not be read as JSON ({error}).") from error
    if not isinstance(found, dict):
        raise SurveyError(
            f"{path}: holds a {type(found).__name__}; expected an object of parameters such as "
            '{"TARGET_CRS": "EPSG:32631"}.'
        )
    return found


def file_of(value: Any) -> Path | None:
    """The file that a parameter's value names, if it does: a path, or one with the host's
    ``|layername=``."""
    if not isinstance(value, str) or not value:
        return None
    name = value.split("|", 1)[0]
    # Path.is_file would raise for a text that is too long for a name.
    return Path(name) if os.path.isfile(name) else None


def absolute(parameters: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """The parameters with names of files that lie in a folder made absolute."""

    def one(value: Any) -> Any:
        inside = str(folder.resolve() / value) if isinstance(value, str) and value else value
        return inside if file_of(inside) is not None else value

    return {name: one(value) for name, value in parameters.items()}


def part_of(buildings: list[Building], part: str) -> list[Building]:
    """Part K of N, as ``K/N`` with K from 1: every N-th building, so that neighbours, which are
    often alike, share the work. Empty: all. SurveyError when it is written otherwise."""
    if not part:
        return buildings
    match = PART.fullmatch(part)
    number, count = (int(word) for word in match.groups()) if match else (0, 0)
    if not 1 <= number <= count:
        raise SurveyError(f"--part: found {part}; expected K/N with K from 1 to N, such as 3/10.")
    return buildings[number - 1 :: count]
