# SPDX-License-Identifier: GPL-2.0-or-later
"""What the review panel shows of a plan, kept as the layers have it."""

from __future__ import annotations

from collections.abc import Collection

from qgis.core import QgsUnitTypes
from qgis.PyQt.QtCore import QObject, QTimer

from ..processing.layers import schema
from .background import Background
from .connections import Connections
from .review_columns import tie_sentence
from .review_panel import ReviewPanel
from .review_plans import ReviewPlan, equals
from .review_readings import StationFacts, ring, station_facts
from .review_selection import LinkedTable
from .translation import tr

_WAIT_MS = 150


class ReviewRows(QObject):
    """Fills the tables and the ring, and fills them again when a layer changes. Readings, which may
    be many, are read in the background, as tasks of `owner`."""

    def __init__(self, panel: ReviewPanel, owner: QObject) -> None:
        super().__init__(owner)
        self.panel, self._owner = panel, owner
        self.plan: ReviewPlan | None = None
        self._facts: dict[str, StationFacts] | None = None
        self._tasks: dict[str, Background] = {}
        self._connections = Connections()
        self._shown_station = ""
        self._paused = False
        self.linked = {
            schema.STATIONS: LinkedTable(panel.stations),
            schema.TIES: LinkedTable(panel.ties),
            schema.ROOMS: LinkedTable(panel.rooms),
        }
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_WAIT_MS)
        self._timer.timeout.connect(lambda: self.show_rows(()))
        self._stale: set[schema.LayerSchema] = set()
        panel.stations.selectionModel().currentChanged.connect(lambda *_: self.show_station())
        panel.ties.selectionModel().currentChanged.connect(lambda *_: self._show_tie())

    def show_plan(self, plan: ReviewPlan | None) -> None:
        """Show this plan, or nothing."""
        self._connections.clear()
        for name in [*self._tasks]:
            self._tasks.pop(name).drop()
        self.plan, self._facts, self._shown_station = plan, None, ""
        for kind, linked in self.linked.items():
            layers = plan.of(kind) if plan is not None else []
            linked.follow(layers)
            for layer in layers:
                for signal in (
                    layer.dataChanged,
                    layer.attributeValueChanged,
                    layer.featuresDeleted,
                    layer.afterRollBack,
                    layer.subsetStringChanged,
                ):
                    self._connections.add(signal, lambda *_, kind=kind: self._changed(kind))
        self.show_rows()
        self._fit_columns()
        self._count_readings()

    def pause(self, paused: bool) -> None:
        """While the layers read their files again, nothing is read from them."""
        self._paused = paused
        for linked in self.linked.values():
            linked.paused = paused

    def reload(self) -> None:
        """Read everything again, the readings too; the selection stays."""
        self._shown_station = ""
        self.show_rows()
        self._count_readings()

    def _changed(self, kind: schema.LayerSchema) -> None:
        if not self._paused:
            self._stale.add(kind)
            self._timer.start()

    def show_rows(self, kinds: Collection[schema.LayerSchema] | None = None) -> None:
        """Show what the layers have now: stations, rooms, the ties of the station, or those kinds
        alone."""
        kinds = self._stale | set(self.linked if kinds is None else kinds)
        self._timer.stop()
        self._stale.clear()
        if self._paused:
            return
        if schema.STATIONS in kinds:
            self._show_stations()
        if schema.ROOMS in kinds:
            self._show_rooms()
        self.show_station()

    def _show_stations(self) -> None:
        stations = self._read(schema.STATIONS)
        for _, _, row in stations:
            own = (self._facts or {}).get(str(row["station"]), StationFacts())
            row["_flags"] = own.flags if self._facts is not None else None
            row["_residual_mm"], row["_standardised"] = own.residual_mm, own.standardised
        self.linked[schema.STATIONS].show(stations)

    def _show_rooms(self) -> None:
        rooms = self._read(schema.ROOMS)
        finest = min((row["plot_scale"] or 0 for _, _, row in rooms), default=0)
        at_finest = [row for _, _, row in rooms if (row["plot_scale"] or 0) == finest]
        self.linked[schema.ROOMS].show(rooms, at_finest)

    def _read(self, kind: schema.LayerSchema, condition: str = "") -> list:
        return self.plan.rows(kind, condition) if self.plan is not None else []

    def _fit_columns(self) -> None:
        for linked in self.linked.values():
            linked.table.resizeColumnsToContents()

    def show_station(self) -> None:
        """Show the ties of the station that the table is on, and its ring if it is another one."""
        if self._paused:
            return
        panel, station = self.panel, self.panel.stations.current_key()
        if self.plan is None or not station:
            panel.about.setText(
                tr("Choose a station in the table or in the map.") * bool(self.plan)
            )
            self.linked[schema.TIES].show([])
            self._show_ring("")
            return
        either = f"{equals('from_station', station)} OR {equals('to_station', station)}"
        ties = self._read(schema.TIES, either)
        for _, _, row in ties:
            row["_of"] = station
        self.linked[schema.TIES].show(ties)
        self._show_tie()
        unused = sum(not row.get("used") for _, _, row in ties)
        about = tr("Station {station}: {ties}, {unused}.").format(
            station=station,
            ties=tr("%n tie(s)", len(ties)),
            unused=tr("%n of them not used", unused),
        )
        proposal = panel.stations.current_row().get("proposal")
        if proposal:
            about += "\n" + tr("Proposal: {proposal}").format(proposal=proposal)
        panel.about.setText(about)
        if station != self._shown_station:
            if not self._shown_station:
                panel.ties.resizeColumnsToContents()
            self._show_ring(station)

    def _show_tie(self) -> None:
        row = self.panel.ties.current_row()
        self.panel.about_tie.setText(tie_sentence(row) if row else "")

    def _show_ring(self, station: str) -> None:
        if "ring" in self._tasks:
            self._tasks.pop("ring").drop()
        self._shown_station = station
        at = self._point_of(station) if station else None
        sources = self.plan.sources(schema.READINGS) if at is not None else []
        if at is None or not sources:
            self.panel.ring.show_readings([])
            return
        unit = self.plan.of(schema.STATIONS)[0].crs().mapUnits()
        metre = QgsUnitTypes.fromUnitToUnitFactor(QgsUnitTypes.DistanceUnit.DistanceMeters, unit)
        self._start(
            "ring",
            tr("Ring of {station}").format(station=station),
            lambda progress: ring(sources, station, at, progress),
            lambda readings: self.panel.ring.show_readings(readings, metre),
        )

    def _point_of(self, station: str) -> tuple[float, float] | None:
        for layer in self.plan.of(schema.STATIONS):
            for feature in layer.getFeatures(equals("station", station)):
                if not feature.geometry().isEmpty():
                    point = feature.geometry().asPoint()
                    return point.x(), point.y()
        return None

    def _count_readings(self) -> None:
        if self.plan is None:
            return
        readings, ties = self.plan.sources(schema.READINGS), self.plan.sources(schema.TIES)
        self._start(
            "facts",
            tr("Flags and residuals of the stations"),
            lambda progress: station_facts(readings, ties, progress),
            self._counted,
        )

    def _counted(self, facts: dict[str, StationFacts]) -> None:
        self._facts = facts
        self.show_rows({schema.STATIONS})
        self._fit_columns()

    def _start(self, name: str, title: str, work, done) -> None:
        if name in self._tasks:
            self._tasks.pop(name).drop()

        def finished(result) -> None:
            self._tasks.pop(name, None)
            done(result)

        self._tasks[name] = Background(
            title,
            work,
            finished,
            lambda sentence: self.panel.say(sentence, is_fault=True),
            owner=self._owner,
        ).start()
