# SPDX-License-Identifier: GPL-2.0-or-later
"""Sheets as pages of a print layout of the host. Main thread only."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qgis.core import (
    QgsFillSymbol,
    QgsLayoutItem,
    QgsLayoutItemLabel,
    QgsLayoutItemMap,
    QgsLayoutItemPage,
    QgsLayoutItemPolyline,
    QgsLayoutItemScaleBar,
    QgsLayoutItemShape,
    QgsLayoutPoint,
    QgsLayoutSize,
    QgsLineSymbol,
    QgsPrintLayout,
    QgsProject,
    QgsRectangle,
    QgsTextFormat,
    QgsUnitTypes,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QPointF, Qt
from qgis.PyQt.QtGui import QColor, QFont, QPolygonF

from ..drawing.sheet import NORTH_HEIGHT_MM, ROW_MM, Box, Paper, bar_segment_m
from .translation import tr

if TYPE_CHECKING:
    from ..drawing.sheet_text import Schedule

INK = "#20262b"
LARGE_FIELDS = ((0, 0), (2, 1))
"""Title and sheet: row and column in the title block."""
FRAME_MM, THIN_MM = 0.7, 0.18
SMALL_PT, USUAL_PT, LARGE_PT = 6.2, 8.0, 12.0
BESIDE_PT = 7.5
MM = QgsUnitTypes.LayoutUnit.LayoutMillimeters


@dataclass(frozen=True)
class Sheet:
    """One page: the storey's layers (drawn first on top), the middle of the plan in their
    coordinates, the azimuths, the length of a ground metre in their units, and the words."""

    layers: Sequence[QgsVectorLayer]
    middle: tuple[float, float]
    plot_scale: int
    units_per_m: float
    axis_deg: float
    on_grid: bool
    fields: Sequence[tuple[str, str]]
    schedule: Schedule
    notes: str


class SheetLayout:
    """A print layout that gets page after page of one paper."""

    def __init__(self, project: QgsProject, name: str, paper: Paper) -> None:
        self.layout = QgsPrintLayout(project)
        self.layout.initializeDefaults()
        self.layout.setName(name)
        self.paper = paper
        self.pages = 0

    def add(self, sheet: Sheet) -> None:
        """Add a page."""
        collection = self.layout.pageCollection()
        if self.pages:
            collection.addPage(QgsLayoutItemPage(self.layout))
        size = QgsLayoutSize(self.paper.width_mm, self.paper.height_mm, MM)
        collection.page(self.pages).setPageSize(size)
        self.pages += 1
        paper = self.paper
        chart = self._map(sheet)
        self._box(paper.frame, FRAME_MM)
        if paper.beside:
            side = Box(paper.title.x, paper.frame.y, paper.title.width, paper.frame.height)
            self._box(side, THIN_MM)
        else:
            below = paper.plan.y + paper.plan.height
            self._line(
                [(paper.frame.x, below), (paper.frame.x + paper.frame.width, below)], THIN_MM
            )
        self._title(sheet)
        self._scale_bar(sheet, chart)
        self._norths(sheet)
        size = BESIDE_PT if paper.beside else SMALL_PT
        self._text(sheet.notes, _inside(paper.notes), size)
        self._schedule(sheet.schedule)

    def _put(self, item: QgsLayoutItem, box: Box) -> None:
        self.layout.addLayoutItem(item)
        item.attemptMove(QgsLayoutPoint(box.x, box.y, MM), page=self.pages - 1)
        item.attemptResize(QgsLayoutSize(box.width, box.height, MM))

    def _map(self, sheet: Sheet) -> QgsLayoutItemMap:
        """The plan at its true scale with plan north up, by the extent and not by the host's scale,
        which would take a distance on the grid for one on the ground."""
        box = self.paper.plan
        chart = QgsLayoutItemMap(self.layout)
        self._put(chart, box)
        chart.setLayers(list(sheet.layers))
        chart.setKeepLayerSet(True)
        chart.setKeepLayerStyles(True)
        chart.setCrs(sheet.layers[0].crs())
        units = sheet.plot_scale * sheet.units_per_m / 1000.0
        x, y = sheet.middle
        across, up = box.width * units / 2, box.height * units / 2
        chart.setExtent(QgsRectangle(x - across, y - up, x + across, y + up))
        chart.setMapRotation(-sheet.axis_deg % 360.0)
        chart.setFrameEnabled(False)
        chart.setBackgroundEnabled(False)
        chart.setId(f"Plan {self.pages}")
        return chart

    def _title(self, sheet: Sheet) -> None:
        box = self.paper.title
        self._box(box, 0.5)
        rows = [sheet.fields[0:2], sheet.fields[2:5], sheet.fields[5:7]]
        shares = [(0.6, 0.4), (0.3, 0.4, 0.3), (0.78, 0.22)]
        height = box.height / len(rows)
        for number, (fields, widths) in enumerate(zip(rows, shares)):
            x, y = box.x, box.y + number * height
            for column, ((name, value), share) in enumerate(zip(fields, widths)):
                cell = Box(x, y, share * box.width, height)
                self._box(cell, THIN_MM)
                self._text(name, Box(x + 1.2, y + 0.8, cell.width - 2, 3.2), 5.5)
                size = LARGE_PT if (number, column) in LARGE_FIELDS else USUAL_PT
                self._text(value, Box(x + 1.2, y + 4.0, cell.width - 2, height - 4.4), size)
                x += cell.width

    def _scale_bar(self, sheet: Sheet, chart: QgsLayoutItemMap) -> None:
        """Of ground metres, whatever the grid's scale: a unit of the bar is a ground metre."""
        box = self.paper.norths
        bar = QgsLayoutItemScaleBar(self.layout)
        self.layout.addLayoutItem(bar)
        bar.setStyle("Single Box")
        bar.setLinkedMap(chart)
        bar.setUnits(QgsUnitTypes.DistanceUnit.DistanceUnknownUnit)
        bar.setMapUnitsPerScaleBarUnit(sheet.units_per_m)
        segment = bar_segment_m(sheet.plot_scale)
        bar.setNumberOfSegmentsLeft(0)
        bar.setNumberOfSegments(5)
        bar.setUnitsPerSegment(segment * sheet.units_per_m)
        bar.setUnitLabel("m")
        bar.setHeight(1.5)
        bar.setTextFormat(_format(USUAL_PT))
        bar.update()
        bar.attemptMove(QgsLayoutPoint(box.x + 2, box.y + 8, MM), page=self.pages - 1)
        self._text(f"1:{sheet.plot_scale}", Box(box.x + 3, box.y + 2, 40, 6), LARGE_PT)

    def _norths(self, sheet: Sheet) -> None:
        box = self.paper.norths
        middle = box.y + NORTH_HEIGHT_MM / 2 + 1.5
        arrows = [(tr("Plan north"), 0.0)]
        if sheet.on_grid:
            arrows.append((tr("Grid north"), -sheet.axis_deg))
        for number, (words, azimuth) in enumerate(arrows):
            x = box.x + box.width - 10.0 - 17.0 * number
            self._arrow(x, middle - 1.5, 6.0, azimuth)
            label = Box(x - 8.5, box.y + NORTH_HEIGHT_MM - 4.0, 17.0, 3.5)
            self._text(words, label, SMALL_PT, Qt.AlignmentFlag.AlignHCenter)

    def _arrow(self, x: float, y: float, length: float, azimuth_deg: float) -> None:
        """A line with a half-filled head, its middle at a point."""

        def at(along: float, right: float) -> tuple[float, float]:
            turn = math.radians(azimuth_deg)
            return (
                x + along * math.sin(turn) + right * math.cos(turn),
                y - along * math.cos(turn) + right * math.sin(turn),
            )

        self._line([at(-length, 0.0), at(length, 0.0)], 0.25)
        head = [at(length, 0.0), at(length - 4.5, 1.4), at(length - 4.5, -1.4), at(length, 0.0)]
        self._line(head, 0.25)

    def _schedule(self, schedule: Schedule) -> None:
        paper, box = self.paper, self.paper.schedule
        self._text(tr("Area schedule (m²)"), Box(box.x + 2, box.y + 2, box.width - 4, 5), USUAL_PT)
        rows = paper.schedule_rows
        listed = [*schedule.rows, (tr("Sum"), schedule.total)]
        rows += 1
        width = box.width / paper.schedule_columns
        for column in range(paper.schedule_columns):
            part = listed[column * rows : (column + 1) * rows]
            x = box.x + column * width
            for number, (name, area) in enumerate(part):
                y = box.y + 8.0 + number * ROW_MM
                self._text(name, Box(x + 2, y, width * 0.62 - 2, ROW_MM), 7.0)
                place = Box(x + width * 0.45, y, width * 0.55 - 3, ROW_MM)
                self._text(area, place, 7.0, Qt.AlignmentFlag.AlignRight)

    def _text(
        self,
        words: str,
        box: Box,
        points: float,
        align: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignLeft,
    ) -> None:
        label = QgsLayoutItemLabel(self.layout)
        # The host would work out what stands between these signs.
        label.setText(words.replace("[%", "[ %"))
        if hasattr(label, "setTextFormat"):
            label.setTextFormat(_format(points))
        else:
            label.setFont(_format(points).font())
            label.setFontColor(QColor(INK))
        label.setHAlign(align)
        label.setMarginX(0.0)
        label.setMarginY(0.0)
        self._put(label, box)

    def _box(self, box: Box, width_mm: float) -> None:
        shape = QgsLayoutItemShape(self.layout)
        shape.setShapeType(QgsLayoutItemShape.Shape.Rectangle)
        shape.setSymbol(
            QgsFillSymbol.createSimple(
                {"style": "no", "outline_color": INK, "outline_width": str(width_mm)}
            )
        )
        self._put(shape, box)

    def _line(self, points: Sequence[tuple[float, float]], width_mm: float) -> None:
        page = self.layout.pageCollection().page(self.pages - 1)
        top = page.pos().y()
        polygon = QPolygonF([QPointF(x, y + top) for x, y in points])
        line = QgsLayoutItemPolyline(polygon, self.layout)
        line.setSymbol(QgsLineSymbol.createSimple({"line_color": INK, "line_width": str(width_mm)}))
        self.layout.addLayoutItem(line)


