# SPDX-License-Identifier: GPL-2.0-or-later
"""Text and numbers as DXF has them."""

from __future__ import annotations

import math
import re
import unicodedata

from ..errors import SurveyError


def text_value(words: str) -> str:
    """A text as the value of a TEXT entity of AutoCAD 2007's DXF or later, which is UTF-8.

    Taken literally by every reader: ``\\U+`` and ``\\M+`` begin a sign by its number, a caret a
    control character, two per cent signs a code (DXF Reference, "Special character codes"), so that
    each is written by its own code. Line ends and other control characters become blanks: one
    would end the value, and what followed would be read as a group code.
    """
    plain = "".join(_BLANK if unicodedata.category(c) in _UNSAFE else c for c in words)
    plain = _CODED.sub(r"\\U+005C", plain).replace("^", "^ ")
    return plain.replace("%%", "%%%%%%")


_BLANK = " "
_CODED = re.compile(r"\\(?=[UM]\+)")
_UNSAFE = frozenset({"Cc", "Cs", "Zl", "Zp"})


def number_value(number: float) -> str:
    """The shortest text that reads back as the same double; SurveyError on NaN or infinity."""
    if not math.isfinite(number):
        raise SurveyError(f"A coordinate of the drawing is {number}; expected a finite number.")
    return repr(float(number))
