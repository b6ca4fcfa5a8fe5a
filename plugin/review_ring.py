# SPDX-License-Identifier: GPL-2.0-or-later
"""The ring of a station as the plan has it, coloured by what speaks against its readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from qgis.PyQt.QtCore import QPointF, QRectF, QSize, Qt
from qgis.PyQt.QtGui import QColor, QPainter, QPen, QPolygonF

from .review_readings import RingReading
from .ring_view import DOT, FITTED, MARK, RingView
from .translation import tr

BY_RESIDUAL, BY_FLAG = "residual", "flag"
_INK = ""
"""A colour's name for the text colour, which suits a light and a dark window."""

_SOFT = "#8b949c"
_CROSS = 2.6
_PADDING, _GAP = 8, 12
_SWATCH = 2.2


@dataclass(frozen=True)
class _Class:
    """Readings that look the same: colour, shape, and their name in the legend."""

    text: str
    colour: str
    cross: bool = False


def _residual_classes() -> tuple[_Class, ...]:
    # Okabe and Ito, Color Universal Design, 2008, as in the reports; the last by its shape too.
    return (
        _Class(tr("on no wall"), _SOFT),
        _Class(tr("up to 2 mm"), _INK),
        _Class(tr("2 to 5 mm"), "#56b4e9"),
        _Class(tr("5 to 10 mm"), "#e69f00"),
        _Class(tr("beyond 10 mm"), "#d55e00", cross=True),
    )


_BOUNDS_MM = (2.0, 5.0, 10.0)


def _class_by_residual(reading: RingReading) -> int:
    if reading.residual_mm is None:
        return 0
    return 1 + sum(abs(reading.residual_mm) > bound for bound in _BOUNDS_MM)


class ReviewRing(RingView):
    """Readings around their station, up as in the map, with a legend that counts them."""

    def __init__(self, parent=None) -> None:
        super().__init__(parent)
        self.setMinimumSize(160, 130)
        self._readings: Sequence[RingReading] = ()
        self._by = BY_RESIDUAL
        self._parts: list[tuple[_Class, list[tuple[float, float]]]] = []
        self._units_per_m = 1.0

    def sizeHint(self) -> QSize:
        return QSize(320, 340)

    def show_readings(self, readings: Sequence[RingReading], units_per_m: float = 1.0) -> None:
        """Draw these; a metre is so many of their units."""
        self._readings, self._units_per_m = readings, units_per_m
        self._sort()

    def colour_by(self, what: str) -> None:
        """Colour by the residual or by the flag."""
        self._by = what
        self._sort()

    @property
    def legend(self) -> list[tuple[str, int]]:
        """The classes that are drawn, and how many readings each has."""
        return [(part.text, len(points)) for part, points in self._parts]

    def _sort(self) -> None:
        drawn: dict[int, list[tuple[float, float]]] = {}
        if self._by == BY_FLAG:
            classes, class_of = _flag_classes()
        else:
            classes, class_of = _residual_classes(), _class_by_residual
        metre = 1.0 / self._units_per_m
        for reading in self._readings:
            place = (reading.x * metre, reading.y * metre)
            drawn.setdefault(class_of(reading), []).append(place)
        self._parts = [(classes[number], drawn[number]) for number in sorted(drawn)]
        self._points = [point for _, points in self._parts for point in points]
        sizes = sorted(max(abs(x), abs(y)) for x, y in self._points)
        self._reach = sizes[min(int(FITTED * len(sizes)), len(sizes) - 1)] if sizes else 0.0
        self._reach = self._reach or 1.0
        self.setAccessibleDescription("; ".join(f"{text}: {count}" for text, count in self.legend))
        self.update()

    def _area(self) -> QRectF:
        return QRectF(self.rect()).adjusted(0, 0, 0, -self._legend_height())

    def _draw_readings(self, painter: QPainter, middle: QPointF, scale: float, ink: QColor) -> None:
        painter.save()
        painter.setClipRect(self._area().adjusted(1, 1, -1, 0))
        for part, points in self._parts:
            at = [QPointF(middle.x() + x * scale, middle.y() - y * scale) for x, y in points]
            self._draw_marks(painter, part, at, ink)
        painter.restore()
        self._draw_legend(painter, ink)

    def _draw_instrument(self, painter: QPainter, middle: QPointF, ink: QColor) -> None:
        painter.setPen(QPen(MARK, 1.6))
        painter.drawEllipse(middle, 4, 4)

    def _draw_marks(
        self,
        painter: QPainter,
        part: _Class,
        at: Sequence[QPointF],
        ink: QColor,
        larger: float = 1.0,
    ) -> None:
        colour = QColor(part.colour) if part.colour else ink
        if part.cross:
            painter.setPen(QPen(colour, 1.4))
            for point in at:
                for turned in (1.0, -1.0):
                    arm = QPointF(_CROSS, turned * _CROSS)
                    painter.drawLine(point - arm, point + arm)
            return
        width = larger * (DOT if part.colour != _SOFT else 0.7 * DOT)
        painter.setPen(QPen(colour, width, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.drawPoints(QPolygonF(list(at)))

    # the legend, in as many lines as the width asks for

    def _entries(self) -> list[tuple[_Class, str, float, int]]:
        """Class, text, place from the left and line of each entry."""
        metrics = self.fontMetrics()
        left, line, entries = float(_PADDING), 0, []
        for part, points in self._parts:
            text = f"{part.text} ({len(points)})"
            width = 14 + metrics.horizontalAdvance(text) + _GAP
            if left > _PADDING and left + width > self.width():
                left, line = float(_PADDING), line + 1
            entries.append((part, text, left, line))
            left += width
        return entries

    def _legend_height(self) -> int:
        entries = self._entries()
        lines = entries[-1][3] + 1 if entries else 0
        return lines * (self.fontMetrics().height() + 3) + _PADDING if lines else 0

    def _draw_legend(self, painter: QPainter, ink: QColor) -> None:
        metrics = self.fontMetrics()
        top = self.height() - self._legend_height()
        for part, text, left, line in self._entries():
            base = top + line * (metrics.height() + 3) + metrics.ascent() + 2
            mark = QPointF(left + 4, base - metrics.ascent() / 2 + 1)
            self._draw_marks(painter, part, [mark], ink, _SWATCH)
            painter.setPen(ink)
            painter.drawText(QPointF(left + 14, base), text)


def _flag_classes():
    """The marks of the reports, in the order of the flags."""
    from ..processing.captures.model import Flag
    from ..processing.reports.flag_marks import MARKS, WORD

    flags = list(Flag)
    classes = tuple(
        _Class(WORD[flag], _INK if flag is Flag.USABLE else MARKS[flag].colour, MARKS[flag].cross)
        for flag in flags
    )
    place = {flag.text: number for number, flag in enumerate(flags)}
    # A word of a later release counts as usable in the picture; the table names it.
    return classes, lambda reading: place.get(reading.flag, 0)
