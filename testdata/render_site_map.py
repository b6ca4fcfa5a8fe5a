#!/usr/bin/python3
# SPDX-License-Identifier: GPL-2.0-or-later
"""Renders plans on the site map with their error bands, side by side, without a window.

Usage: ``render_site_map.py PICTURE.png BUILDINGS PATHS PLAN.gpkg TITLE [PLAN.gpkg TITLE ...]``
"""

from __future__ import annotations

import sys
from pathlib import Path

from qgis.core import (
    QgsCoordinateTransform,
    QgsFillSymbol,
    QgsLineSymbol,
    QgsProject,
    QgsRectangle,
    QgsSingleSymbolRenderer,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QPointF, QRectF, QSize, Qt
from qgis.PyQt.QtGui import QColor, QFont, QImage, QPainter
from render_map import INK, MARGIN, host, layer_of, metres_per_unit, render, scale_bar

PANEL = QSize(620, 560)
DRAWN = ("stations", "openings", "wall_faces", "rooms", "error_band")  # the topmost first
AROUND = 0.30  # of the error band's extent, for the neighbours


def site_layer(path: str, symbol: QgsFillSymbol | QgsLineSymbol) -> QgsVectorLayer:
    """A layer of the site map with one symbol."""
    layer = QgsVectorLayer(path, Path(path).stem, "ogr")
    if not layer.isValid():
        raise SystemExit(f"The host cannot open {path}")
    layer.setRenderer(QgsSingleSymbolRenderer(symbol))
    return layer


def panel(plan: str, below: list[QgsVectorLayer], extent: QgsRectangle) -> QImage:
    """The lowest storey of a plan above the map."""
    layers = [layer_of(plan, name, None if name == "error_band" else 0) for name in DRAWN]
    for layer in layers:
        layer.setLabelsEnabled(False)
    return render([*layers, *below], extent, PANEL)


def extent_of(plans: list[str]) -> QgsRectangle:
    """One extent for all plans, so that they can be compared."""
    whole = QgsRectangle()
    bands = [layer_of(plan, "error_band") for plan in plans]
    for band in bands:
        change = QgsCoordinateTransform(band.crs(), bands[0].crs(), QgsProject.instance())
        whole.combineExtentWith(change.transformBoundingBox(band.extent()))
    whole.grow(AROUND * max(whole.width(), whole.height()))
    return whole


def draw(picture: str, buildings: str, paths: str, plans: list[str], titles: list[str]) -> None:
    """The panels in a row, a title above each, a scale bar below."""
    house = {"color": "222,214,200", "outline_color": "120,110,95", "outline_width": "0.25"}
    path = {"line_color": "190,184,172", "line_width": "1.4", "capstyle": "round"}
    below = [
        site_layer(buildings, QgsFillSymbol.createSimple(house)),
        site_layer(paths, QgsLineSymbol.createSimple(path)),
    ]
    extent = extent_of(plans)
    image = QImage(
        PANEL.width() * len(plans), PANEL.height() + 2 * MARGIN, QImage.Format.Format_RGB32
    )
    image.fill(QColor("white"))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    font = QFont("DejaVu Sans")
    font.setPixelSize(18)
    painter.setFont(font)
    for number, (plan, title) in enumerate(zip(plans, titles)):
        left = number * PANEL.width()
        painter.drawImage(left, MARGIN, panel(plan, below, extent))
        painter.setPen(INK)
        box = QRectF(left, 0, PANEL.width(), MARGIN)
        painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), title)
        if number:
            bottom = MARGIN + PANEL.height()
            painter.drawLine(QPointF(left, MARGIN), QPointF(left, bottom))
    per_unit = PANEL.width() / max(extent.width(), extent.height() * PANEL.width() / PANEL.height())
    metres = per_unit / metres_per_unit(layer_of(plans[0], "rooms"))
    scale_bar(painter, metres, MARGIN, image.height() - MARGIN / 2)
    painter.end()
    if not image.convertToFormat(QImage.Format.Format_Indexed8).save(picture, "PNG"):
        raise SystemExit(f"{picture} cannot be written")


def main(arguments: list[str]) -> None:
    """Reads the arguments and draws."""
    if len(arguments) < 5 or len(arguments) % 2 == 0:
        raise SystemExit(f"{__doc__}")
    with host():
        draw(*arguments[:3], arguments[3::2], arguments[4::2])


if __name__ == "__main__":
    main(sys.argv[1:])
