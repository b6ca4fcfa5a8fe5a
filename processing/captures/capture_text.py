# SPDX-License-Identifier: GPL-2.0-or-later
"""Capture text: ``# key: value`` lines, a row of column names, then one reading a row."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType

from ..progress import SILENT, Progress
from .cells import split
from .columns import Columns, column_names, unit_of
from .decoding import decoded, head_text, is_binary, lines_of
from .findings import Findings, Rules, listed, shown
from .header import KEYS, Header
from .model import Capture, Survey
from .numerals import COMMA_NUMBER
from .readings import to_capture
from .rows import COLUMNS, NUMBERS, read_in_parts

_WORDS = ("station", "comment")
_NUMBER_STARTS = frozenset("0123456789+-.")
# What a spreadsheet makes of a line: it quotes lines that hold the separator, pads all lines to one
# number of cells, and may begin the file by naming the separator.
_QUOTED_LINE = re.compile(r'"(#(?:[^"]|"")*)"([,;\t]*)')
_SEPARATOR_HINT = re.compile(r'"?sep=.?"?[,;\t]*', re.IGNORECASE)
_PADDING = ",;\t "
_STRIDE = 20_000


def is_capture_text(data: bytes) -> bool:
    """Whether the first part of a file looks like capture text: a ``#`` line with one of the keys,
    or a row of column names with angle and distance."""
    if is_binary(data):
        return False
    for line in lines_of(head_text(data)):
        if line.lstrip()[:2].startswith(("#", '"#')):
            pair = _key_value(line.strip())
            if pair and pair[0].lower() in KEYS:
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
    text = decoded(data, findings)
    progress.at(0.05)
    lines = lines_of(text)
    blocks = list(_blocks(lines, findings, progress.part(0.1, 0.3)))
    for part, block in progress.part(0.3, 1.0).each(blocks):
        capture = _capture(block, rules, findings, part)
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


@dataclass
class _Block:
    """One capture's lines: the header's, the column names, the rows."""

    header: list[tuple[int, str, str]] = field(default_factory=list)
    columns: Columns | None = None
    column_line: int = 0
    rows: list[str] = field(default_factory=list)
    row_lines: list[int] = field(default_factory=list)
    cut_off: bool = False

    @property
    def first_line(self) -> int:
        return self.header[0][0] if self.header else self.column_line


def _key_value(line: str) -> tuple[str, str] | None:
    """Key and value of a stripped ``# key: value`` line; None for any other."""
    quoted = _QUOTED_LINE.fullmatch(line)
    if quoted:
        line = quoted[1].replace('""', '"') + quoted[2]
    if not line.startswith("#"):
        return None
    line = line.lstrip("#")
    key, sign, value = line.partition(":")
    if not sign:  # some write = instead: clear where the key is one of the contract's
        key, sign, value = line.partition("=")
        sign = sign if key.strip().lower() in KEYS else ""
    return (key.strip(), value.strip()) if sign and key.strip() else None


def _blocks(lines: Sequence[str], findings: Findings, progress: Progress) -> Iterator[_Block]:
    """Cut a file into captures: each begins with ``#`` lines or with a row of column names."""
    block = _Block()
    # Keys among or behind the readings: the next capture's when it begins, else this one's.
    ahead: list[tuple[int, str, str]] = []
    end = 0
    for number, line in enumerate(lines, start=1):
        if number % _STRIDE == 0:
            progress.at(number / len(lines))
        if number <= end:
            continue
        if block.columns is None or line[:1] not in _NUMBER_STARTS:
            bare = line.strip()
            if not bare.strip(_PADDING):
                continue
            if bare.startswith(("#", '"#')) and not _is_row(line, block):
                pair = _key_value(bare)
                if pair:
                    (ahead if block.columns else block.header).append((number, *pair))
                continue
            columns = column_names(line)
            if columns:
                if block.columns:
                    yield block
                    block = _Block(ahead)
                    ahead = []
                block.columns, block.column_line = columns, number
                continue
            if number == 1 and _SEPARATOR_HINT.fullmatch(bare):
                continue
        if ahead:
            if _begins_capture(ahead):
                yield block
                block = _Block(ahead)
            else:
                block.header += ahead
            ahead = []
        if block.columns:
            end = max(number, _end_of_numbers(lines, number))
            block.rows += lines[number - 1 : end]
            block.row_lines += range(number, end + 1)
        else:
            findings.bad(
                f"found {shown(line)}; expected a row of column names with angle and distance, "
                "separated by commas, semicolons or tabs, before the readings.",
                number,
            )
    if _begins_capture(ahead):
        yield block
        block = _Block(ahead)
    else:
        block.header += ahead
    block.cut_off = bool(block.rows) and block.row_lines[-1] == len(lines)
    if block.header or block.columns:
        yield block


