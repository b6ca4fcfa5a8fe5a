# SPDX-License-Identifier: GPL-2.0-or-later
"""Readjusting from the review: in the background, the layers put in place, and undone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from qgis.core import QgsProject
from qgis.PyQt.QtCore import QObject, QTimer, pyqtSignal

from ..processing.algorithms.layer_files import layers_of
from ..processing.errors import SurveyError
from ..processing.progress import Progress
from .background import Background
from .connections import Connections
from .moved_in_qt import QUndoStack
from .review_edits import unsaved
from .review_plans import ReviewPlan
from .review_readjust import Readjusted, new_algorithm, readjust, readjust_parameters, swap_states
from .review_versions import Versions
from .translation import tr


class ReviewWork(QObject):
    """One piece of work at a time on the files of a plan.

    `begun` and `moved(percent)` say how it goes; it ends with `ended(sentence, is_fault)`. Where
    the files have become others, the layers read them again before, from `reading_again` on.
    """

    begun = pyqtSignal()
    moved = pyqtSignal(float)
    reading_again = pyqtSignal()
    ended = pyqtSignal(str, bool)

    def __init__(self, owner: QObject) -> None:
        super().__init__(owner)
        self._owner = owner
        self._versions = Versions()
        self._task: Background | None = None
        self._connections = Connections()
        self._edited = False
        self._waiting: list[str] = []
        self.is_busy = False

    def readjust(self, plan: ReviewPlan, stack: QUndoStack) -> None:
        """Draw the plan anew with the choices in its layers. SurveyError where it cannot begin."""
        names = unsaved(plan)
        if names:
            raise SurveyError(
                tr("Layer {layer} has edits that are not saved; save or cancel them first.").format(
                    layer=", ".join(names)
                )
            )
        algorithm = new_algorithm()
        path, draft = plan.path, self._versions.new_folder()
        parameters = readjust_parameters(plan, draft / path.name)
        earlier = self._versions.new_folder()
        self._edited = False
        for layer in plan.all_layers():
            self._connections.add(layer.layerModified, self._was_edited)

        def done(folder: Path) -> None:
            self._versions.drop(draft)
            self._versions.keep(folder)
            stack.push(Readjusted(folder, lambda state: self._bring_back(path, state, stack)))
            self._read_again(path, tr("Readjusted. Undo brings the earlier plan back."))

        def left(sentence: str, is_fault: bool) -> None:
            for folder in (draft, earlier):
                self._versions.drop(folder)
            self._end(sentence, is_fault)

        self._begin(
            tr("Readjust {plan}").format(plan=plan.title),
            lambda progress: readjust(
                algorithm, parameters, path, earlier, lambda: self._edited, progress
            ),
            done,
            left,
        )

    def _was_edited(self) -> None:
        self._edited = True

    def _bring_back(self, path: Path, folder: Path, stack: QUndoStack) -> bool:
        """Swap the plan's state with an earlier or later one, if that is still kept."""
        if not self._versions.has(folder):
            self._end(tr("That state of the plan is not kept any more."), True)
            return False
        aside = self._versions.new_folder()

        def done(_: Path) -> None:
            self._versions.drop(aside)
            self._read_again(path, "")

        def left(sentence: str, is_fault: bool) -> None:
            self._versions.drop(aside)
            # The steps do not tell any more what the file holds.
            stack.clear()
            self._end(sentence, is_fault)

        self._begin(
            tr("Another state of {plan}").format(plan=path.name),
            lambda progress: swap_states(folder, path, aside, progress),
            done,
            left,
        )
        return True

    def _begin(
        self,
        title: str,
        work: Callable[[Progress], Path],
        done: Callable[[Path], None],
        left: Callable[[str, bool], None],
    ) -> None:
        self.is_busy = True
        self.begun.emit()
        self._task = Background(
            title,
            work,
            done,
            lambda sentence: left(sentence, True),
            lambda: left(tr("Cancelled; the plan is as it was."), False),
            owner=self._owner,
        )
        self._task.progressChanged.connect(self.moved.emit)
        self._task.start()

    def cancel(self) -> None:
        """Stop what is going on; the plan stays as it is."""
        if self._task is not None:
            self._task.cancel()

    def _end(self, sentence: str, is_fault: bool) -> None:
        self._connections.clear()
        self._task, self.is_busy = None, False
        self.ended.emit(sentence, is_fault)

    def _read_again(self, path: Path, sentence: str) -> None:
        """Let the project's layers of the file read it again, one at a turn of the event loop, so
        that the window goes on."""
        self.reading_again.emit()
        self._waiting = [layer.id() for layer, _ in layers_of(QgsProject.instance(), path)]
        self._next_layer(sentence)

    def _next_layer(self, sentence: str) -> None:
        if not self._waiting:
            self._end(sentence, False)
            return
        layer = QgsProject.instance().mapLayer(self._waiting.pop())
        if layer is not None:  # it may have been taken out of the project meanwhile
            layer.reload()
            layer.triggerRepaint()
        QTimer.singleShot(0, lambda: self._next_layer(sentence))

    def close(self) -> None:
        """Keep no state any more."""
        self._connections.clear()
        self._waiting.clear()
        self._versions.close()
