# SPDX-License-Identifier: GPL-2.0-or-later
"""What a DXF file has around its entities: header, tables, blocks, objects.

Every object has a handle, and says by handle who owns it; those of the frame are fixed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from ..angles import Floats
from .dxf_text import number_value, text_value
from .model import CadLayer, Drawing

Tags = Iterable[tuple[int, Any]]

MODEL_SPACE, PAPER_SPACE = "1F", "1B"
VPORTS, LTYPES, LAYERS, STYLES, VIEWS, UCSS, APPIDS, DIMSTYLES, BLOCK_RECORDS = (
    f"{handle:X}" for handle in range(1, 10)
)
ROOT, GROUPS, LAYOUTS, PLOT_STYLES, NORMAL = "C", "D", "1A", "E", "F"
MODEL_LAYOUT, PAPER_LAYOUT = "22", "1E"
FIRST_LAYER = 0x100
DASHES_M = (0.5, 0.3, -0.2)
METRIC = (4, 5, 6, 7)


def before_entities(
    drawing: Drawing, corners: tuple[Floats, Floats], next_handle: int
) -> Iterator[tuple[int, Any]]:
    """Tags up to the first entity."""
    yield from _header(drawing, corners, next_handle)
    yield from ((0, "SECTION"), (2, "CLASSES"), (0, "ENDSEC"))
    yield from ((0, "SECTION"), (2, "TABLES"))
    yield from _view_port(corners)
    yield from _line_types()
    yield from _layers(drawing)
    yield from _other_tables()
    yield (0, "ENDSEC")
    yield from _blocks()
    yield from ((0, "SECTION"), (2, "ENTITIES"))


def after_entities() -> Iterator[tuple[int, Any]]:
    """Tags after the last entity."""
    yield (0, "ENDSEC")
    yield from ((0, "SECTION"), (2, "OBJECTS"))
    yield from _dictionary(
        ROOT,
        "0",
        {"ACAD_GROUP": GROUPS, "ACAD_LAYOUT": LAYOUTS, "ACAD_PLOTSTYLENAME": PLOT_STYLES},
    )
    yield from _dictionary(GROUPS, ROOT, {})
    yield from _dictionary(LAYOUTS, ROOT, {"Layout1": PAPER_LAYOUT, "Model": MODEL_LAYOUT})
    yield from ((0, "ACDBDICTIONARYWDFLT"), (5, PLOT_STYLES), (330, ROOT))
    yield from ((100, "AcDbDictionary"), (281, 1), (3, "Normal"), (350, NORMAL))
    yield from ((100, "AcDbDictionaryWithDefault"), (340, NORMAL))
    yield from ((0, "ACDBPLACEHOLDER"), (5, NORMAL), (330, PLOT_STYLES))
    yield from _layout(PAPER_LAYOUT, "Layout1", 1, PAPER_SPACE)
    yield from _layout(MODEL_LAYOUT, "Model", 0, MODEL_SPACE)
    yield from ((0, "ENDSEC"), (0, "EOF"))


def _header(
    drawing: Drawing, corners: tuple[Floats, Floats], next_handle: int
) -> Iterator[tuple[int, Any]]:
    low, high = (tuple(number_value(value) for value in corner) for corner in corners)
    metric = 1 if drawing.insert_units in METRIC else 0
    variables: tuple[tuple[str, tuple[tuple[int, Any], ...]], ...] = (
        ("$ACADVER", ((1, "AC1021"),)),
        ("$DWGCODEPAGE", ((3, "ANSI_1252"),)),
        ("$INSUNITS", ((70, drawing.insert_units),)),
        ("$MEASUREMENT", ((70, metric),)),
        ("$LUNITS", ((70, 2),)),
        ("$LUPREC", ((70, 3),)),
        ("$EXTMIN", ((10, low[0]), (20, low[1]), (30, "0.0"))),
        ("$EXTMAX", ((10, high[0]), (20, high[1]), (30, "0.0"))),
        ("$LTSCALE", ((40, "1.0"),)),
        ("$PDMODE", ((70, 0),)),
        ("$PSTYLEMODE", ((290, 1),)),
        ("$HANDSEED", ((5, f"{next_handle:X}"),)),
    )
    yield from ((0, "SECTION"), (2, "HEADER"))
    for name, values in variables:
        yield 9, name
        yield from values
    yield (0, "ENDSEC")


def _table(name: str, handle: str, count: int) -> Tags:
    return (
        (0, "TABLE"),
        (2, name),
        (5, handle),
        (330, "0"),
        (100, "AcDbSymbolTable"),
        (70, count),
    )


def _record(kind: str, handle: str, owner: str, marker: str, handle_code: int = 5) -> Tags:
    return (
        (0, kind),
        (handle_code, handle),
        (330, owner),
        (100, "AcDbSymbolTableRecord"),
        (100, marker),
    )


def _view_port(corners: tuple[Floats, Floats]) -> Iterator[tuple[int, Any]]:
    """The window that the drawing opens in: all of it."""
    low, high = corners
    middle = (low + high) / 2
    height = max(float(high[1] - low[1]), float(high[0] - low[0]) / 1.6, 1.0) * 1.1
    yield from _table("VPORT", VPORTS, 1)
    yield from _record("VPORT", "29", VPORTS, "AcDbViewportTableRecord")
    yield from ((2, "*Active"), (70, 0), (10, "0.0"), (20, "0.0"), (11, "1.0"), (21, "1.0"))
    yield from ((12, number_value(middle[0])), (22, number_value(middle[1])))
    yield from ((13, "0.0"), (23, "0.0"), (14, "1.0"), (24, "1.0"), (15, "1.0"), (25, "1.0"))
    yield from ((16, "0.0"), (26, "0.0"), (36, "1.0"), (17, "0.0"), (27, "0.0"), (37, "0.0"))
    yield from ((40, number_value(height)), (41, "1.6"), (42, "50.0"), (43, "0.0"), (44, "0.0"))
    yield from ((50, "0.0"), (51, "0.0"), (71, 0), (72, 1000), (73, 1), (74, 3), (75, 0))
    yield from ((76, 0), (77, 0), (78, 0), (0, "ENDTAB"))


def _line_types() -> Iterator[tuple[int, Any]]:
    yield from _table("LTYPE", LTYPES, 4)
    for handle, name, description in (
        ("14", "ByBlock", ""),
        ("15", "ByLayer", ""),
        ("16", "Continuous", "Solid line"),
    ):
        yield from _record("LTYPE", handle, LTYPES, "AcDbLinetypeTableRecord")
        yield from ((2, name), (70, 0), (3, description), (72, 65), (73, 0), (40, "0.0"))
    yield from _record("LTYPE", "17", LTYPES, "AcDbLinetypeTableRecord")
    yield from ((2, "DASHED"), (70, 0), (3, "Dashed __ __ __"), (72, 65))
    yield from ((73, len(DASHES_M) - 1), (40, DASHES_M[0]))
    for length in DASHES_M[1:]:
        yield from ((49, length), (74, 0))
    yield (0, "ENDTAB")


def _layers(drawing: Drawing) -> Iterator[tuple[int, Any]]:
    yield from _table("LAYER", LAYERS, len(drawing.layers) + 1)
    plain = CadLayer("0", "", 0, 7)
    for number, layer in enumerate((plain, *drawing.layers.values())):
        handle = f"{FIRST_LAYER + number:X}" if number else "10"
        yield from _record("LAYER", handle, LAYERS, "AcDbLayerTableRecord")
        # A layer that is off has its colour negative.
        yield from ((2, layer.name), (70, 0))
        yield 62, layer.indexed_colour if layer.shown else -layer.indexed_colour
        if number:
            yield 420, layer.true_colour
        yield from ((6, "DASHED" if layer.dashed else "Continuous"), (290, 1))
        yield from ((370, round(layer.width_mm * 100) if number else -3), (390, NORMAL))
        if layer.description:
            yield from ((1001, "AcAecLayerStandard"), (1000, ""))
            yield 1000, text_value(layer.description)
    yield (0, "ENDTAB")


def _other_tables() -> Iterator[tuple[int, Any]]:
    yield from _table("STYLE", STYLES, 1)
    yield from _record("STYLE", "11", STYLES, "AcDbTextStyleTableRecord")
    # A font of the system, for signs of any script.
    yield from ((2, "Standard"), (70, 0), (40, "0.0"), (41, "1.0"), (50, "0.0"), (71, 0))
    yield from ((42, "0.2"), (3, "arial.ttf"), (4, ""), (0, "ENDTAB"))
    yield from (*_table("VIEW", VIEWS, 0), (0, "ENDTAB"))
    yield from (*_table("UCS", UCSS, 0), (0, "ENDTAB"))
    yield from _table("APPID", APPIDS, 2)
    for handle, name in (("12", "ACAD"), ("13", "AcAecLayerStandard")):
        yield from _record("APPID", handle, APPIDS, "AcDbRegAppTableRecord")
        yield from ((2, name), (70, 0))
    yield (0, "ENDTAB")
    yield from (*_table("DIMSTYLE", DIMSTYLES, 1), (100, "AcDbDimStyleTable"), (71, 1))
    yield (340, "27")
    yield from _record("DIMSTYLE", "27", DIMSTYLES, "AcDbDimStyleTableRecord", 105)
    yield from ((2, "Standard"), (70, 0), (0, "ENDTAB"))
    yield from _table("BLOCK_RECORD", BLOCK_RECORDS, 2)
    for handle, name, layout in (
        (MODEL_SPACE, "*Model_Space", MODEL_LAYOUT),
        (PAPER_SPACE, "*Paper_Space", PAPER_LAYOUT),
    ):
        yield from _record("BLOCK_RECORD", handle, BLOCK_RECORDS, "AcDbBlockTableRecord")
        yield from ((2, name), (340, layout), (70, 0), (280, 1), (281, 0))
    yield (0, "ENDTAB")


def _blocks() -> Iterator[tuple[int, Any]]:
    yield from ((0, "SECTION"), (2, "BLOCKS"))
    for owner, name, begin, end in (
        (MODEL_SPACE, "*Model_Space", "20", "21"),
        (PAPER_SPACE, "*Paper_Space", "1C", "1D"),
    ):
        yield from ((0, "BLOCK"), (5, begin), (330, owner), (100, "AcDbEntity"))
        if owner == PAPER_SPACE:
            yield (67, 1)
        yield from ((8, "0"), (100, "AcDbBlockBegin"), (2, name), (70, 0))
        yield from ((10, "0.0"), (20, "0.0"), (30, "0.0"), (3, name), (1, ""))
        yield from ((0, "ENDBLK"), (5, end), (330, owner), (100, "AcDbEntity"))
        if owner == PAPER_SPACE:
            yield (67, 1)
        yield from ((8, "0"), (100, "AcDbBlockEnd"))
    yield (0, "ENDSEC")


def _dictionary(handle: str, owner: str, entries: dict[str, str]) -> Iterator[tuple[int, Any]]:
    yield from ((0, "DICTIONARY"), (5, handle), (330, owner), (100, "AcDbDictionary"), (281, 1))
    for name, entry in entries.items():
        yield from ((3, name), (350, entry))


def _layout(handle: str, name: str, order: int, space: str) -> Iterator[tuple[int, Any]]:
    yield from ((0, "LAYOUT"), (5, handle), (330, LAYOUTS), (100, "AcDbPlotSettings"))
    yield from ((1, ""), (2, ""), (4, "A3"), (6, ""))
    yield from ((40, "7.5"), (41, "20.0"), (42, "7.5"), (43, "20.0"), (44, "420.0"), (45, "297.0"))
    yield from ((code, "0.0") for code in (46, 47, 48, 49, 140, 141))
    # Flags: plot the extents; model space says so by one more.
    yield from ((142, "1.0"), (143, "1.0"), (70, 688 if order else 1712), (72, 1), (73, 0))
    yield from ((74, 5), (7, ""), (75, 16), (76, 0), (77, 2), (78, 300))
    yield from ((147, "1.0"), (148, "0.0"), (149, "0.0"), (100, "AcDbLayout"), (1, name))
    yield from ((70, 1), (71, order), (10, "0.0"), (20, "0.0"), (11, "420.0"), (21, "297.0"))
    for code in (12, 14, 15):
        yield from ((code, "0.0"), (code + 10, "0.0"), (code + 20, "0.0"))
    yield from ((146, "0.0"), (13, "0.0"), (23, "0.0"), (33, "0.0"))
    yield from ((16, "1.0"), (26, "0.0"), (36, "0.0"), (17, "0.0"), (27, "1.0"), (37, "0.0"))
    yield from ((76, 0), (330, space))