def _end_of_numbers(lines: Sequence[str], start: int) -> int:
    """Where the lines end that begin with a number, from a place on, or after very many."""
    last = min(start + _STRIDE, len(lines))
    for place in range(start, last):
        if lines[place][:1] not in _NUMBER_STARTS:
            return place
    return last


def _begins_capture(header: Sequence[tuple[int, str, str]]) -> bool:
    """Whether one of the contract's keys is there; a remark or a comment may stand anywhere."""
    return any(key.lower() in KEYS and key.lower() != "comment" for _, key, _ in header)


def _is_row(line: str, block: _Block) -> bool:
    """Whether a line that begins with # is a reading: its first value is a name such as #12."""
    if block.columns is None or block.columns.names[0] in NUMBERS:
        return False
    cells = split([line], block.columns.separator)[0]
    return len(cells) == len(block.columns.names) and not cells[0].startswith("# ")


def _header(block: _Block, findings: Findings) -> Header:
    header = Header()
    separator, padding = "", 0
    if block.columns:
        separator, padding = block.columns.separator, len(block.columns.names) - 1
    padded = padding and all(
        len(value) - len(value.rstrip(separator)) == padding for _, _, value in block.header
    )
    for line, key, value in block.header:
        if padded:
            value = value.rstrip(separator).rstrip()
        number = separator in ("\t", ";") and COMMA_NUMBER.fullmatch(value)
        if number and key.lower() in KEYS and key.lower() not in _WORDS:
            value = value.replace(",", ".")
        header.add(key, value, findings, line)
    header.check_geotag(findings, block.first_line)
    return header


def _capture(block: _Block, rules: Rules, findings: Findings, progress: Progress) -> Capture | None:
    columns = block.columns
    if not block.rows or columns is None:
        findings.bad(
            "the header is followed by no readings; expected column names and rows of readings.",
            block.first_line,
        )
        return None
    header = _header(block, findings)
    names = columns.names
    for name in sorted({name for name in names if names.count(name) > 1 and name}):
        findings.bad(f"the column {name} is there twice; expected once.", block.column_line)
        if name in COLUMNS:
            return None
    unknown = [
        shown(column.written) for column in columns.columns if column.name not in ("", *COLUMNS)
    ]
    nameless = [place for place, name in enumerate(names) if not name]
    cells = split(block.rows, columns.separator) if nameless else []
    if any(row[place].strip() for row in cells for place in nameless if place < len(row)):
        unknown.append("one without a name")
    if unknown:
        findings.warn(f"columns not used: {listed(unknown)}.", block.column_line)

    def unit(name: str) -> str | None:
        lines = {"header_line": block.first_line, "column_line": block.column_line}
        return unit_of(name, columns, header, rules, findings, **lines)

    angle_unit, distance_unit = unit("angle"), unit("distance")
    zenith_unit = unit("zenith") if columns.stated("zenith") else angle_unit
    rotation = header.choice("rotation", rules, findings, block.first_line)
    if angle_unit is None or distance_unit is None or rotation is None or zenith_unit is None:
        return None
    raw = read_in_parts(
        block.rows,
        block.row_lines,
        names,
        columns.separator,
        angle_unit,
        findings,
        progress,
        zenith_unit=zenith_unit,
        cut_off=block.cut_off,
    )
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
        zenith_unit=zenith_unit,
    )
