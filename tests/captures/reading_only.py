# SPDX-License-Identifier: GPL-2.0-or-later
"""Captures as their files have them, before anything is flagged or checked."""

from pathlib import Path

from roomtie.processing.captures.findings import Rules
from roomtie.processing.captures.reading import read_files


def read_captures(path, *, profiles=(), **rules):
    return read_files(Path(path), Rules(profiles=tuple(profiles), **rules)).survey()
