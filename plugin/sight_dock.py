# SPDX-License-Identifier: GPL-2.0-or-later
"""Distances sighted in the map: two things are picked, the plan says how far apart they are and how
well it knows, and what a tape says goes into the plan's table."""

from __future__ import annotations

import re
from collections.abc import Callable

from qgis.core import QgsProject
from qgis.gui import QgisInterface, QgsDockWidget
from qgis.PyQt.QtCore import QTimer
from qgis.PyQt.QtWidgets import QDockWidget

from ..processing.errors import SurveyError
from ..processing.layers import schema
from .background import Background, stop_all
from .connections import Connections
from .moved_in_qt import QAction
from .review_columns import number
from .review_plans import ReviewPlan, plans_in
from .sight_entries import SightEntries
from .sight_panel import SightPanel
from .sight_plan import SightPlan, read_sight_plan, sight_sources, words_of
from .sight_tool import SightTool
from .translation import tr

OBJECT_NAME = "RoomtieSight"
_WAIT_MS = 300
_STOREY = re.compile(r'"level" = (-?\d+)')
"""How the layer of a storey is told to show that one alone."""


class SightDock(QgsDockWidget):
    """The panel, the map tool that `action` switches on and off, and what goes between them."""

    def __init__(
        self,
        iface: QgisInterface,
        action: QAction,
        open_algorithm: Callable[[str, dict], None],
        open_help: Callable[[str], None],
    ) -> None:
        super().__init__(tr("Taped distances"), iface.mainWindow())
        self.setObjectName(OBJECT_NAME)
        self._iface = iface
        self.panel = SightPanel()
        self.setWidget(self.panel)
        self.entries = SightEntries(self.panel, open_algorithm, self)
        self.plan: ReviewPlan | None = None
        self.sight: SightPlan | None = None
        self.beside: QDockWidget | None = None
        self._plans: list[ReviewPlan] = []
        self._levels: set[int] | None = None
        self._task: Background | None = None
        self.tool = SightTool(iface.mapCanvas(), lambda: self._levels)
        self.action = action
        self.tool.setAction(action)
        self._connections = Connections()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_WAIT_MS)
        self._timer.timeout.connect(self._find_first)
        self._connect(open_help)

    def _connect(self, open_help: Callable[[str], None]) -> None:
        panel, add = self.panel, self._connections.add
        add(self.action.toggled, self._switch)
        add(self.tool.over, self._say_what_is_under)
        add(self.tool.picked, self.pick)
        add(self.tool.taken_back, self.take_back)
        canvas = self._iface.mapCanvas()
        add(canvas.layersChanged, self._look_at_levels)
        add(QgsProject.instance().layersWillBeRemoved, self._layers_go)
        # A plan's layers come one by one.
        add(QgsProject.instance().layersAdded, lambda _: self._timer.start())
        panel.plans.currentIndexChanged.connect(self._plan_chosen)
        for edit in (panel.first, panel.second):
            edit.textChanged.connect(lambda _: self.show_distance())
        self.entries.added.connect(self._begin_anew)
        panel.help.clicked.connect(lambda: open_help("sight-distances"))
        self.visibilityChanged.connect(self._shown)
        self.closed.connect(lambda: self.action.setChecked(False))

    # the tool

    def _switch(self, on: bool) -> None:
        canvas = self._iface.mapCanvas()
        if not on:
            canvas.unsetMapTool(self.tool)
            self.tool.clear()
            return
        if not self.isVisible():
            self._open()
        self.setUserVisible(True)
        canvas.setMapTool(self.tool)
        self.find_plans()

    def _open(self) -> None:
        """Open over the dock that it stands beside, where that is open: one above the other, both
        would be too low."""
        other, window = self.beside, self._iface.mainWindow()
        if other is None or not other.isVisible() or other.isFloating() or self.isFloating():
            return
        if window.dockWidgetArea(other) == window.dockWidgetArea(self):
            window.tabifyDockWidget(other, self)

    def _shown(self, visible: bool) -> None:
        if visible and self.plan is None and not self.action.isChecked():
            self.find_plans()

    def _say_what_is_under(self, name: str) -> None:
        bar = self._iface.statusBarIface()
        if name:
            bar.showMessage(tr("Under the cursor: {thing}").format(thing=words_of(name)))
        else:
            bar.clearMessage()

    def pick(self, name: str) -> None:
        """Take a thing as the next end; a third one begins anew."""
        panel = self.panel
        if panel.first.text() and panel.second.text():
            panel.second.clear()
            panel.first.setText(name)
        elif panel.first.text():
            panel.second.setText(name)
            panel.taped.setFocus()
            panel.taped.selectAll()
        else:
            panel.first.setText(name)

    def _begin_anew(self) -> None:
        for edit in (self.panel.second, self.panel.first):
            edit.clear()

    def take_back(self) -> None:
        """Take the last pick back; with none left, leave the tool."""
        for edit in (self.panel.second, self.panel.first):
            if edit.text():
                edit.clear()
                return
        self.action.setChecked(False)

    def _look_at_levels(self) -> None:
        """The storeys whose walls the map shows; None where all of them may be."""
        shown = {layer.id() for layer in self._iface.mapCanvas().layers()}
        levels: set[int | None] = set()
        for layer in self.plan.of(schema.WALL_FACES) if self.plan is not None else []:
            if layer.id() in shown:
                storey = _STOREY.fullmatch(layer.subsetString())
                levels.add(int(storey[1]) if storey else None)
        self._levels = None if None in levels or not levels else levels

    # the plan

    def find_plans(self) -> None:
        """Look what plans the project has, and read the one that was chosen anew."""
        self._plans = [p for p in plans_in(QgsProject.instance()) if p.path is not None]
        self._plan_chosen(self.panel.plans.show_plans(self._plans))

    def _find_first(self) -> None:
        """Look for plans where there was none."""
        if self.isVisible() and self.plan is None:
            self.find_plans()

    def read_again(self) -> None:
        """Read the plan again, which has become another one."""
        if self.isVisible() and self.plan is not None:
            self.find_plans()

    def _plan_chosen(self, place: int) -> None:
        self._let_go()
        self.plan = self._plans[place] if 0 <= place < len(self._plans) else None
        if self.plan is None:
            self.panel.say(tr("The project has no plan: make one with Plan from captures."))
            return
        self._look_at_levels()
        self.panel.say(tr("Reading the plan…"))
        crs = self.plan.of(schema.STATIONS)[0].crs()
        sources = sight_sources(self.plan)
        self._task = Background(
            tr("Read {plan}").format(plan=self.plan.title),
            lambda progress: read_sight_plan(sources, crs, progress),
            self._was_read,
            lambda sentence: self.panel.say(sentence, is_fault=True),
            owner=self,
        ).start()

    def _was_read(self, sight: SightPlan) -> None:
        self.sight, self._task = sight, None
        self.tool.set_plan(sight)
        self.panel.names.setStringList(list(sight.references.name))
        fault = ""
        try:
            self.entries.set_plan(self.plan, sight)
        except SurveyError as error:  # a file that may not be written, or has gone
            fault = str(error)
        self.show_distance()
        if fault:
            self.panel.say(fault, is_fault=True)

    def _let_go(self) -> None:
        if self._task is not None:
            self._task.drop()
        self._task, self.plan, self.sight = None, None, None
        self.tool.set_plan(None)
        self.entries.set_plan(None, None)

    def _layers_go(self, ids) -> None:
        if self.plan is not None and {layer.id() for layer in self.plan.all_layers()} & set(ids):
            self._let_go()
            self._plans = []
            self._timer.start()

    # the distance

    def show_distance(self) -> None:
        """Show the plan's distance between what is chosen."""
        panel, sight = self.panel, self.sight
        names = [edit.text().strip() for edit in (panel.first, panel.second)]
        panel.plan_m.clear()
        panel.say("")
        if sight is not None:
            self.tool.show_pick([name for name in names if name])
        if sight is not None and all(names):
            try:
                found, line = sight.between(*names)
            except SurveyError as error:
                panel.say(str(error))
            else:
                panel.plan_m.setText(
                    tr("{length} m, standard error {sigma} mm (1 sigma)").format(
                        length=number(found.length_m, 4), sigma=number(1000.0 * found.sigma_m, 1)
                    )
                )
                self.tool.show_pick(names, line)
        self.entries.judge()

    def close_for_good(self) -> None:
        """Leave nothing behind: no tool, no mark in the map, no task, no connection."""
        self._timer.stop()
        stop_all(self)
        self.action.setChecked(False)
        self._iface.mapCanvas().unsetMapTool(self.tool)
        self._let_go()
        self._connections.clear()
        self.tool.deleteLater()
        self._iface.removeDockWidget(self)
        self.deleteLater()
