# SPDX-License-Identifier: GPL-2.0-or-later
"""What the layers of a plan look like: the one place where symbols and labels are made.

Lines follow the drawing practice of ISO 128 in widths of 0.18, 0.25 and 0.5 mm; the few colours
stay apart for colour-blind readers and in a grey print.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

from qgis.core import (
    QgsEllipseSymbolLayer,
    QgsFillSymbol,
    QgsLineSymbol,
    QgsMarkerSymbol,
    QgsPalLayerSettings,
    QgsProperty,
    QgsRuleBasedLabeling,
    QgsRuleBasedRenderer,
    QgsSimpleMarkerSymbolLayer,
    QgsSymbol,
    QgsSymbolLayer,
    QgsTextBufferSettings,
    QgsTextFormat,
    QgsUnitTypes,
    QgsVectorLayer,
)
from qgis.PyQt.QtGui import QColor

from ..processing.reports.change_colours import CHANGE_COLOURS
from .translation import mark, tr

INK = "#20262b"
GREY = "#87919a"
PALE = "#c8ced3"
ROOM = "#f3efe4"
OPENING = "#a4510f"
STATION = "#1f5f99"
CONTROL = "#7a1fa2"

CHANGES = {
    "unchanged": mark("Unchanged"),
    "reshaped": mark("Reshaped"),
    "moved": mark("Moved"),
    "split": mark("Split"),
    "merged": mark("Merged"),
    "new": mark("New"),
    "removed": mark("Removed"),
    "unresolved": mark("Unresolved"),
}
"""What the legend calls the words of the field."""

ELLIPSE_95 = 2.448
"""As `stations.statistics.ELLIPSE_FACTOR`, whose module needs what a host may lack."""

EXAGGERATION = 100
NAMES_AT = 60.0
"""The scale denominator below which walls show their names."""


def style_layer(layer: QgsVectorLayer, rotations: dict[int, float] | None = None) -> None:
    """Give a plan layer its look, known by its fields.

    `rotations` is the azimuth in radians of plan north in the layer's coordinates for each
    connected group: error ellipses are kept in the plan's axes.
    """
    fields = set(layer.fields().names())
    if "seen_share" in fields:
        _style_rooms(layer)
    elif "squared_by_deg" in fields:
        _style_walls(layer)
    elif "taped_m" in fields:
        _style_taped(layer)
    elif "sigma_width_mm" in fields:
        _style_openings(layer)
    elif "orientation_deg" in fields:
        _style_stations(layer, rotations or {})
    elif "greatest_width_m" in fields:
        _style_error_band(layer)
    elif "sightings" in fields:
        _style_targets(layer)
    elif "redundancy" in fields:
        _style_ties(layer)
    elif "slope_distance_m" in fields:
        _style_readings(layer)
    elif "row_state" in fields:
        _style_changes(layer)


def _colour(name: str, alpha: int = 255) -> str:
    colour = QColor(name)
    return f"{colour.red()},{colour.green()},{colour.blue()},{alpha}"


def _line(colour: str, width: float, style: str = "solid") -> QgsLineSymbol:
    return QgsLineSymbol.createSimple(
        {
            "line_color": _colour(colour),
            "line_width": str(width),
            "line_style": style,
            "capstyle": "round",
            "joinstyle": "round",
        }
    )


def _marker(shape: str, fill: str, outline: str, size: float) -> QgsMarkerSymbol:
    return QgsMarkerSymbol.createSimple(
        {
            "name": shape,
            "color": _colour(fill),
            "outline_color": _colour(outline),
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


def _scales_in(layer: QgsVectorLayer) -> list[int]:
    index = layer.fields().lookupField("plot_scale")
    found = {int(value) for value in layer.uniqueValues(index) if value}
    return sorted(found) or [100]


Rule = QgsRuleBasedRenderer.Rule


def _rule(
    symbol: QgsSymbol | None, condition: str, label: str, limits: tuple[float, float] = (0.0, 0.0)
) -> QgsRuleBasedRenderer.Rule:
    rule = Rule(symbol)
    rule.setFilterExpression(condition)
    rule.setLabel(label)
    if limits[0]:
        rule.setMinimumScale(limits[0])
    if limits[1]:
        rule.setMaximumScale(limits[1])
    return rule


def _set_rules(layer: QgsVectorLayer, rules: Iterable[QgsRuleBasedRenderer.Rule]) -> None:
    root = Rule(None)
    for rule in rules:
        root.appendChild(rule)
    layer.setRenderer(QgsRuleBasedRenderer(root))


def _by_scale(layer: QgsVectorLayer, parts: Callable[[], list[tuple[QgsSymbol, str, str]]]) -> None:
    """Rules that draw the features of one plot scale between its limits; `parts` gives symbol,
    condition and label of what is told apart within a scale."""
    rules = []
    for scale, limits in scale_ranges(_scales_in(layer)).items():
        for symbol, condition, label in parts():
            chosen = f'"plot_scale" = {scale}' + (f" AND ({condition})" if condition else "")
            rules.append(_rule(symbol, chosen, f"{label}, 1:{scale}", limits))
    _set_rules(layer, rules)


def _text(size: float, colour: str, bold: bool = False) -> QgsTextFormat:
    form = QgsTextFormat()
    font = form.font()
    font.setBold(bold)
    form.setFont(font)
    form.setSize(size)
    form.setColor(QColor(colour))
    buffer = QgsTextBufferSettings()
    buffer.setEnabled(True)
    buffer.setSize(0.7)
    buffer.setColor(QColor(255, 255, 255, 220))
    form.setBuffer(buffer)
    return form


def _labels(expression: str, form: QgsTextFormat, distance: float = 1.2) -> QgsPalLayerSettings:
    settings = QgsPalLayerSettings()
    settings.fieldName = expression
    settings.isExpression = True
    settings.setFormat(form)
    settings.dist = distance
    return settings


def _set_labels(
    layer: QgsVectorLayer,
    parts: Iterable[tuple[QgsPalLayerSettings, str, tuple[float, float]]],
) -> None:
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


def _style_rooms(layer: QgsVectorLayer) -> None:
    def parts() -> list[tuple[QgsSymbol, str, str]]:
        fill = QgsFillSymbol.createSimple(
            {"color": _colour(ROOM), "outline_style": "no", "style": "solid"}
        )
        return [(fill, "", tr("Room"))]

    _by_scale(layer, parts)
    words = "\"name\" || '\\n' || format_number(\"area_m2\", 1) || ' m²'"
    labels = []
    for scale, limits in scale_ranges(_scales_in(layer)).items():
        settings = _labels(words, _text(8.0, INK))
        settings.placement = QgsPalLayerSettings.Placement.Horizontal
        settings.centroidInside = True
        settings.multilineAlign = QgsPalLayerSettings.MultiLineAlign.MultiCenter
        labels.append((settings, f'"plot_scale" = {scale}', limits))
    _set_labels(layer, labels)


def _style_error_band(layer: QgsVectorLayer) -> None:
    """Hatched, so that the map below can be read; its border is where the plan may end at most."""
    hatch = QgsFillSymbol.createSimple(
        {
            "color": _colour(STATION, 110),
            "style": "b_diagonal",
            "outline_color": _colour(STATION),
            "outline_width": "0.18",
            "outline_style": "dash",
        }
    )
    _set_rules(layer, [_rule(hatch, "", tr("Where the plan's outside may lie (95 %)"))])


def _style_walls(layer: QgsVectorLayer) -> None:
    _by_scale(
        layer,
        lambda: [
            (_line(INK, 0.5), 'coalesce("bounds_room", true)', tr("Wall face")),
            (_line(GREY, 0.18), 'NOT "bounds_room"', tr("Face bounding no room")),
        ],
    )
    labels = []
    for scale, limits in scale_ranges(_scales_in(layer)).items():
        settings = _labels('"wall"', _text(6.0, GREY), 0.4)
        settings.placement = QgsPalLayerSettings.Placement.Line
        # Names are looked up close to a wall; on a plan they are in the way.
        largest = min(limits[0], NAMES_AT) if limits[0] else NAMES_AT
        if limits[1] < largest:
            labels.append((settings, f'"plot_scale" = {scale}', (largest, limits[1])))
    _set_labels(layer, labels)


def _style_taped(layer: QgsVectorLayer) -> None:
    _set_rules(
        layer,
        [
            _rule(_line(STATION, 0.25), "\"verdict\" = 'within tolerance'", tr("Within tolerance")),
            _rule(_line(OPENING, 0.5), "\"verdict\" <> 'within tolerance'", tr("Beyond tolerance")),
        ],
    )
    words = "format_number(\"taped_m\", 3) || ' (' || format_number(\"difference_mm\", 0) || ' mm)'"
    settings = _labels(words, _text(7.0, INK), 0.5)
    settings.placement = QgsPalLayerSettings.Placement.Line
    _set_labels(layer, [(settings, "", (0.0, 0.0))])


def _style_changes(layer: QgsVectorLayer) -> None:
    rules = []
    for change, colour in CHANGE_COLOURS.items():
        fill = QgsFillSymbol.createSimple(
            {"color": _colour(colour, 190), "outline_color": _colour(INK), "outline_width": "0.25"}
        )
        rules.append(_rule(fill, f"\"change\" = '{change}'", tr(CHANGES[change])))
    _set_rules(layer, rules)
    settings = _labels('coalesce("assigned_id", "old_id")', _text(8.0, INK))
    settings.placement = QgsPalLayerSettings.Placement.Horizontal
    settings.centroidInside = True
    _set_labels(layer, [(settings, "", (0.0, 0.0))])


def _style_openings(layer: QgsVectorLayer) -> None:
    _by_scale(
        layer,
        lambda: [
            (_line(OPENING, 0.35), "\"kind\" = 'doorway'", tr("Doorway")),
            (_line(STATION, 0.25), "\"kind\" = 'window'", tr("Window")),
            (_line(GREY, 0.25, "dash"), "\"kind\" = 'unseen'", tr("Unseen stretch")),
        ],
    )
    labels = []
    for scale, limits in scale_ranges(_scales_in(layer)).items():
        settings = _labels('format_number("width_m", 2)', _text(6.5, OPENING), 0.6)
        settings.placement = QgsPalLayerSettings.Placement.Line
        # Widths are read at a large scale; on a small plan they would hide it.
        largest = min(limits[0], 100.0) if limits[0] else 100.0
        labels.append(
            (settings, f'"plot_scale" = {scale} AND "kind" = \'doorway\'', (largest, limits[1]))
        )
    _set_labels(layer, labels)


def _ellipse(rotations: dict[int, float]) -> QgsEllipseSymbolLayer:
    """The 95 % error ellipse in metres of the map, exaggerated, from the fields of the stations."""
    ellipse = QgsEllipseSymbolLayer()
    ellipse.setFillColor(QColor(31, 95, 153, 45))
    ellipse.setStrokeColor(QColor(STATION))
    ellipse.setStrokeWidth(0.18)
    unit = QgsUnitTypes.RenderUnit.RenderMetersInMapUnits
    ellipse.setSymbolWidthUnit(unit)
    ellipse.setSymbolHeightUnit(unit)
    mean = '(("sigma_x_mm"^2 + "sigma_y_mm"^2) / 2)'
    half = 'sqrt((("sigma_x_mm"^2 - "sigma_y_mm"^2) / 2)^2 + "cov_xy_mm2"^2)'
    factor = 2 * ELLIPSE_95 * EXAGGERATION / 1000.0
    turns = " ".join(
        f'WHEN "network" = {number} THEN {math.degrees(rotation):.9f}'
        for number, rotation in sorted(rotations.items())
    )
    turn = f"CASE {turns} ELSE 0 END" if turns else "0"
    azimuth = 'degrees(atan2(2 * "cov_xy_mm2", "sigma_x_mm"^2 - "sigma_y_mm"^2) / 2)'
    for place, expression in (
        (QgsSymbolLayer.Property.PropertyWidth, f"{factor} * sqrt(max({mean} + {half}, 0))"),
        (QgsSymbolLayer.Property.PropertyHeight, f"{factor} * sqrt(max({mean} - {half}, 0))"),
        (QgsSymbolLayer.Property.PropertyAngle, f"{turn} - {azimuth}"),
    ):
        ellipse.setDataDefinedProperty(place, QgsProperty.fromExpression(expression))
    return ellipse


def _style_stations(layer: QgsVectorLayer, rotations: dict[int, float]) -> None:
    adjusted = _marker("circle", STATION, "#ffffff", 2.2)
    dot = adjusted.symbolLayer(0).clone()
    adjusted.changeSymbolLayer(0, _ellipse(rotations))
    adjusted.appendSymbolLayer(dot)
    _set_rules(
        layer,
        [
            _rule(
                adjusted,
                "\"status\" IN ('adjusted', 'held')",
                tr("Station, 95 % ellipse × {factor} (exaggerated)").format(factor=EXAGGERATION),
            ),
            _rule(
                _marker("circle", "#ffffff", STATION, 2.2),
                "\"status\" = 'as recorded'",
                tr("Station as recorded"),
            ),
            _rule(
                _marker("circle", "#ffffff", OPENING, 2.4),
                "\"status\" = 'unconnected'",
                tr("Unconnected station (sketched)"),
            ),
        ],
    )
    _set_labels(layer, [(_labels('"station"', _text(7.5, STATION)), "", (0.0, 0.0))])


def _style_targets(layer: QgsVectorLayer) -> None:
    _set_rules(
        layer,
        [
            _rule(
                _marker("triangle", CONTROL, "#ffffff", 2.8), "\"role\" = 'control'", tr("Control")
            ),
            _rule(_marker("cross", INK, INK, 1.8), "\"role\" = 'tie'", tr("Tie target")),
            _rule(
                _marker("diamond", "#ffffff", INK, 2.0), "\"role\" = 'check'", tr("Check target")
            ),
        ],
    )
    _set_labels(
        layer,
        [(_labels('"target"', _text(7.0, CONTROL)), "\"role\" = 'control'", (0.0, 0.0))],
    )


def _style_ties(layer: QgsVectorLayer) -> None:
    _set_rules(
        layer,
        [
            _rule(_line(OPENING, 0.25, "dash"), 'NOT "used"', tr("Tie not used")),
            _rule(_line(GREY, 0.18), '"used" AND "kind" <> \'overlap\'', tr("Sighting")),
            _rule(_line(STATION, 0.35), '"used" AND "kind" = \'overlap\'', tr("Overlap tie")),
        ],
    )


def _style_readings(layer: QgsVectorLayer) -> None:
    def dot(colour: str, size: float) -> QgsMarkerSymbol:
        symbol = _marker("circle", colour, colour, size)
        layer_of = symbol.symbolLayer(0)
        if isinstance(layer_of, QgsSimpleMarkerSymbolLayer):
            layer_of.setStrokeWidth(0.0)
        return symbol

    _set_rules(
        layer,
        [
            _rule(dot(GREY, 0.5), "coalesce(\"flag\", '') = ''", tr("Reading")),
            _rule(dot(PALE, 0.5), "coalesce(\"flag\", '') <> ''", tr("Flagged reading")),
        ],
    )
