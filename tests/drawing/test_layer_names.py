# SPDX-License-Identifier: GPL-2.0-or-later
"""Names of layers against the field lengths of ISO 13567-2 (2, 6, 2, 1, 4, 1, 1, 1, 2)."""

import re

import pytest
from roomtie.processing.drawing import layer_names as iso
from roomtie.processing.drawing.layer_names import LayerName
from roomtie.processing.errors import SurveyError

FIELDS = re.compile(r"^(.{2})(.{6})(.{2})(.)(.{4})(.)(.)(.)(.{2})([A-Z-]+)$")


@pytest.mark.parametrize(
    ("level", "sector"), [(0, "0000"), (12, "0012"), (-1, "B001"), (None, "----")]
)
def test_every_field_has_its_place(level, sector):
    name = str(LayerName("B-", iso.WALLS, "E-", "WALL", level, 200))
    assert FIELDS.match(name).groups() == (
        *("B-", "2-----", "E-", "E", sector, "-", "-", "G", "--"),
        "WALL",
    )


def test_a_storey_beyond_four_characters_is_told():
    with pytest.raises(SurveyError, match="Level 12345 has no place"):
        str(LayerName("B-", iso.WALLS, "E-", "WALL", 12345))
