# SPDX-License-Identifier: GPL-2.0-or-later
"""Work off the window's thread, in the host's task manager: seen there, cancelled there or here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from qgis.core import QgsApplication, QgsMessageLog, QgsTask

from ..processing.errors import Cancelled, SurveyError
from ..processing.progress import Progress

_LONGEST_WAIT_MS = 3000
_running: set[Background] = set()
"""The host does not keep a task's Python half alive."""


class Background(QgsTask):
    """Calls ``work(progress)`` on another thread, then on the window's own either ``done(result)``,
    ``failed(sentence)`` or, after a cancel, ``stopped()``.

    `owner` is whoever asked; when it goes, `stop_all` ends what it left running. `work` gets what
    it needs as arguments of its own: it must touch no widget and no layer of the project.
    """

    def __init__(
        self,
        title: str,
        work: Callable[[Progress], Any],
        done: Callable[[Any], None],
        failed: Callable[[str], None],
        stopped: Callable[[], None] = lambda: None,
        owner: object = None,
    ) -> None:
        super().__init__(title, QgsTask.Flag.CanCancel)
        self.owner = owner
        self._work, self._done, self._failed, self._stopped = work, done, failed, stopped
        self._result: Any = None
        self._error = ""
        self._is_stopped = self._is_dropped = self._is_over = False

    def start(self) -> Background:
        """Hand it to the host's task manager."""
        _running.add(self)
        QgsApplication.taskManager().addTask(self)
        return self

    def drop(self) -> None:
        """Cancel, and call nobody back."""
        self._is_dropped = True
        if not self._is_over:  # the host deletes its half of a task that has ended
            self.cancel()

    def run(self) -> bool:
        progress = Progress(self.isCanceled, lambda fraction: self.setProgress(100.0 * fraction))
        try:
            self._result = self._work(progress)
        except Cancelled:
            self._is_stopped = True
        except SurveyError as error:
            self._error = str(error)
        except Exception as error:  # noqa: BLE001 - the host would lose it with the thread
            self._error = f"{type(error).__name__}: {error}"
            QgsMessageLog.logMessage(f"{self.description()}: {self._error}", "Roomtie")
        return not (self._is_stopped or self._error)

    def finished(self, result: bool) -> None:
        _running.discard(self)
        self._is_over = True
        if self._is_dropped:
            return
        if result:
            self._done(self._result)
        elif self._error:
            self._failed(self._error)
        else:
            self._stopped()


def stop_all(owner: object) -> None:
    """Cancel the tasks of an owner and wait for them; none calls back any more."""
    for task in [*_running]:
        if task.owner is owner:
            task.drop()
            task.waitForFinished(_LONGEST_WAIT_MS)


def running(owner: object = None) -> int:
    """How many tasks of an owner (None: of all) have not ended."""
    return sum(owner is None or task.owner is owner for task in _running)
