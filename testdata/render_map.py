#!/usr/bin/python3
# SPDX-License-Identifier: GPL-2.0-or-later
"""Renders the map of a plan with the host, without a window: the storeys at one scale.

Usage: ``render_map.py PLAN.gpkg PICTURE.png [WIDTH HEIGHT]`` (pixels at most, default 1600 by
1100). What is drawn, and how, is what the host itself shows when it opens the plan: the layers in
their order, with the styles that came with them.
"""

from __future__ import annotations

import math
import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from qgis.core import (
    QgsApplication,
    QgsMapRendererParallelJob,
    QgsMapSettings,
    QgsRectangle,
    QgsUnitTypes,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QPointF, QRectF, QSettings, QSize, Qt
from qgis.PyQt.QtGui import QColor, QFont, QImage, QPainter, QPen

DRAWN = ("rooms", "wall_faces", "openings", "targets", "stations")  # the lowest first
DOTS_PER_INCH = 120.0
MARGIN = 60  # pixels
MARGIN_SHARE = 0.06  # of the plan's extent, so that labels at its edge are not cut
INK = QColor("#20262b")


def layer_of(plan: str, name: str, level: int | None = None) -> QgsVectorLayer:
    """A layer of the plan, or the part of it that belongs to a storey."""
    layer = QgsVectorLayer(f"{plan}|layername={name}", name, "ogr")
    if not layer.isValid():
        raise SystemExit(f"The host cannot open the layer {name} of {plan}")
    if level is not None and layer.fields().lookupField("level") >= 0:
        layer.setSubsetString(f'"level" = {level}')
    return layer


def levels_of(layers: list[QgsVectorLayer]) -> list[int]:
    """The storeys that have something to draw."""
    found = set()
    for layer in layers:
        field = layer.fields().lookupField("level")
        if field >= 0:
            found.update(layer.uniqueValues(field))
    return sorted(level for level in found if isinstance(level, int))


def extent_of(layers: list[QgsVectorLayer]) -> QgsRectangle:
    """The room that the walls and stations of a storey take, with a margin."""
    extent = QgsRectangle()
    for layer in layers:
        layer.updateExtents()
        if layer.featureCount():
            extent.combineExtentWith(layer.extent())
    extent.grow(MARGIN_SHARE * max(extent.width(), extent.height()))
    return extent


def render(layers: list[QgsVectorLayer], extent: QgsRectangle, size: QSize) -> QImage:
    """One map by the host's renderer, labels included."""
    settings = QgsMapSettings()
    settings.setLayers(layers)
    settings.setDestinationCrs(layers[0].crs())
    settings.setOutputDpi(DOTS_PER_INCH)
    settings.setOutputSize(size)
    settings.setExtent(extent)
    settings.setBackgroundColor(QColor("white"))
    settings.setFlag(QgsMapSettings.Flag.Antialiasing)
    job = QgsMapRendererParallelJob(settings)
    job.start()
    job.waitForFinished()
    for error in job.errors():
        raise SystemExit(f"The host could not render {error.layerID}: {error.message}")
    return job.renderedImage()


def scale_bar(painter: QPainter, pixels_per_metre: float, left: float, base: float) -> None:
    """A bar of a round length, at most 500 pixels."""
    metres = next(m for m in (20, 10, 5, 2, 1) if m * pixels_per_metre < 500 or m == 1)
    length = metres * pixels_per_metre
    painter.setPen(QPen(INK, 2))
    painter.drawLine(QPointF(left, base), QPointF(left + length, base))
    for x in (left, left + length):
        painter.drawLine(QPointF(x, base - 8), QPointF(x, base))
    painter.drawText(QPointF(left + length + 10, base + 2), f"{metres} m")


def draw(plan: str, picture: str, width: int, highest: int) -> None:
    """The storeys side by side, named above each, with a scale bar below."""
    whole = [layer_of(plan, name) for name in DRAWN]
    # The host wants the topmost first.
    storeys = {
        level: [layer_of(plan, name, level) for name in reversed(DRAWN)]
        for level in levels_of(whole)
    }
    extents = {level: extent_of(layers) for level, layers in storeys.items()}
    across = sum(extent.width() for extent in extents.values())
    tallest = max(extent.height() for extent in extents.values())
    pixels_per_unit = min(width / across, (highest - 2 * MARGIN) / tallest)
    panel_height = math.ceil(tallest * pixels_per_unit)
    height = panel_height + 2 * MARGIN

    image = QImage(width, height, QImage.Format.Format_ARGB32)
    image.fill(QColor("white"))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    font = QFont("DejaVu Sans")
    font.setPixelSize(22)
    painter.setFont(font)
    left = 0
    for level, layers in storeys.items():
        size = QSize(int(extents[level].width() / across * width), panel_height)
        at = extents[level].center()
        half = (size.width() / pixels_per_unit / 2, size.height() / pixels_per_unit / 2)
        seen = QgsRectangle(at.x() - half[0], at.y() - half[1], at.x() + half[0], at.y() + half[1])
        painter.drawImage(left, MARGIN, render(layers, seen, size))
        painter.setPen(INK)
        title = QRectF(left, 0, size.width(), MARGIN)
        painter.drawText(title, int(Qt.AlignmentFlag.AlignCenter), f"Level {level}")
        left += size.width()
    scale_bar(painter, pixels_per_unit / metres_per_unit(whole[0]), MARGIN, height - MARGIN / 2)
    painter.end()
    if not image.save(picture, "PNG"):
        raise SystemExit(f"{picture} cannot be written")


def metres_per_unit(layer: QgsVectorLayer) -> float:
    """Of the map's coordinates."""
    return QgsUnitTypes.fromUnitToUnitFactor(
        layer.crs().mapUnits(), QgsUnitTypes.DistanceUnit.DistanceMeters
    )


@contextmanager
def host() -> Iterator[None]:
    """The host without a window, started for what is drawn within and left after it."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    # Otherwise the host switches the file to write-ahead logging, which one layer's closing ends
    # for all the others.
    os.environ["OGR_SQLITE_JOURNAL"] = "DELETE"
    with tempfile.TemporaryDirectory() as profile:
        # The user's settings are neither read nor written.
        os.environ["QGIS_CUSTOM_CONFIG_PATH"] = profile
        ini = QSettings.Format.IniFormat
        QSettings.setDefaultFormat(ini)
        QSettings.setPath(ini, QSettings.Scope.UserScope, profile)
        application = QgsApplication([], True)
        application.initQgis()
        try:
            yield
        finally:
            application.exitQgis()


def main(arguments: list[str]) -> None:
    """Reads the arguments and draws."""
    if len(arguments) not in (2, 4):
        raise SystemExit(f"{__doc__}")
    plan, picture = arguments[:2]
    width, height = (int(text) for text in arguments[2:] or (1600, 1100))
    if not Path(plan).is_file():
        raise SystemExit(f"{plan} is not there")
    with host():
        draw(plan, picture, width, height)


if __name__ == "__main__":
    main(sys.argv[1:])
