# SPDX-License-Identifier: GPL-2.0-or-later
"""The review dock: a plan's stations, what speaks for and against them, and a person's choices."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from qgis.core import QgsProject
from qgis.gui import QgisInterface, QgsDockWidget
from qgis.PyQt.QtCore import QTimer

from ..processing.errors import SurveyError
from ..processing.layers import schema
from .background import stop_all
from .connections import Connections
from .moved_in_qt import QUndoStack
from .panel_parts import plain
from .review_edits import Choose, checked
from .review_panel import ReviewPanel
from .review_plans import ReviewPlan, plans_in
from .review_rows import ReviewRows
from .review_work import ReviewWork
from .translation import tr

OBJECT_NAME = "RoomtieReview"
_WAIT_MS = 150


class ReviewDock(QgsDockWidget):
    """Works on one plan of the project at a time. `open_algorithm(name, parameters)` opens an
    algorithm's dialog, `open_help(page)` a help page."""

    def __init__(
        self,
        iface: QgisInterface,
        open_algorithm: Callable[[str, dict], None],
        open_help: Callable[[str], None],
    ) -> None:
        super().__init__(tr("Review of stations"), iface.mainWindow())
        self.setObjectName(OBJECT_NAME)
        self._iface, self._open_algorithm = iface, open_algorithm
        self.panel = ReviewPanel()
        self.setWidget(self.panel)
        self.rows = ReviewRows(self.panel, self)
        self.work = ReviewWork(self)
        self._plans: list[ReviewPlan] = []
        self._stacks: dict[str, QUndoStack] = {}
        self._project = Connections()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_WAIT_MS)
        self._timer.timeout.connect(self.find_plans)
        self._connect(open_help)
        self._show_stack()

    @property
    def plan(self) -> ReviewPlan | None:
        """The plan under review."""
        return self.rows.plan

    @property
    def stack(self) -> QUndoStack:
        """The steps on the plan under review, which can be undone."""
        key = self.plan.key if self.plan is not None else ""
        if key not in self._stacks:
            stack = self._stacks[key] = QUndoStack(self)
            stack.indexChanged.connect(self._show_stack)
        return self._stacks[key]

    def _connect(self, open_help: Callable[[str], None]) -> None:
        panel, project = self.panel, QgsProject.instance()
        panel.plans.currentIndexChanged.connect(self._plan_chosen)
        panel.undo.clicked.connect(lambda: self.step(QUndoStack.undo))
        panel.redo.clicked.connect(lambda: self.step(QUndoStack.redo))
        panel.zoom.clicked.connect(self._zoom)
        panel.help.clicked.connect(lambda: open_help("review"))
        panel.filter.textChanged.connect(panel.stations.sorted.setFilterFixedString)
        panel.colour_by.currentIndexChanged.connect(
            lambda _: panel.ring.colour_by(panel.colour_by.currentData())
        )
        for kind, table, buttons in (
            (schema.STATIONS, panel.stations, panel.station_choices),
            (schema.TIES, panel.ties, panel.tie_choices),
            (schema.ROOMS, panel.rooms, ()),
        ):
            table.rows.asked.connect(
                lambda key, field, value, kind=kind: self.choose(kind, [key], field, value)
            )
            for button in buttons:
                button.clicked.connect(
                    lambda _=False, kind=kind, table=table, button=button: self.choose(
                        kind, sorted(table.selected_keys()), "choice", button.property("choice")
                    )
                )
        panel.readjust.clicked.connect(lambda: self.readjust())
        panel.cancel.clicked.connect(self.work.cancel)
        self.work.begun.connect(self._begun)
        self.work.reading_again.connect(lambda: self.rows.pause(True))
        self.work.moved.connect(lambda percent: panel.progress.setValue(int(percent)))
        self.work.ended.connect(self._ended)
        for signal in (project.layersAdded, project.layersRemoved, project.readProject):
            self._project.add(signal, self._plans_changed)
        self._project.add(project.layersWillBeRemoved, self._layers_go)
        self.visibilityChanged.connect(lambda visible: self.find_plans() if visible else None)

    # which plan

    def _plans_changed(self, *_) -> None:
        if self.isVisible() and not self.work.is_busy:
            self._timer.start()

    def _layers_go(self, ids: Sequence[str]) -> None:
        """Let go of the plan before the host deletes layers of it."""
        if self.plan is not None and {layer.id() for layer in self.plan.all_layers()} & set(ids):
            self.rows.show_plan(None)
            self._plans = []
            self._timer.start()

    def find_plans(self) -> None:
        """Look what plans the project has, and stay with the one that was shown."""
        self._timer.stop()
        if self.work.is_busy:
            return
        found = plans_in(QgsProject.instance())
        if self._is_same(found):
            return
        self._plans = found
        self._plan_chosen(self.panel.plans.show_plans(found))

    def _is_same(self, found: Sequence[ReviewPlan]) -> bool:
        def ids(plans: Sequence[ReviewPlan]) -> list:
            return [(p.title, {layer.id() for layer in p.all_layers()}) for p in plans]

        return self.plan in self._plans and ids(found) == ids(self._plans)

    def _plan_chosen(self, place: int) -> None:
        plan = self._plans[place] if 0 <= place < len(self._plans) else None
        self.panel.readjust.setEnabled(plan is not None)
        self.panel.say(
            ""
            if plan is not None
            else tr("The project has no plan: make one with Plan from captures.")
        )
        self.rows.show_plan(plan)
        self._show_stack()

    # a person's choices

    def choose(self, kind: schema.LayerSchema, keys: Sequence[str], field: str, value: Any) -> None:
        """Write a choice for these things, as one step."""
        if self.plan is None or self.work.is_busy:
            return
        if not keys:
            self.panel.say(tr("Nothing is selected in the table."))
            return
        self.panel.say("")
        try:
            value = checked(field, value)
        except SurveyError as error:
            self._tell_fault(str(error))
            return
        self.stack.push(Choose(lambda: self.plan, kind, keys, field, value, self._tell_fault))
        self.rows.show_rows({kind})

    def _tell_fault(self, sentence: str) -> None:
        self.panel.say(sentence, is_fault=True)

    def step(self, way: Callable[[QUndoStack], None]) -> None:
        """Undo or redo a step."""
        if not self.work.is_busy:
            self.panel.say("")
            way(self.stack)
            self.rows.show_rows()

    def _show_stack(self, *_) -> None:
        stack, panel, free = self.stack, self.panel, not self.work.is_busy
        panel.undo.setEnabled(free and stack.canUndo())
        panel.redo.setEnabled(free and stack.canRedo())
        panel.undo.setToolTip(tr("Undo {step}").format(step=plain(stack.undoText())).strip())
        panel.redo.setToolTip(tr("Redo {step}").format(step=plain(stack.redoText())).strip())

    def _zoom(self) -> None:
        layers = self.plan.of(schema.STATIONS) if self.plan is not None else []
        if any(layer.selectedFeatureCount() for layer in layers):
            self._iface.mapCanvas().zoomToSelected(layers)

    # readjusting

    def readjust(self) -> None:
        """Draw a whole plan anew, in the background; for results of single steps open the
        algorithm's dialog with them."""
        plan = self.plan
        if plan is None or self.work.is_busy:
            return
        self.panel.say("")
        if plan.path is None:
            names = {schema.STATIONS: "STATIONS", schema.READINGS: "READINGS"}
            names[schema.TIES] = "EARLIER_TIES"
            self._open_algorithm(
                "adjuststations",
                {name: plan.of(kind)[0].id() for kind, name in names.items() if plan.of(kind)},
            )
            return
        try:
            self.work.readjust(plan, self.stack)
        except SurveyError as error:
            self._tell_fault(str(error))

    def _begun(self) -> None:
        self.panel.set_busy(True)
        self._show_stack()

    def _ended(self, sentence: str, is_fault: bool) -> None:
        self.rows.pause(False)
        self.panel.set_busy(False)
        self._show_stack()
        self.rows.reload()
        self.panel.say(sentence, is_fault)
        self._plans_changed()  # layers may have come or gone meanwhile

    def close_for_good(self) -> None:
        """Leave nothing behind: no task, no connection, no file."""
        self._timer.stop()
        stop_all(self)
        self._project.clear()
        self.rows.show_plan(None)
        self.work.close()
        self._iface.removeDockWidget(self)
        self.deleteLater()
