# SPDX-License-Identifier: GPL-2.0-or-later
"""Drawings read back by an independent library, ezdxf (MIT), and passed by its audit."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.drawing.dxf import write_dxf
from roomtie.processing.drawing.dxf_text import text_value
from roomtie.processing.drawing.model import (
    CENTRE,
    CadLayer,
    Circle,
    Drawing,
    Point,
    Polyline,
    Text,
)
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.progress import Progress
from roomtie.tests.drawing.drawn_files import read

FAR = np.array([601602.123456789, 6129362.987654321])
WORDS = [
    "Küche / Bad",
    "図書館 閲覧室",
    "غرفة",
    "50%%d ^J \\P {x} %%c",
    "a\r\n0\nSECTION",
    "R\u2028S\x00T",
]


def drawing() -> Drawing:
    made = Drawing()
    made.layers["B-2-----E-E0000--F--WALL"] = CadLayer(
        "B-2-----E-E0000--F--WALL", "Wände", 0xA4510F, 32, 0.5, True
    )
    made.layers["OFF"] = CadLayer("OFF", "", 0x1F5F99, 5, 0.25, shown=False)
    wall, off = made.layers
    made.entities += [
        Polyline(wall, FAR + [[0.0, 0.0], [3.1, 0.0], [3.1, 2.7]], closed=True),
        Polyline(wall, FAR + [[0.0, 0.0], [1.0, 1.0]]),
        Point(off, *FAR),
        Circle(off, *FAR, 0.075),
        *(Text(wall, 1.0, number, 0.25, words, CENTRE, 22.5) for number, words in enumerate(WORDS)),
    ]
    return made


def test_what_is_written_is_read(tmp_path):
    write_dxf(tmp_path / "d.dxf", drawing())
    document = read(tmp_path / "d.dxf")
    assert document.dxfversion == "AC1021"
    assert (document.header["$INSUNITS"], document.header["$MEASUREMENT"]) == (6, 1)
    assert document.header["$EXTMAX"][:2] == pytest.approx(FAR + [3.1, 2.7], abs=1e-9)
    space = document.modelspace()
    assert [e.dxftype() for e in space][:4] == ["LWPOLYLINE", "LWPOLYLINE", "POINT", "CIRCLE"]
    room, line, point, circle = list(space)[:4]
    assert (room.closed, line.closed) == (True, False)
    assert np.array(room.get_points("xy")) == pytest.approx(
        FAR + [[0.0, 0.0], [3.1, 0.0], [3.1, 2.7]], abs=1e-9
    )
    assert tuple(point.dxf.location)[:2] == tuple(FAR)
    assert circle.dxf.radius == 0.075
    layer = document.layers.get("B-2-----E-E0000--F--WALL")
    assert (layer.rgb, layer.dxf.lineweight, layer.dxf.linetype) == (
        (0xA4, 0x51, 0x0F),
        50,
        "DASHED",
    )
    assert layer.description == "Wände"
    assert document.layers.get("OFF").is_off()


def test_words_are_taken_literally(tmp_path):
    write_dxf(tmp_path / "d.dxf", drawing())
    found = [text.plain_text() for text in read(tmp_path / "d.dxf").modelspace().query("TEXT")]
    assert found[:4] == WORDS[:4]
    assert found[4] == "a  0 SECTION"
    assert found[5] == "R S T"


def test_a_sign_by_its_number_stays_text():
    """ezdxf leaves such codes of a file of this release alone; others show a backslash."""
    assert text_value("\\U+0041 \\P") == "\\U+005CU+0041 \\P"


@given(st.text(max_size=30))
def test_no_text_ends_its_line(words):
    assert len(text_value(words).splitlines()) <= 1
    text_value(words).encode("utf-8")


def test_an_empty_drawing_passes(tmp_path):
    write_dxf(tmp_path / "d.dxf", Drawing(insert_units=2))
    header = read(tmp_path / "d.dxf").header
    assert (header["$INSUNITS"], header["$MEASUREMENT"]) == (2, 0)


def test_a_coordinate_that_is_no_number_is_told(tmp_path):
    made = drawing()
    made.entities.append(Point("OFF", float("nan"), 0.0))
    with pytest.raises(SurveyError, match=r"coordinate of the drawing is nan"):
        write_dxf(tmp_path / "d.dxf", made)


def test_a_cancel_is_heard(tmp_path):
    with pytest.raises(Cancelled):
        write_dxf(tmp_path / "d.dxf", drawing(), Progress(cancelled=lambda: True))
