# SPDX-License-Identifier: GPL-2.0-or-later
"""The text in a file's bytes, whatever wrote it, in lines as an editor counts them."""

from __future__ import annotations

import codecs

from .findings import Findings

# Bytes that no text holds, whatever its encoding: control signs but tab, line ends, page breaks
# and the end-of-file sign of old systems.
_NO_TEXT = bytes(sorted(set(range(32)) - {9, 10, 11, 12, 13, 26}))
UTF_16_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_END_OF_FILE = "\x1a"


def is_binary(data: bytes) -> bool:
    """Whether bytes hold signs that no text has in UTF-8, Latin-1 or, with its mark, UTF-16."""
    if data.startswith(UTF_16_MARKS):
        data = data.decode("utf-16", errors="replace").encode("utf-8", errors="replace")
    return len(data.translate(None, _NO_TEXT)) != len(data)


def head_text(data: bytes) -> str:
    """The text of the first part of a file; what is cut or damaged is replaced."""
    codec = "utf-16" if data.startswith(UTF_16_MARKS) else "utf-8-sig"
    return data.decode(codec, errors="replace")


def lines_of(text: str) -> list[str]:
    """Lines as an editor counts them (``str.splitlines`` also breaks at signs within a line)."""
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def decoded(data: bytes, findings: Findings) -> str:
    """The text of a file: UTF-8, UTF-16 by its mark, else Windows-1252 (which holds Latin-1), with
    a warning. Empty, and a finding, when there is none."""
    if not data.strip(b"\xef\xbb\xbf \t\r\n"):
        findings.bad("the file is empty; expected a capture.")
        return ""
    if is_binary(data):
        findings.bad(f"the file is binary{_where(data)}; expected capture text (UTF-8).")
        return ""
    # Files that were put together have the byte-order mark of each.
    return _text(data, findings).rstrip(_END_OF_FILE).replace("\n\ufeff", "\n")


def _text(data: bytes, findings: Findings) -> str:
    if data.startswith(UTF_16_MARKS):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError as error:
            line = len(lines_of(data[: error.start].decode("utf-16", errors="replace")))
            findings.bad("the UTF-16 text is damaged or cut off here; expected it whole.", line)
            return ""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = len(lines_of(data[: error.start].decode("latin-1")))
    try:
        # Latin-1 has nothing but control signs where Windows-1252 has signs of its own.
        text, name = data.decode("cp1252"), "Windows-1252"
        if text == data.decode("latin-1"):
            name = "Latin-1"
    except UnicodeDecodeError:
        text, name = data.decode("latin-1"), "Latin-1"
    findings.warn(f"the text is not UTF-8; it was read as {name}. Check the names.", line)
    return text


def _where(data: bytes) -> str:
    """Where the first sign stands that no text has; nothing for UTF-16."""
    if data.startswith(UTF_16_MARKS):
        return ""
    first = next(index for index, byte in enumerate(data) if byte in _NO_TEXT)
    line = 1 + len(data[:first].replace(b"\r\n", b"\n").translate(None, _ALL_BUT_ENDS))
    return f" (byte 0x{data[first]:02x} in line {line})"


_ALL_BUT_ENDS = bytes(sorted(set(range(256)) - {10, 13}))
