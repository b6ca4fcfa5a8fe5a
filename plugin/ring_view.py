# SPDX-License-Identifier: GPL-2.0-or-later
"""A small picture of a ring of readings, for judging at a glance whether it is the room."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from qgis.PyQt.QtCore import QPointF, QRectF, QSize, Qt
from qgis.PyQt.QtGui import QColor, QPainter, QPalette, QPen, QPolygonF
from qgis.PyQt.QtWidgets import QSizePolicy, QWidget

from .translation import tr

if TYPE_CHECKING:
    from ..processing.captures.model import Capture

MARGIN = 26
DOT = 2.6
MARK = QColor("#c4661f")
_LIGHT_INK, _DARK_INK, _LEAST_CONTRAST = "#e8e8e8", "#1d2328", 90
# The share of readings that the picture is fitted to: what is seen through doors, and what stray
# readings there are, must not shrink the room.
FITTED = 0.9
_BARS_M = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 5000.0)


class RingView(QWidget):
    """The readings of a capture around the instrument, its zero direction up. The first readings
    are marked and an arrow shows which way they go on: a mirrored room gives itself away."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._points: list[tuple[float, float]] = []
        self._reach = 0.0
        self._clockwise = True
        self.setMinimumSize(300, 260)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        self.setAccessibleName(tr("Picture of the ring"))

    def sizeHint(self) -> QSize:
        return QSize(300, 300)

    def show_capture(self, capture: Capture | None) -> None:
        """Draw this capture's readings; None for an empty picture."""
        import numpy as np

        self._points, self._reach = [], 0.0
        if capture is not None:
            xy = capture.xy_m[np.isfinite(capture.distance_m)]
            if len(xy):
                self._points = [(float(x), float(y)) for x, y in xy]
                self._reach = float(np.quantile(np.abs(xy).max(axis=1), FITTED)) or 1.0
                # The steps are the file's, so that a forward sweep decides over its last jump.
                step = np.sign(np.diff(capture.angle_deg))
                self._clockwise = bool(step.sum() >= 0)
        self.setAccessibleDescription(
            tr("{count} readings drawn, {way}").format(
                count=len(self._points),
                way=tr("clockwise") if self._clockwise else tr("counterclockwise"),
            )
        )
        self.update()

    @property
    def drawn(self) -> int:
        """How many readings the picture has."""
        return len(self._points)

    @property
    def clockwise(self) -> bool:
        """Which way the readings go on in the picture."""
        return self._clockwise

    def paintEvent(self, event) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        palette = self.palette()
        ink = _ink(palette)
        painter.fillRect(self.rect(), palette.color(QPalette.ColorRole.Base))
        painter.setPen(QPen(palette.color(QPalette.ColorRole.Mid), 1))
        painter.drawRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5))
        if not self._points:
            painter.setPen(palette.color(QPalette.ColorRole.Mid))
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, tr("nothing to draw yet"))
            return
        painter.setClipRect(self.rect().adjusted(1, 1, -1, -1))
        area = self._area()
        middle = area.center()
        scale = (min(area.width(), area.height()) / 2 - MARGIN) / self._reach
        self._draw_readings(painter, middle, scale, ink)
        self._draw_instrument(painter, middle, ink)
        self._draw_bar(painter, scale, ink)

    def _area(self) -> QRectF:
        """The part of the widget that the ring is drawn in."""
        return QRectF(self.rect())

    def _draw_readings(self, painter: QPainter, middle: QPointF, scale: float, ink: QColor) -> None:
        def spots(points) -> QPolygonF:
            return QPolygonF(
                [QPointF(middle.x() + x * scale, middle.y() - y * scale) for x, y in points]
            )

        first = max(3, len(self._points) // 25)
        for points, colour, width in (
            (self._points[first:], ink, DOT),
            (self._points[:first], MARK, 2 * DOT),
        ):
            painter.setPen(QPen(colour, width, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
            painter.drawPoints(spots(points))

    def _draw_instrument(self, painter: QPainter, middle: QPointF, ink: QColor) -> None:
        """The instrument, its zero direction, and an arrow along the turn."""
        painter.setPen(QPen(MARK, 1.6))
        painter.drawEllipse(middle, 4, 4)
        painter.drawLine(middle + QPointF(0, -4), middle + QPointF(0, -18))
        radius = 26.0
        sense = 1 if self._clockwise else -1
        box = QRectF(middle.x() - radius, middle.y() - radius, 2 * radius, 2 * radius)
        # Qt's angles run counterclockwise from the right, in sixteenths of a degree.
        painter.drawArc(box, (90 - sense * 20) * 16, -sense * 80 * 16)
        end = math.radians(100.0) * sense
        tip = middle + QPointF(radius * math.sin(end), -radius * math.cos(end))
        along = QPointF(math.cos(end), math.sin(end)) * sense
        across = QPointF(-along.y(), along.x())
        painter.setBrush(MARK)
        painter.drawPolygon(QPolygonF([tip + along * 7, tip + across * 3.5, tip - across * 3.5]))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(ink)
        painter.drawText(QPointF(8, 17), tr("zero direction up"))

    def _draw_bar(self, painter: QPainter, scale: float, ink: QColor) -> None:
        wanted = self.width() / 5
        length = min(_BARS_M, key=lambda metres: abs(metres * scale - wanted))
        area = self._area()
        right, low = area.right() - 10.0, area.bottom() - 10.0
        painter.setPen(QPen(ink, 1.4))
        painter.drawLine(QPointF(right - length * scale, low), QPointF(right, low))
        painter.drawText(
            QRectF(0, low - 22, right, 20), Qt.AlignmentFlag.AlignRight, f"{length:g} m"
        )


def _ink(palette: QPalette) -> QColor:
    """A colour to be read on the base: a theme that is a style sheet may leave the palette's text
    dark on dark."""
    base, text = (
        palette.color(role) for role in (QPalette.ColorRole.Base, QPalette.ColorRole.Text)
    )
    if abs(base.lightness() - text.lightness()) >= _LEAST_CONTRAST:
        return text
    return QColor(_LIGHT_INK if base.lightness() < 128 else _DARK_INK)
