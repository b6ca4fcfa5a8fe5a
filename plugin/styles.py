# SPDX-License-Identifier: GPL-2.0-or-later
"""What the layers of a plan look like: the one place where that is decided.

Lines follow the drawing practice of ISO 128 in widths of 0.18, 0.25 and 0.5 mm; the few colours
stay apart for colour-blind readers and in a grey print.
"""

from __future__ import annotations

import math

from qgis.core import (
    QgsEllipseSymbolLayer,
    QgsFillSymbol,
    QgsMarkerSymbol,
    QgsPalLayerSettings,
    QgsProperty,
    QgsSimpleMarkerSymbolLayer,
    QgsSymbol,
    QgsSymbolLayer,
    QgsUnitTypes,
    QgsVectorLayer,
)
from qgis.PyQt.QtGui import QColor

from ..processing.reports.change_colours import CHANGE_COLOURS
from .style_parts import (
    by_scale,
    drawing_rule,
    label_settings,
    line_symbol,
    marker_symbol,
    rgba,
    scale_ranges,
    scales_in,
    set_labels,
    set_rules,
    text_format,
)
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


def _style_rooms(layer: QgsVectorLayer) -> None:
    def parts() -> list[tuple[QgsSymbol, str, str]]:
        fill = QgsFillSymbol.createSimple(
            {"color": rgba(ROOM), "outline_style": "no", "style": "solid"}
        )
        return [(fill, "", tr("Room"))]

    by_scale(layer, parts)
    words = "\"name\" || '\\n' || format_number(\"area_m2\", 1) || ' m²'"
    labels = []
    for scale, limits in scale_ranges(scales_in(layer)).items():
        settings = label_settings(words, text_format(8.0, INK))
        settings.placement = QgsPalLayerSettings.Placement.Horizontal
        settings.centroidInside = True
        settings.multilineAlign = QgsPalLayerSettings.MultiLineAlign.MultiCenter
        labels.append((settings, f'"plot_scale" = {scale}', limits))
    set_labels(layer, labels)


def _style_error_band(layer: QgsVectorLayer) -> None:
    """Hatched, so that the map below can be read; its border is where the plan may end at most."""
    hatch = QgsFillSymbol.createSimple(
        {
            "color": rgba(STATION, 110),
            "style": "b_diagonal",
            "outline_color": rgba(STATION),
            "outline_width": "0.18",
            "outline_style": "dash",
        }
    )
    set_rules(layer, [drawing_rule(hatch, "", tr("Where the plan's outside may lie (95 %)"))])


def _style_walls(layer: QgsVectorLayer) -> None:
    by_scale(
        layer,
        lambda: [
            (line_symbol(INK, 0.5), 'coalesce("bounds_room", true)', tr("Wall face")),
            (line_symbol(GREY, 0.18), 'NOT "bounds_room"', tr("Face bounding no room")),
        ],
    )
    labels = []
    for scale, limits in scale_ranges(scales_in(layer)).items():
        settings = label_settings('"wall"', text_format(6.0, GREY), 0.4)
        settings.placement = QgsPalLayerSettings.Placement.Line
        # Names are looked up close to a wall; on a plan they are in the way.
        largest = min(limits[0], NAMES_AT) if limits[0] else NAMES_AT
        if limits[1] < largest:
            labels.append((settings, f'"plot_scale" = {scale}', (largest, limits[1])))
    set_labels(layer, labels)


def _style_taped(layer: QgsVectorLayer) -> None:
    set_rules(
        layer,
        [
            drawing_rule(
                line_symbol(STATION, 0.25),
                "\"verdict\" = 'within tolerance'",
                tr("Within tolerance"),
            ),
            drawing_rule(
                line_symbol(OPENING, 0.5),
                "\"verdict\" <> 'within tolerance'",
                tr("Beyond tolerance"),
            ),
        ],
    )
    words = "format_number(\"taped_m\", 3) || ' (' || format_number(\"difference_mm\", 0) || ' mm)'"
    settings = label_settings(words, text_format(7.0, INK), 0.5)
    settings.placement = QgsPalLayerSettings.Placement.Line
    set_labels(layer, [(settings, "", (0.0, 0.0))])


