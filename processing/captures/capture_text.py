# SPDX-License-Identifier: GPL-2.0-or-later
"""Capture text: ``# key: value`` lines, a row of column names, then one reading a row."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType

from ..progress import SILENT, Progress
from .findings import Findings, Rules, shown
from .header import KEYS, Header
from .model import Capture, Survey
from .readings import to_capture
from .rows import COLUMNS, column_names, read_rows

_KEY = re.compile(r"#+\s*([^:]+?)\s*:\s*(.*?)\s*")
_COMMA_NUMBER = re.compile(r"[+-]?\d*,\d+", re.ASCII)
_WORDS = ("station", "comment")

# Bytes that no text holds, whatever its encoding: control signs but tab, line ends, page breaks.
_NO_TEXT = bytes(sorted(set(range(32)) - {9, 10, 11, 12, 13, 26}))


def is_binary(data: bytes) -> bool:
    """Whether bytes hold signs that no UTF-8 or Latin-1 text has."""
    return len(data.translate(None, _NO_TEXT)) != len(data)


def is_capture_text(data: bytes) -> bool:
    """Whether the first part of a file looks like capture text: a ``#`` line with one of the keys,
    or a row of column names with angle and distance."""
    if is_binary(data):
        return False
    for line in _lines(data.decode("utf-8-sig", errors="replace")):
        if line.startswith("#"):
            match = _KEY.fullmatch(line.strip())
            if match and match[1].lower() in KEYS:
                return True
        elif column_names(line):
            return True
    return False


def read_capture_text(
    source: Path | bytes | str,
    *,
    name: str | None = None,
    angle_unit: str | None = None,
    distance_unit: str | None = None,
    rotation: str | None = None,
    skip_unreadable: bool = False,
    progress: Progress = SILENT,
) -> Survey:
    """The captures of one file of capture text.

    `source` is a path, or the content as bytes or text; `name` is the file name for messages and,
    without its suffix, the default station name. The units and the rotation win over the file's.
    Raises `SurveyError` naming file and line; with `skip_unreadable` what cannot be read is left
    out and told in `Survey.skipped`.
    """
    data = source.read_bytes() if isinstance(source, Path) else source
    if name is None:
        name = source.name if isinstance(source, Path) else "capture"
    data = data.encode() if isinstance(data, str) else data
    rules = Rules(angle_unit, distance_unit, rotation, skip_unreadable)
    findings = Findings(name, skip_unreadable)
    captures: list[Capture] = []
    for block in progress.over(list(_blocks(_decoded(data, findings), findings))):
        capture = _capture(block, rules, findings)
        if capture is not None:
            captures.append(capture)
    if not captures and not findings.skipped:
        findings.bad("the file holds no capture; expected column names and readings.")
    return Survey(
        tuple(captures),
        tuple(findings.skipped),
        tuple(findings.warnings),
        MappingProxyType({name: sha256(data).hexdigest()}),
    )


def _lines(text: str) -> list[str]:
    """Lines as an editor counts them (``str.splitlines`` also breaks at signs within a line)."""
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def _decoded(data: bytes, findings: Findings) -> list[str]:
    if not data.strip(b"\xef\xbb\xbf \t\r\n"):
        findings.bad("the file is empty; expected a capture.")
        return []
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        findings.bad("the file is UTF-16 text; expected UTF-8.")
        return []
    if is_binary(data):
        findings.bad("the file is binary; expected capture text (UTF-8).")
        return []
    try:
        return _lines(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        line = len(_lines(data[: error.start].decode("latin-1")))
        findings.warn("the text is not UTF-8; it was read as Latin-1. Check the names.", line)
        return _lines(data.decode("latin-1"))


@dataclass
class _Block:
    """One capture's lines: the header's, the column names, the rows."""

    header: list[tuple[int, str, str]] = field(default_factory=list)
    column_line: int = 0
    separator: str = ""
    names: list[str] = field(default_factory=list)
    rows: list[str] = field(default_factory=list)
    row_lines: list[int] = field(default_factory=list)

    @property
    def first_line(self) -> int:
        return self.header[0][0] if self.header else self.column_line


def _blocks(lines: Sequence[str], findings: Findings) -> Iterator[_Block]:
    """Cut a file into captures: each begins with ``#`` lines or with a row of column names."""
    block = _Block()
    for number, line in enumerate(lines, start=1):
        if line.startswith("#"):
            match = _KEY.fullmatch(line.strip())
            if not match:
                continue
            key, value = match.groups()
            # Only the contract's keys begin a capture; a remark among the readings does not.
            if block.column_line and key.lower() in KEYS:
                yield block
                block = _Block()
            block.header.append((number, key, value))
        elif not line.strip():
            continue
        elif (line[0].isalpha() or line[0] in '" ') and (found := column_names(line)):
            if block.column_line:
                yield block
                block = _Block()
            block.column_line = number
            block.separator, block.names = found
        elif block.column_line:
            block.rows.append(line)
            block.row_lines.append(number)
        else:
            findings.bad(
                f"found {shown(line)}; expected a row of column names with angle and distance, "
                "separated by commas, semicolons or tabs, before the readings.",
                number,
            )
    if block.header or block.column_line:
        yield block


def _header(block: _Block, findings: Findings) -> Header:
    header = Header()
    for line, key, value in block.header:
        number = block.separator in ("\t", ";") and _COMMA_NUMBER.fullmatch(value)
        if number and key.lower() in KEYS and key.lower() not in _WORDS:
            value = value.replace(",", ".")
        header.add(key, value, findings, line)
    header.check_geotag(findings, block.first_line)
    return header


def _capture(block: _Block, rules: Rules, findings: Findings) -> Capture | None:
    if not block.rows:
        findings.bad("the header is followed by no readings.", block.first_line)
        return None
    header = _header(block, findings)
    for name in sorted({name for name in block.names if block.names.count(name) > 1 and name}):
        findings.bad(f"the column {name} is there twice; expected once.", block.column_line)
        if name in COLUMNS:
            return None
    unknown = [name for name in block.names if name and name not in COLUMNS]
    if unknown:
        findings.warn(f"columns not used: {', '.join(unknown)}.", block.column_line)
    angle_unit = header.choice("angle_unit", rules, findings, block.first_line)
    distance_unit = header.choice("distance_unit", rules, findings, block.first_line)
    rotation = header.choice("rotation", rules, findings, block.first_line)
    if angle_unit is None or distance_unit is None or rotation is None:
        return None
    raw = read_rows(block.rows, block.row_lines, block.names, block.separator, angle_unit, findings)
    if not len(raw.line):
        findings.bad("no reading of this capture can be read.", block.first_line)
        return None
    return to_capture(
        raw,
        header,
        capture_file=findings.file,
        default_station=Path(findings.file).stem,
        angle_unit=angle_unit,
        distance_unit=distance_unit,
        rotation=rotation,
    )
