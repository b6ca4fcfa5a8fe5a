# SPDX-License-Identifier: GPL-2.0-or-later
"""How flagged readings are marked in pictures and tables.

Six colours that people with any kind of colour vision tell apart (Okabe and Ito, Color Universal
Design, 2008; values from memory), each for two flags of one sort, which differ by shape as well: a
dot or a cross. So no flag is told by its colour alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from ..captures.model import Flag
from .html import Markup

INK = "#1d2328"
"""Usable readings."""

SOFT = "#8b949c"
"""Directions from which nothing came back."""


@dataclass(frozen=True)
class Mark:
    """A colour and a shape."""

    colour: str
    cross: bool = False


MARKS: Mapping[Flag, Mark] = MappingProxyType(
    {
        Flag.USABLE: Mark(INK),
        Flag.NO_RETURN: Mark(SOFT),
        Flag.TOO_NEAR: Mark("#56b4e9"),
        Flag.TOO_FAR: Mark("#56b4e9", cross=True),
        Flag.MIXED: Mark("#e69f00"),
        Flag.ISOLATED: Mark("#e69f00", cross=True),
        Flag.THROUGH_GLASS: Mark("#0072b2"),
        Flag.REFLECTION: Mark("#0072b2", cross=True),
        Flag.PASSER_BY: Mark("#d55e00"),
        Flag.CLUTTER: Mark("#d55e00", cross=True),
        Flag.TILTED: Mark("#cc79a7"),
        Flag.MOVED: Mark("#cc79a7", cross=True),
        Flag.DUPLICATE: Mark("#009e73", cross=True),
        Flag.RETAKEN: Mark("#009e73"),
    }
)

WORD = {flag: flag.text or "usable" for flag in Flag}


def symbol(flag: Flag) -> Markup:
    """The mark of a flag as it stands in a line of text."""
    mark = MARKS[flag]
    if flag is Flag.NO_RETURN:
        shape = f'<path d="M6 2v8" stroke="{mark.colour}" stroke-width="1.6"/>'
    elif mark.cross:
        shape = f'<path d="M3 3l6 6m0-6l-6 6" stroke="{mark.colour}" stroke-width="1.8"/>'
    else:
        shape = f'<circle cx="6" cy="6" r="3" fill="{mark.colour}"/>'
    return Markup(
        f'<svg class="mark" viewBox="0 0 12 12" width="12" height="12" fill="none">{shape}</svg>'
    )