def _style_changes(layer: QgsVectorLayer) -> None:
    rules = []
    for change, colour in CHANGE_COLOURS.items():
        fill = QgsFillSymbol.createSimple(
            {"color": rgba(colour, 190), "outline_color": rgba(INK), "outline_width": "0.25"}
        )
        rules.append(drawing_rule(fill, f"\"change\" = '{change}'", tr(CHANGES[change])))
    set_rules(layer, rules)
    settings = label_settings('coalesce("assigned_id", "old_id")', text_format(8.0, INK))
    settings.placement = QgsPalLayerSettings.Placement.Horizontal
    settings.centroidInside = True
    set_labels(layer, [(settings, "", (0.0, 0.0))])


def _style_openings(layer: QgsVectorLayer) -> None:
    by_scale(
        layer,
        lambda: [
            (line_symbol(OPENING, 0.35), "\"kind\" = 'doorway'", tr("Doorway")),
            (line_symbol(STATION, 0.25), "\"kind\" = 'window'", tr("Window")),
            (line_symbol(GREY, 0.25, "dash"), "\"kind\" = 'unseen'", tr("Unseen stretch")),
        ],
    )
    labels = []
    for scale, limits in scale_ranges(scales_in(layer)).items():
        settings = label_settings('format_number("width_m", 2)', text_format(6.5, OPENING), 0.6)
        settings.placement = QgsPalLayerSettings.Placement.Line
        # Widths are read at a large scale; on a small plan they would hide it.
        largest = min(limits[0], 100.0) if limits[0] else 100.0
        labels.append(
            (settings, f'"plot_scale" = {scale} AND "kind" = \'doorway\'', (largest, limits[1]))
        )
    set_labels(layer, labels)


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
    adjusted = marker_symbol("circle", STATION, "#ffffff", 2.2)
    dot = adjusted.symbolLayer(0).clone()
    adjusted.changeSymbolLayer(0, _ellipse(rotations))
    adjusted.appendSymbolLayer(dot)
    set_rules(
        layer,
        [
            drawing_rule(
                adjusted,
                "\"status\" IN ('adjusted', 'held')",
                tr("Station, 95 % ellipse × {factor} (exaggerated)").format(factor=EXAGGERATION),
            ),
            drawing_rule(
                marker_symbol("circle", "#ffffff", STATION, 2.2),
                "\"status\" = 'as recorded'",
                tr("Station as recorded"),
            ),
            drawing_rule(
                marker_symbol("circle", "#ffffff", OPENING, 2.4),
                "\"status\" = 'unconnected'",
                tr("Unconnected station (sketched)"),
            ),
        ],
    )
    set_labels(layer, [(label_settings('"station"', text_format(7.5, STATION)), "", (0.0, 0.0))])


def _style_targets(layer: QgsVectorLayer) -> None:
    set_rules(
        layer,
        [
            drawing_rule(
                marker_symbol("triangle", CONTROL, "#ffffff", 2.8),
                "\"role\" = 'control'",
                tr("Control"),
            ),
            drawing_rule(
                marker_symbol("cross", INK, INK, 1.8), "\"role\" = 'tie'", tr("Tie target")
            ),
            drawing_rule(
                marker_symbol("diamond", "#ffffff", INK, 2.0),
                "\"role\" = 'check'",
                tr("Check target"),
            ),
        ],
    )
    set_labels(
        layer,
        [
            (
                label_settings('"target"', text_format(7.0, CONTROL)),
                "\"role\" = 'control'",
                (0.0, 0.0),
            )
        ],
    )


def _style_ties(layer: QgsVectorLayer) -> None:
    set_rules(
        layer,
        [
            drawing_rule(line_symbol(OPENING, 0.25, "dash"), 'NOT "used"', tr("Tie not used")),
            drawing_rule(
                line_symbol(GREY, 0.18), '"used" AND "kind" <> \'overlap\'', tr("Sighting")
            ),
            drawing_rule(
                line_symbol(STATION, 0.35), '"used" AND "kind" = \'overlap\'', tr("Overlap tie")
            ),
        ],
    )


def _style_readings(layer: QgsVectorLayer) -> None:
    def dot(colour: str, size: float) -> QgsMarkerSymbol:
        symbol = marker_symbol("circle", colour, colour, size)
        layer_of = symbol.symbolLayer(0)
        if isinstance(layer_of, QgsSimpleMarkerSymbolLayer):
            layer_of.setStrokeWidth(0.0)
        return symbol

    set_rules(
        layer,
        [
            drawing_rule(dot(GREY, 0.5), "coalesce(\"flag\", '') = ''", tr("Reading")),
            drawing_rule(dot(PALE, 0.5), "coalesce(\"flag\", '') <> ''", tr("Flagged reading")),
        ],
    )