def storey_layers(
    open_layer: Callable[[str, str], QgsVectorLayer | None],
    level: int,
    plot_scale: int,
    style: Callable[[QgsVectorLayer], None] | None,
) -> list[QgsVectorLayer]:
    """The layers of a sheet, drawn first on top, with the look that the plan has on the screen."""
    conditions = {
        "stations": f'"level" = {level}',
        "targets": f'"level" = {level} AND "role" = \'control\'',
    }
    layers = []
    for name in ("stations", "targets", "openings", "wall_faces", "rooms"):
        usual = f'"level" = {level} AND "plot_scale" = {plot_scale}'
        layer = open_layer(name, conditions.get(name, usual))
        if layer is None:
            continue
        if style is not None:
            style(layer)
        if name == "wall_faces":
            layer.setLabelsEnabled(False)
        layers.append(layer)
    return layers


def _inside(box: Box) -> Box:
    return Box(box.x + 2, box.y + 1.5, box.width - 4, box.height - 2)


def _format(points: float) -> QgsTextFormat:
    form = QgsTextFormat()
    font = QFont("DejaVu Sans")
    font.setStyleHint(QFont.StyleHint.SansSerif)
    font.setPointSizeF(points)
    form.setFont(font)
    form.setSize(points)
    form.setSizeUnit(QgsUnitTypes.RenderUnit.RenderPoints)
    form.setColor(QColor(INK))
    return form
