# SPDX-License-Identifier: GPL-2.0-or-later
"""What is known of a building's results: a small file beside them, and who works at them now.

The file is written after everything that it tells of, and taken away before anything of that is
replaced: whenever the work stops, what it calls done is done.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from .tree import Building, file_of

STATE = "state.json"
DRAFT = f".{STATE}"
LOCK = ".lock"
DONE, FAILED, NOT_YET = "done", "failed", "not yet"


@dataclass(frozen=True)
class State:
    """How a building's last run ended: `key` is what it was made of, `message` why it failed,
    `seconds` how long it took, `finished` when (ISO 8601, UTC)."""

    status: str = NOT_YET
    key: str = ""
    message: str = ""
    seconds: float = 0.0
    finished: str = ""


def key_of(building: Building, parameters: Mapping[str, Mapping[str, Any]], version: str) -> str:
    """The SHA-256 of all that a building's results depend on: names and bytes of its captures, the
    parameters by algorithm (of those that name a file, its bytes), the plugin's version. Where the
    tree lies does not matter."""
    told = {
        algorithm: {name: _told(value) for name, value in own.items()}
        for algorithm, own in parameters.items()
    }
    digest = hashlib.sha256(f"{version}\0{json.dumps(told, sort_keys=True)}\0".encode())
    for path in building.inputs():
        name = path.relative_to(building.captures).as_posix()
        digest.update(f"{name}\0{_digest(path)}\0".encode())
    return digest.hexdigest()


def _told(value: Any) -> Any:
    path = file_of(value)
    return value if path is None else [path.name, _digest(path)]


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def read_state(folder: Path) -> State:
    """The state of the results in a folder; a file that is not one counts as none."""
    try:
        found = json.loads((folder / STATE).read_text(encoding="utf-8"))
        return State(**found)
    except (OSError, ValueError, TypeError, RecursionError):
        return State()


def write_state(folder: Path, state: State) -> None:
    """Replace the state, on the disk before this returns. Only for who is `alone` there."""
    draft = folder / DRAFT
    with draft.open("w", encoding="utf-8") as file:
        json.dump(asdict(state), file, indent=1)
        file.flush()
        os.fsync(file.fileno())
    os.replace(draft, folder / STATE)


def forget_state(folder: Path) -> None:
    """Take the state away."""
    (folder / STATE).unlink(missing_ok=True)


@contextmanager
def alone(folder: Path) -> Iterator[bool]:
    """Whether nobody else works at this folder; while the block runs, nobody will. The lock goes
    with the process, however that ends."""
    import fcntl

    folder.mkdir(parents=True, exist_ok=True)
    with (folder / LOCK).open("a") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            yield False
            return
        yield True
