# SPDX-License-Identifier: GPL-2.0-or-later
"""The plugin's version, which its manifest names and nothing else."""

from __future__ import annotations

from pathlib import Path

METADATA = Path(__file__).resolve().parent.parent / "metadata.txt"


def plugin_version() -> str:
    """The version in ``metadata.txt``."""
    for line in METADATA.read_text("utf-8").splitlines():
        if line.startswith("version="):
            return line.split("=", 1)[1].strip()
    return "unknown"
