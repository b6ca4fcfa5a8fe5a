# SPDX-License-Identifier: GPL-2.0-or-later
"""Whether a PDF is whole: the host's printer does not say when the disk was full.

Source: ISO 32000-1:2008, 7.5.5 (file trailer) and 7.5.6 (incremental updates, each with a trailer
of its own).
"""

from __future__ import annotations

import re
from pathlib import Path

TRAILER = re.compile(rb"startxref\s+(\d+)\s+%%EOF")
TABLE = re.compile(rb"xref\s|\d+\s+\d+\s+obj\b")
"""A table of objects, or an object that is a stream with the table."""


def is_whole(path: Path) -> bool:
    """Whether the file ends with a trailer, and every trailer's table is where it says: whatever
    did not reach the disk would have moved it. OSError where the file cannot be read."""
    data = path.read_bytes()
    trailers = [*TRAILER.finditer(data)]
    return (
        data.startswith(b"%PDF-")
        and bool(trailers)
        and not data[trailers[-1].end() :].strip()
        and all(TABLE.match(data, int(one[1])) for one in trailers)
    )
