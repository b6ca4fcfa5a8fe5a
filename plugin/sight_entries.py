# SPDX-License-Identifier: GPL-2.0-or-later
"""The plan's taped distances in the panel: a typed one judged and put in, others taken out."""

from __future__ import annotations

from collections.abc import Callable

from qgis.core import QgsVectorLayer
from qgis.PyQt.QtCore import QObject, pyqtSignal

from ..processing.errors import SurveyError
from ..processing.layers import schema
from . import sight_table
from .background import Background
from .review_columns import number
from .review_plans import ReviewPlan
from .sight_panel import SightPanel, verdict_words
from .sight_plan import SightPlan
from .translation import tr

COMPARED_WITH = (
    schema.WALL_FACES,
    schema.STATIONS,
    schema.READINGS,
    schema.TARGETS,
    schema.NETWORK_COVARIANCE,
)


class SightEntries(QObject):
    """Works on the table of the plan it was told of; `added` says that an entry has gone in."""

    added = pyqtSignal()

    def __init__(
        self, panel: SightPanel, open_algorithm: Callable[[str, dict], None], owner: QObject
    ) -> None:
        super().__init__(owner)
        self.panel, self._open_algorithm, self._owner = panel, open_algorithm, owner
        self._plan: ReviewPlan | None = None
        self._sight: SightPlan | None = None
        self._making = False
        for box in (panel.taped, panel.sigma):
            box.valueChanged.connect(lambda _: self.judge())
            box.lineEdit().returnPressed.connect(self.add)
        panel.add.clicked.connect(lambda: self.add())
        panel.remove.clicked.connect(lambda: self._remove())
        panel.compare.clicked.connect(lambda: self._compare())
        self.judge()

    def set_plan(self, plan: ReviewPlan | None, sight: SightPlan | None) -> None:
        """Show the table of this plan, held against the plan as it is now; SurveyError where it
        cannot be read or written."""
        self._plan, self._sight = plan, sight
        table = self.table()
        try:
            if table is not None and sight is not None:
                sight_table.refresh(table, sight)
        finally:
            self._show_rows()

    def table(self) -> QgsVectorLayer | None:
        """The plan's table in the project; None where it has none yet. SurveyError where the plan
        cannot be read."""
        if self._plan is None or not sight_table.has_table(self._plan.path):
            return None
        return sight_table.table_in_project(self._plan)

    def judge(self) -> None:
        """Show what is to be said of the distance that is typed."""
        panel = self.panel
        ready = self._sight is not None and bool(panel.plan_m.text()) and panel.taped.value() > 0.0
        panel.add.setEnabled(ready)
        panel.verdict.clear()
        if not ready:
            return
        found = self._sight.compare(*self._typed())
        panel.verdict.setText(
            tr("{difference} mm (plan less tape), tolerance {tolerance} mm: {verdict}").format(
                difference=number(1000.0 * found.difference_m[0], 1),
                tolerance=number(1000.0 * found.tolerance_m[0], 1),
                verdict=verdict_words()[found.verdicts[0]],
            )
        )

    def _typed(self) -> tuple[str, str, float, float]:
        panel = self.panel
        ends = (panel.first.text().strip(), panel.second.text().strip())
        return (*ends, panel.taped.value(), panel.sigma.value())

    def add(self) -> None:
        """Put the typed distance into the table, which is made where there is none."""
        if not self.panel.add.isEnabled() or self._making:
            return
        plan, sight, typed = self._plan, self._sight, self._typed()

        def put(_=None) -> None:
            self._making = False
            try:
                sight_table.add(sight_table.table_in_project(plan), sight, *typed)
            except SurveyError as error:
                self.panel.say(str(error), is_fault=True)
                return
            self.panel.taped.setValue(0.0)
            self._show_rows()
            self.added.emit()

        def failed(sentence: str) -> None:
            self._making = False
            self.panel.say(sentence, is_fault=True)

        try:
            there = sight_table.has_table(plan.path)
        except SurveyError as error:
            failed(str(error))
            return
        if there:
            put()
            return
        self._making = True
        path, crs = plan.path, sight.crs
        Background(
            tr("Table of taped distances"),
            lambda progress: sight_table.make_table(path, crs, progress),
            put,
            failed,
            stopped=lambda: failed(""),
            owner=self._owner,
        ).start()

    def _show_rows(self) -> None:
        table = self.table()
        self.panel.distances.rows.show_rows(sight_table.rows(table) if table is not None else [])
        self.panel.distances.resizeColumnsToContents()

    def _remove(self) -> None:
        chosen = self.panel.distances.selected_keys()
        try:
            table = self.table()
            if table is not None and chosen:
                sight_table.remove(table, [int(key) for key in chosen])
            self._show_rows()
        except SurveyError as error:
            self.panel.say(str(error), is_fault=True)

    def _compare(self) -> None:
        try:
            table = self.table()
        except SurveyError as error:
            self.panel.say(str(error), is_fault=True)
            return
        if table is None:
            self.panel.say(tr("The table has no distances yet."))
            return
        layers = {
            kind.name.upper(): f"{self._plan.path}|layername={kind.name}" for kind in COMPARED_WITH
        }
        self._open_algorithm("comparedistances", {"TAPED": table.id(), **layers})
