# SPDX-License-Identifier: GPL-2.0-or-later
"""A plan as a drawing for CAD."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np
import shapely

from ..angles import Floats
from ..errors import SurveyError
from ..progress import SILENT, Progress
from . import layer_names as iso
from .contents import Features, PlanContents
from .layer_names import LayerName
from .model import CENTRE, CadLayer, Circle, Drawing, Point, Polyline, Text
from .notes import drawing_notes

INK, GREY, DOORWAY, BLUE, VIOLET = 0x20262B, 0x87919A, 0xA4510F, 0x1F5F99, 0x7A1FA2
INDEXED = {INK: 7, GREY: 8, DOORWAY: 32, BLUE: 5, VIOLET: 6}
LETTER_MM = 2.5
"""Height of lettering on paper (ISO 3098)."""

STATION_MM = 1.5
OPENING_ELEMENTS = {"window": iso.OPENINGS_OUTSIDE, "unseen": iso.NOT_CLASSIFIED}


def plan_drawing(
    contents: PlanContents,
    plot_scales: Sequence[int],
    readings: bool,
    insert_units: int = 6,
    progress: Progress = SILENT,
) -> Drawing:
    """The drawing of a plan at the plot scales, finest first: only the layers of the first are
    shown, and of the storeys the ground floor (else the lowest), since they lie over each other.
    SurveyError when the plan does not have a scale."""
    contents.check_plot_scales(plot_scales, "PLOT_SCALES")
    drawing = Drawing(insert_units=insert_units)
    for number, scale in enumerate(plot_scales):
        progress.at(0.5 * number / len(plot_scales))
        maker = _Maker(drawing, contents, scale, shown=number == 0)
        maker.rooms()
        maker.walls()
        maker.openings()
    maker = _Maker(drawing, contents, plot_scales[0], shown=True)
    maker.stations()
    maker.targets()
    if readings:
        maker.readings(progress.part(0.5, 1.0))
    maker.notes(plot_scales)
    return drawing


class _Maker:
    """Adds the parts of a plan to a drawing, for one plot scale."""

    def __init__(self, drawing: Drawing, contents: PlanContents, scale: int, shown: bool) -> None:
        self.drawing = drawing
        self.contents = contents
        self.scale = scale
        self.shown = shown
        self.mm = scale / 1000.0 * contents.units_per_m

    def layer(
        self, name: LayerName, description: str, colour: int, width: float, dashed: bool = False
    ) -> str:
        key = str(name)
        if key not in self.drawing.layers:
            levels = self.contents.levels
            first = 0 if 0 in levels else min(levels, default=0)
            shown = self.shown and name.level in (None, first)
            self.drawing.layers[key] = CadLayer(
                key, description, colour, INDEXED[colour], width, dashed, shown
            )
        return key

    def add(self, *entities: Polyline | Point | Circle | Text) -> None:
        self.drawing.entities.extend(entities)

    def words(self, layer: str, x: float, y: float, words: str, at: str = CENTRE) -> None:
        """A line of text along the plan's x axis."""
        if words.strip():
            self.add(
                Text(layer, x, y, LETTER_MM * self.mm, words, at, -self.contents.axis_deg % 360.0)
            )

    def of_scale(self, features: Features) -> Iterator[tuple[int, int, shapely.Geometry]]:
        """Row, level and geometry of what is drawn at this plot scale."""
        for row, (scale, level, shape) in enumerate(
            zip(features.column("plot_scale"), features.column("level"), features.geometry)
        ):
            if scale == self.scale and shape is not None:
                yield row, int(level or 0), shape

    def name(self, element: str, presentation: str, word: str, level: int) -> LayerName:
        return LayerName(iso.BUILDING_SURVEYOR, element, presentation, word, level, self.scale)

    def rooms(self) -> None:
        rooms = self.contents.rooms
        for row, level, shape in self.of_scale(rooms):
            name = self.name(iso.WHOLE, iso.GRAPHICS, "ROOM", level)
            layer = self.layer(name, "Rooms", GREY, 0.18)
            for polygon in _parts(shape):
                for ring in (polygon.exterior, *polygon.interiors):
                    self.add(Polyline(layer, shapely.get_coordinates(ring)[:-1], closed=True))
            name = self.name(iso.WHOLE, iso.TEXT, "ROOM", level)
            layer = self.layer(name, "Room names and areas", INK, 0.25)
            inside = shapely.point_on_surface(shape)
            up = self._up(0.9 * LETTER_MM * self.mm)
            area = rooms.column("area_m2")[row]
            named = str(rooms.column("name")[row] or "")
            self.words(layer, inside.x + up[0], inside.y + up[1], named)
            if area is not None:
                self.words(layer, inside.x - up[0], inside.y - up[1], f"{area:.2f} m²")

    def walls(self) -> None:
        walls = self.contents.wall_faces
        for row, level, shape in self.of_scale(walls):
            if walls.column("bounds_room")[row] is False:
                name = self.name(iso.NOT_CLASSIFIED, iso.GRAPHICS, "FACE", level)
                layer = self.layer(name, "Faces that bound no room", GREY, 0.18)
            else:
                name = self.name(iso.WALLS, iso.GRAPHICS, "WALL", level)
                layer = self.layer(name, "Wall faces", INK, 0.5)
            self.add(Polyline(layer, shapely.get_coordinates(shape)))

    def openings(self) -> None:
        openings = self.contents.openings
        for row, level, shape in self.of_scale(openings):
            kind = str(openings.column("kind")[row] or "")
            inside = openings.column("room_a")[row] and openings.column("room_b")[row]
            element = OPENING_ELEMENTS.get(kind, iso.OPENINGS_INSIDE if inside else iso.OPENINGS)
            word = kind.upper() if kind in ("window", "unseen") else "DOORWAY"
            title, colour, width, dashed = {
                "WINDOW": ("Windows", BLUE, 0.25, False),
                "UNSEEN": ("Stretches that nobody saw", GREY, 0.25, True),
                "DOORWAY": ("Doorways", DOORWAY, 0.35, False),
            }[word]
            name = self.name(element, iso.GRAPHICS, word, level)
            layer = self.layer(name, title, colour, width, dashed)
            self.add(Polyline(layer, shapely.get_coordinates(shape)))

    def survey(self, presentation: str, word: str, level: int | None) -> LayerName:
        return LayerName(iso.LAND_SURVEYOR, iso.WHOLE, presentation, word, level)

    def marked(
        self,
        features: Features,
        rows: Sequence[int],
        names: str,
        word: str,
        title: str,
        colour: int,
        mark: Callable[[str, Floats], None],
    ) -> None:
        """Points with a mark around each and its name beside it."""
        for row in rows:
            shape = features.geometry[row]
            if shape is None:
                continue
            level = features.column("level")[row]
            level = None if level is None else int(level)
            layer = self.layer(self.survey(iso.GRAPHICS, word, level), title, colour, 0.18)
            text = self.layer(self.survey(iso.TEXT, word, level), f"{title}: names", colour, 0.25)
            xy = shapely.get_coordinates(shape)[0]
            self.add(Point(layer, float(xy[0]), float(xy[1])))
            mark(layer, xy)
            beside = xy + self._along(1.2 * STATION_MM * self.mm)
            label = str(features.column(names)[row] or "")
            self.words(text, float(beside[0]), float(beside[1]), label, "left")

    def stations(self) -> None:
        stations = self.contents.stations
        radius = 0.5 * STATION_MM * self.mm

        def circle(layer: str, xy: Floats) -> None:
            self.add(Circle(layer, float(xy[0]), float(xy[1]), radius))

        rows = range(len(stations))
        self.marked(stations, rows, "station", "STATION", "Stations", BLUE, circle)

    def targets(self) -> None:
        targets = self.contents.targets
        turn = math.radians(self.contents.axis_deg)
        corner = np.radians([0.0, 120.0, 240.0]) + turn
        triangle = 0.7 * STATION_MM * self.mm * np.column_stack([np.sin(corner), np.cos(corner)])

        def drawn(layer: str, xy: Floats) -> None:
            self.add(Polyline(layer, xy + triangle, closed=True))

        for role, word, title in (
            ("control", "CONTROL", "Survey control"),
            ("tie", "TARGET", "Tie targets"),
            ("check", "CHECK", "Check targets"),
        ):
            rows = [row for row, found in enumerate(targets.column("role")) if found == role]
            self.marked(targets, rows, "target", word, title, VIOLET, drawn)

    def readings(self, progress: Progress) -> None:
        readings = self.contents.readings
        flags, levels = readings.column("flag"), readings.column("level")
        for row in range(len(readings)):
            if row % 2000 == 0:
                progress.at(row / len(readings))
            shape = readings.geometry[row]
            if shape is None:
                continue
            level = levels[row]
            level = None if level is None else int(level)
            word, title = "READING", "Readings"
            if flags[row]:
                word, title = "READING-FLAGGED", "Readings with a flag"
            layer = self.layer(self.survey(iso.GRAPHICS, word, level), title, GREY, 0.18)
            self.add(Point(layer, shape.x, shape.y))

    def notes(self, plot_scales: Sequence[int]) -> None:
        """The survey note below the plan's lower left corner, along its axes."""
        points = [e.xy for e in self.drawing.entities if isinstance(e, Polyline)]
        if not points:
            raise SurveyError("The plan has nothing to draw; expected walls or rooms.")
        along, up = self._along(1.0), self._up(1.0)
        together = np.concatenate(points)
        corner = (together @ along).min() * along + (together @ up).min() * up
        layer = self.layer(self.survey(iso.TEXT, "NOTE", None), "Survey notes", INK, 0.25)
        for number, line in enumerate(drawing_notes(self.contents, plot_scales)):
            x, y = corner - (number + 3) * self._up(1.7 * LETTER_MM * self.mm)
            self.words(layer, float(x), float(y), line, "left")

    def _along(self, length: float) -> Floats:
        turn = math.radians(self.contents.axis_deg)
        return length * np.array([math.cos(turn), -math.sin(turn)])

    def _up(self, length: float) -> Floats:
        turn = math.radians(self.contents.axis_deg)
        return length * np.array([math.sin(turn), math.cos(turn)])


def _parts(shape: shapely.Geometry) -> list[shapely.Polygon]:
    return [part for part in shapely.get_parts(shape) if not part.is_empty]
