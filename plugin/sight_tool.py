# SPDX-License-Identifier: GPL-2.0-or-later
"""The map tool that picks two things of a plan."""

from __future__ import annotations

from collections.abc import Callable, Collection

from qgis.core import (
    QgsCoordinateTransform,
    QgsCsException,
    QgsGeometry,
    QgsPointXY,
    QgsProject,
    QgsWkbTypes,
)
from qgis.gui import QgsMapCanvas, QgsMapTool, QgsRubberBand
from qgis.PyQt.QtCore import Qt, pyqtSignal
from qgis.PyQt.QtGui import QColor

from .sight_plan import SightPlan

PIXELS = 12
_UNDER, _CHOSEN = QColor("#0072b2"), QColor("#d55e00")
_Kind = QgsWkbTypes.GeometryType


class SightTool(QgsMapTool):
    """Tells what lies under the cursor (`over(name)`, empty for nothing), and what was clicked
    (`picked(name)`). Esc and the right button take the last pick back (`taken_back`).

    `levels` gives the storeys that the map shows, of which alone something is picked.
    """

    over = pyqtSignal(str)
    picked = pyqtSignal(str)
    taken_back = pyqtSignal()

    def __init__(self, canvas: QgsMapCanvas, levels: Callable[[], Collection[int] | None]) -> None:
        super().__init__(canvas)
        self._canvas, self._levels = canvas, levels
        self._plan: SightPlan | None = None
        self._name = ""
        self._bands: dict[str, list[QgsRubberBand]] = {}
        self.setCursor(Qt.CursorShape.CrossCursor)

    def set_plan(self, plan: SightPlan | None) -> None:
        """Pick things of this plan."""
        self._plan = plan
        self.clear()

    def show_pick(self, names: Collection[str], line: QgsGeometry | None = None) -> None:
        """Mark what is chosen, and the line between."""
        if self._plan is None:
            return
        shapes = [shape for name in names if not (shape := self._plan.shape(name)).isNull()]
        self._draw("chosen", shapes, _CHOSEN, 4)
        dashed = [line] if line is not None else []
        self._draw("line", dashed, _CHOSEN, 2, Qt.PenStyle.DashLine)

    def clear(self) -> None:
        """Mark nothing any more."""
        for bands in self._bands.values():
            for band in bands:
                self._canvas.scene().removeItem(band)
        self._bands.clear()
        self._name = ""

    def canvasMoveEvent(self, event) -> None:
        self._look(event.originalMapPoint())

    def canvasReleaseEvent(self, event) -> None:
        if event.button() == Qt.MouseButton.RightButton:
            self.taken_back.emit()
        elif event.button() == Qt.MouseButton.LeftButton:
            self._look(event.originalMapPoint())
            if self._name:
                self.picked.emit(self._name)

    def keyPressEvent(self, event) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.taken_back.emit()
            event.ignore()
        else:
            super().keyPressEvent(event)

    def deactivate(self) -> None:
        self._draw("under", [], _UNDER, 3)
        super().deactivate()

    def _look(self, point: QgsPointXY) -> None:
        """Find and mark what lies under a point of the map."""
        if self._plan is None:
            return
        name = self._under(point)
        if name != self._name:
            self._name = name
            self._draw("under", [self._plan.shape(name)] if name else [], _UNDER, 3)
        self.over.emit(name)

    def _under(self, point: QgsPointXY) -> str:
        settings = self._canvas.mapSettings()
        change = QgsCoordinateTransform(
            settings.destinationCrs(), self._plan.crs, QgsProject.instance().transformContext()
        )
        reach = PIXELS * settings.mapUnitsPerPixel()
        try:
            at = change.transform(point)
            beside = change.transform(QgsPointXY(point.x() + reach, point.y()))
        except QgsCsException:
            return ""
        return self._plan.under(at, at.distance(beside), self._levels())

    def _draw(
        self,
        role: str,
        shapes: list[QgsGeometry],
        colour: QColor,
        width: int,
        style: Qt.PenStyle = Qt.PenStyle.SolidLine,
    ) -> None:
        for band in self._bands.pop(role, []):
            self._canvas.scene().removeItem(band)
        for shape in shapes:
            kind = (
                _Kind.PointGeometry if shape.type() == _Kind.PointGeometry else _Kind.LineGeometry
            )
            band = QgsRubberBand(self._canvas, kind)
            band.setColor(colour)
            band.setWidth(width)
            band.setLineStyle(style)
            if kind == _Kind.PointGeometry:
                band.setIcon(QgsRubberBand.IconType.ICON_BOX)
                band.setIconSize(12)
            band.setToGeometry(shape, self._plan.crs)
            self._bands.setdefault(role, []).append(band)
