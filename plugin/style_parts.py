# SPDX-License-Identifier: GPL-2.0-or-later
"""Symbols, rules and labels that the looks of layers are put together of."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from qgis.core import (
    QgsLineSymbol,
    QgsMarkerSymbol,
    QgsPalLayerSettings,
    QgsRuleBasedLabeling,
    QgsRuleBasedRenderer,
    QgsSymbol,
    QgsTextBufferSettings,
    QgsTextFormat,
    QgsVectorLayer,
)
from qgis.PyQt.QtGui import QColor

Rule = QgsRuleBasedRenderer.Rule


def rgba(name: str, alpha: int = 255) -> str:
    """A colour as the host's symbols are told it."""
    colour = QColor(name)
    return f"{colour.red()},{colour.green()},{colour.blue()},{alpha}"


def line_symbol(colour: str, width: float, style: str = "solid") -> QgsLineSymbol:
    """A line of a width in millimetres."""
    return QgsLineSymbol.createSimple(
        {
            "line_color": rgba(colour),
            "line_width": str(width),
            "line_style": style,
            "capstyle": "round",
            "joinstyle": "round",
        }
    )


def marker_symbol(shape: str, fill: str, outline: str, size: float) -> QgsMarkerSymbol:
    """A mark of a size in millimetres."""
    return QgsMarkerSymbol.createSimple(
        {
            "name": shape,
            "color": rgba(fill),
            "outline_color": rgba(outline),
            "outline_width": "0.2",
            "size": str(size),
        }
    )


def scale_ranges(scales: Iterable[int]) -> dict[int, tuple[float, float]]:
    """For each plot scale the denominators (largest, smallest; 0: no limit) between which the map
    shows it: the border between two lies at their geometric mean."""
    ordered = sorted(set(scales))
    # Whole numbers: the host's style files keep no others, and would read these as no limit.
    borders = [float(round((a * b) ** 0.5)) for a, b in zip(ordered, ordered[1:])]
    return {
        scale: (borders[i] if i < len(borders) else 0.0, borders[i - 1] if i else 0.0)
        for i, scale in enumerate(ordered)
    }


def scales_in(layer: QgsVectorLayer) -> list[int]:
    """The plot scales that a layer is drawn at, finest first; 1:100 for one of none."""
    index = layer.fields().lookupField("plot_scale")
    found = {int(value) for value in layer.uniqueValues(index) if value}
    return sorted(found) or [100]


def drawing_rule(
    symbol: QgsSymbol | None, condition: str, label: str, limits: tuple[float, float] = (0.0, 0.0)
) -> QgsRuleBasedRenderer.Rule:
    """A rule that draws what meets a condition, between two denominators of the map's scale
    (largest, smallest; 0: no limit)."""
    rule = Rule(symbol)
    rule.setFilterExpression(condition)
    rule.setLabel(label)
    if limits[0]:
        rule.setMinimumScale(limits[0])
    if limits[1]:
        rule.setMaximumScale(limits[1])
    return rule


def set_rules(layer: QgsVectorLayer, rules: Iterable[QgsRuleBasedRenderer.Rule]) -> None:
    """Draw a layer by these rules alone."""
    root = Rule(None)
    for rule in rules:
        root.appendChild(rule)
    layer.setRenderer(QgsRuleBasedRenderer(root))


def by_scale(layer: QgsVectorLayer, parts: Callable[[], list[tuple[QgsSymbol, str, str]]]) -> None:
    """Rules that draw the features of one plot scale between its limits; `parts` gives symbol,
    condition and label of what is told apart within a scale."""
    rules = []
    for scale, limits in scale_ranges(scales_in(layer)).items():
        for symbol, condition, label in parts():
            chosen = f'"plot_scale" = {scale}' + (f" AND ({condition})" if condition else "")
            rules.append(drawing_rule(symbol, chosen, f"{label}, 1:{scale}", limits))
    set_rules(layer, rules)


def text_format(size: float, colour: str) -> QgsTextFormat:
    """A text of a size in points, with a halo so that it can be read on lines."""
    form = QgsTextFormat()
    form.setSize(size)
    form.setColor(QColor(colour))
    buffer = QgsTextBufferSettings()
    buffer.setEnabled(True)
    buffer.setSize(0.7)
    buffer.setColor(QColor(255, 255, 255, 220))
    form.setBuffer(buffer)
    return form


def label_settings(
    expression: str, form: QgsTextFormat, distance: float = 1.2
) -> QgsPalLayerSettings:
    """Labels of what an expression gives, at a distance in millimetres."""
    settings = QgsPalLayerSettings()
    settings.fieldName = expression
    settings.isExpression = True
    settings.setFormat(form)
    settings.dist = distance
    return settings


def set_labels(
    layer: QgsVectorLayer,
    parts: Iterable[tuple[QgsPalLayerSettings, str, tuple[float, float]]],
) -> None:
    """Label a layer: settings, condition, and limits as in `drawing_rule`."""
    root = QgsRuleBasedLabeling.Rule(None)
    for settings, condition, (largest, smallest) in parts:
        rule = QgsRuleBasedLabeling.Rule(settings)
        rule.setFilterExpression(condition)
        if largest:
            rule.setMinimumScale(largest)
        if smallest:
            rule.setMaximumScale(smallest)
        root.appendChild(rule)
    layer.setLabeling(QgsRuleBasedLabeling(root))
    layer.setLabelsEnabled(True)
