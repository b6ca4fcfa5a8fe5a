# SPDX-License-Identifier: GPL-2.0-or-later
"""Names of CAD layers after ISO 13567-2, *Organization and naming of layers for CAD*.

A name is a row of fields of fixed length; a hyphen stands for "not divided by this", an underscore
for "not classified":

=================  ==========  ===================================================================
field              characters  here
=================  ==========  ===================================================================
agent responsible  2           ``B-`` building surveyor, ``G-`` land surveyor (network, readings)
element            6           CI/SfB table 1: ``2`` primary elements (walls), ``31`` openings in
                               external walls, ``32`` in internal walls, ``3`` openings otherwise
presentation       2           ``E-`` element graphics, ``T-`` text
status             1           ``E`` existing
sector             4           storey: ``0000`` ground, ``0001`` the next, ``B001`` the first below
phase              1           not divided
projection         1           not divided: all is plan
scale              1           ``D`` 1:20, ``E`` 1:50, ``F`` 1:100, ``G`` 1:200
work package       2           not divided
user defined       free        a word to read
=================  ==========  ===================================================================

Order, lengths, agents and presentations follow public summaries of the standard; the codes for
status and scale are from memory of it and were not held against the printed text.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import SurveyError

SCALE_CODES = {20: "D", 50: "E", 100: "F", 200: "G"}
BUILDING_SURVEYOR, LAND_SURVEYOR = "B-", "G-"
GRAPHICS, TEXT = "E-", "T-"
WHOLE, WALLS, OPENINGS = "------", "2-----", "3-----"
OPENINGS_OUTSIDE, OPENINGS_INSIDE = "31----", "32----"
NOT_CLASSIFIED = "______"
EXISTING = "E"
DEEPEST, HIGHEST = -999, 9999


@dataclass(frozen=True)
class LayerName:
    """The fields that this project fills. `level` and `plot_scale` are None where a layer is not
    divided by storey or scale.

    >>> str(LayerName(BUILDING_SURVEYOR, WALLS, GRAPHICS, "WALL", level=1, plot_scale=100))
    'B-2-----E-E0001--F--WALL'
    """

    agent: str
    element: str
    presentation: str
    word: str
    level: int | None = None
    plot_scale: int | None = None

    def __str__(self) -> str:
        scale = "-" if self.plot_scale is None else SCALE_CODES[self.plot_scale]
        return (
            f"{self.agent}{self.element}{self.presentation}{EXISTING}{_sector(self.level)}"
            f"--{scale}--{self.word}"
        )


def _sector(level: int | None) -> str:
    if level is None:
        return "----"
    if not DEEPEST <= level <= HIGHEST:
        raise SurveyError(
            f"Level {level} has no place in the four characters of a layer name's sector; expected "
            f"a storey between {DEEPEST} and {HIGHEST}."
        )
    return f"B{-level:03d}" if level < 0 else f"{level:04d}"
