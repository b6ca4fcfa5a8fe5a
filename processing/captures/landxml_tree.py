# SPDX-License-Identifier: GPL-2.0-or-later
"""The parts of a LandXML file that are read, as a tree whose elements know their line.

The parser is expat of the standard library. It runs through a file in pieces and keeps only the
elements that are asked for, so that surfaces and alignments of a large file cost no memory.
Declared entities are refused: a file of a few hundred bytes can unfold to gigabytes with them (the
"billion laughs"), and external ones would read other files.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from ..progress import SILENT, Progress
from .findings import Findings, shown

MOST_ELEMENTS = 400_000
"""Elements kept of one file: more than 100,000 observations, and some 400 MB of memory."""

DEEPEST = 200
MOST_TEXT = 4096
"""Characters of text kept of one element: points and numbers are short."""

_PIECE = 1 << 16
_DECLARED = re.compile(rb"""^<\?xml[^>]*?encoding\s*=\s*["']([A-Za-z][\w.-]*)["']""")
# What Python calls encodings beside the character sets.
_NO_CHARACTER_SET = (
    "idna",
    "punycode",
    "unicode-escape",
    "raw-unicode-escape",
    "utf-7",
    "undefined",
)
_OF_EXPAT = ("utf-8", "utf-16", "us-ascii", "iso-8859-1")
_ALL_BYTES = bytes(range(256))
_UNDECODED = "the file cannot be decoded ({}); expected the encoding that it names."
_FOUND_ROOT = "root element found"


class _Refused(Exception):
    """The file must not be read further, with the sentence that says why."""


@dataclass
class Element:
    """An element: name without namespace, attributes, line in the file (1 is the first), elements
    inside, text. `whole` is false where the file ended before the element did."""

    name: str
    attributes: dict[str, str]
    line: int
    children: list[Element] = field(default_factory=list)
    text: str = ""
    whole: bool = False

    def all(self, *names: str) -> list[Element]:
        """The children of these names, in the order of the file."""
        return [child for child in self.children if child.name in names]

    def first(self, name: str) -> Element | None:
        """The first child of that name."""
        return next((child for child in self.children if child.name == name), None)

    def walk(self) -> Iterator[Element]:
        """The element and all inside it, in the order of the file."""
        waiting = [self]
        while waiting:
            element = waiting.pop()
            yield element
            waiting.extend(reversed(element.children))

    def get(self, name: str) -> str:
        """An attribute's value without blanks around it; empty where there is none."""
        return self.attributes.get(name, "").strip()


def root_name(head: bytes) -> str:
    """The name of the root element, without its prefix, of the first part of a file; empty where it
    holds no XML, or none whose root begins there."""
    found = ""

    def started(name: str, _: dict[str, str]) -> None:
        nonlocal found
        found = name
        raise _Refused(_FOUND_ROOT)

    try:
        parser, data = _parser(head)
        parser.StartElementHandler = started
        parser.Parse(data, False)
    except (_Refused, expat.ExpatError, ValueError, LookupError):
        pass
    return _local(found)


def parse_tree(
    data: bytes, root: str, kept: Collection[str], findings: Findings, progress: Progress = SILENT
) -> Element | None:
    """The root element with those of its children, and all inside them, whose names are `kept`.

    What is wrong with the file as XML goes to the findings; where that may be skipped, the elements
    before the fault are returned, or None where there are none of use.
    """
    try:
        parser, data = _parser(data)
    except (ValueError, LookupError) as error:
        findings.bad(_UNDECODED.format(error))
        return None
    builder = _Builder(parser, root, frozenset(kept))
    try:
        for start in range(0, len(data), _PIECE):
            progress.at(start / len(data))
            parser.Parse(data[start : start + _PIECE], False)
        parser.Parse(b"", True)
    except _Refused as problem:
        findings.bad(str(problem), parser.CurrentLineNumber)
    except (ValueError, LookupError) as error:
        # What Python's table of an encoding says, which expat asks for as it reads the declaration.
        findings.bad(_UNDECODED.format(error))
    except expat.ExpatError as error:
        what = expat.ErrorString(error.code)
        cut = error.code in _CUT_SHORT
        expected = "the file ends before its elements do" if cut else f"the XML is broken ({what})"
        findings.bad(f"{expected}; expected well-formed LandXML.", error.lineno)
    return builder.root


_CUT_SHORT = frozenset(
    expat.errors.codes[message]
    for message in (
        expat.errors.XML_ERROR_NO_ELEMENTS,
        expat.errors.XML_ERROR_UNCLOSED_TOKEN,
        expat.errors.XML_ERROR_PARTIAL_CHAR,
        expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    )
)


def _parser(data: bytes) -> tuple[expat.XMLParserType, bytes]:
    """A parser that refuses entities, and the bytes to give it: encodings that expat does not know
    (several bytes a character, such as Shift_JIS) are decoded first.

    Raises ValueError or LookupError where the bytes are not in the encoding that they name.
    """
    override = None
    declared = _DECLARED.match(data.lstrip(b"\xef\xbb\xbf")[:200])
    if data[:4] in (b"\xff\xfe\0\0", b"\0\0\xfe\xff"):
        data, override = data.decode("utf-32").encode("utf-8"), "utf-8"
    elif declared:
        name = declared[1].decode("ascii").lower().replace("_", "-")
        if name in _NO_CHARACTER_SET:
            raise LookupError(f"unknown encoding: {name}")
        # One byte a character is what expat takes from Python's tables.
        if len(_ALL_BYTES.decode(name, "replace")) != 256 and name not in _OF_EXPAT:
            data, override = data.decode(name, "strict").encode("utf-8"), "utf-8"
    parser = expat.ParserCreate(override)
    parser.buffer_text = True
    parser.EntityDeclHandler = _no_entities
    parser.ExternalEntityRefHandler = _no_entities
    parser.SkippedEntityHandler = _no_entities
    return parser, data


def _no_entities(*_: object) -> int:
    raise _Refused("the file declares or uses entities of its own; expected LandXML without them.")


def _local(name: str) -> str:
    return name.rpartition(":")[2]


class _Builder:
    """Takes what the parser finds and keeps what is asked for."""

    def __init__(self, parser: expat.XMLParserType, root: str, kept: frozenset[str]) -> None:
        self.root: Element | None = None
        self._parser = parser
        self._name = root
        self._kept = kept
        self._open: list[Element] = []
        self._depth = 0
        self._skipping = 0
        self._count = 0
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._characters

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        if self._depth > DEEPEST:
            raise _Refused(f"elements stand {self._depth} deep in each other; expected LandXML.")
        name = _local(name)
        if self._depth == 1 and name != self._name:
            raise _Refused(f"the root element is {shown(name)}; expected {self._name}.")
        if self._skipping or (self._depth == 2 and name not in self._kept):
            self._skipping += 1
            return
        self._count += 1
        if self._count > MOST_ELEMENTS:
            raise _Refused(f"more than {MOST_ELEMENTS:,} elements to read; expected fewer.")
        own = {_local(key): value for key, value in attributes.items()}
        element = Element(name, own, self._parser.CurrentLineNumber)
        if self._open:
            # Hung in at once: what stands before a fault is kept.
            self._open[-1].children.append(element)
        else:
            self.root = element
        self._open.append(element)

    def _end(self, _: str) -> None:
        self._depth -= 1
        if self._skipping:
            self._skipping -= 1
            return
        self._open.pop().whole = True

    def _characters(self, text: str) -> None:
        if not self._skipping and self._open and len(self._open[-1].text) < MOST_TEXT:
            self._open[-1].text += text[:MOST_TEXT]
