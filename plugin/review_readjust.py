# SPDX-License-Identifier: GPL-2.0-or-later
"""A plan drawn anew from the choices in its layers, in the background, and its undo."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from qgis.core import (
    QgsApplication,
    QgsProcessingAlgorithm,
    QgsProcessingContext,
    QgsProcessingFeedback,
)

from ..processing.errors import Cancelled, SurveyError
from ..processing.layers import schema
from ..processing.progress import Progress
from .moved_in_qt import QUndoCommand
from .review_plans import ReviewPlan
from .review_versions import companions, fingerprint, put_state, save_state
from .translation import tr

ALGORITHM = "roomtie:planfromcaptures"


def readjust_parameters(plan: ReviewPlan, draft: Path) -> dict[str, Any]:
    """What the algorithm is asked for: the same plan, from its own layers, into another file."""
    scales: set[int] = set()
    for layer in plan.of(schema.WALL_FACES):
        values = layer.uniqueValues(layer.fields().lookupField("plot_scale"))
        scales |= {int(value) for value in values if value}
    return {
        "EARLIER": str(plan.path),
        "OUTPUT": str(draft),
        "REPORT": str(companions(draft)[0]),
        **({"PLOT_SCALES": [f"1:{scale}" for scale in sorted(scales)]} if scales else {}),
    }


def new_algorithm() -> QgsProcessingAlgorithm:
    """The algorithm; SurveyError where the host does not know it or cannot run it."""
    algorithm = QgsApplication.processingRegistry().createAlgorithmById(ALGORITHM)
    if algorithm is None:
        raise SurveyError(tr("The host does not know {name}.").format(name=ALGORITHM))
    can, why = algorithm.canExecute()
    if not can:
        raise SurveyError(why)
    return algorithm


def readjust(
    algorithm: QgsProcessingAlgorithm,
    parameters: dict[str, Any],
    path: Path,
    earlier: Path,
    edited: Callable[[], bool],
    progress: Progress,
) -> Path:
    """Draw a plan anew and put it in the place of the old one, whose state goes into the folder
    `earlier`; gives that folder. For another thread. `edited` says whether somebody has begun to
    edit the plan in the window meanwhile.

    SurveyError with the algorithm's own sentence where it fails, and where the plan was changed
    meanwhile; Cancelled on a cancel: then the plan is as it was.
    """
    before = fingerprint(path)
    run(algorithm, parameters, progress.part(0.0, 0.9))
    if edited() or fingerprint(path) != before:
        raise SurveyError(
            tr(
                "{path}: the plan was changed while it was readjusted, and is kept as it is; save "
                "the edits and readjust again."
            ).format(path=path)
        )
    save_state(path, earlier, progress.part(0.9, 0.95))
    put_state(Path(parameters["OUTPUT"]).parent, path, progress.part(0.95, 1.0))
    return earlier


def run(algorithm: QgsProcessingAlgorithm, parameters: dict[str, Any], progress: Progress) -> None:
    """Run an algorithm on this thread without a project, so that it loads nothing."""
    context, feedback = QgsProcessingContext(), _Feedback(progress)
    _, good = algorithm.run(parameters, context, feedback)
    if progress.cancelled():
        raise Cancelled("")
    if not good:
        sentence = feedback.errors[-1] if feedback.errors else tr("The host gave no reason.")
        raise SurveyError(sentence)


class _Feedback(QgsProcessingFeedback):
    """Tells the progress on, and keeps what was wrong."""

    def __init__(self, progress: Progress) -> None:
        super().__init__(False)
        self._progress = progress
        self.errors: list[str] = []

    def isCanceled(self) -> bool:
        return self._progress.cancelled()

    def setProgress(self, percent: float) -> None:
        if not self.isCanceled():
            self._progress.at(percent / 100.0)

    def reportError(self, error: str, fatalError: bool = False) -> None:
        self.errors.append(error)


class Readjusted(QUndoCommand):
    """The step from one state of a plan's files to the next, which has been made when it is pushed.
    `go(folder)` begins to bring a state back and to take the present one into the folder; it says
    whether there is such a state."""

    def __init__(self, earlier: Path, go: Callable[[Path], bool]) -> None:
        super().__init__(tr("Readjust"))
        self._folder, self._go = earlier, go
        self._is_new = True

    def redo(self) -> None:
        if self._is_new:
            self._is_new = False
        else:
            self.undo()

    def undo(self) -> None:
        if not self._go(self._folder):
            self.setObsolete(True)


def swap_states(folder: Path, path: Path, aside: Path, progress: Progress) -> Path:
    """Bring the state of a folder back into the plan's place, and what stood there into the folder.
    `aside` is an empty folder to work in. For another thread."""
    save_state(path, aside, progress.part(0.0, 0.4))
    put_state(folder, path, progress.part(0.4, 0.8))
    for old in folder.iterdir():
        old.unlink()
    for new in aside.iterdir():
        new.replace(folder / new.name)
    return folder
