# SPDX-License-Identifier: GPL-2.0-or-later
"""A plan in the project and its review dock, for tests that drive them as a person does."""

from __future__ import annotations

import shutil
import sqlite3
import time
from contextlib import closing
from pathlib import Path

from osgeo import ogr
from qgis.core import QgsProject, QgsVectorLayer
from qgis.gui import QgsMapCanvas, QgsStatusBar
from qgis.PyQt.QtCore import QEvent, QTimer
from qgis.PyQt.QtWidgets import QApplication, QMainWindow

NAMES = ("rooms", "readings", "ties", "wall_faces", "targets", "stations", "network_covariance")


class Window:
    """What the plugin asks of the host's window."""

    def __init__(self):
        self.main, self.canvas, self.bar = QMainWindow(), QgsMapCanvas(), QgsStatusBar()
        self.main.setCentralWidget(self.canvas)
        self.main.resize(1200, 900)
        self.main.show()

    def mainWindow(self):  # noqa: N802
        return self.main

    def mapCanvas(self):  # noqa: N802
        return self.canvas

    def addDockWidget(self, area, dock):  # noqa: N802
        self.main.addDockWidget(area, dock)

    def removeDockWidget(self, dock):  # noqa: N802
        self.main.removeDockWidget(dock)

    def statusBarIface(self):  # noqa: N802
        return self.bar

    def close(self):
        self.main.close()
        self.main.deleteLater()
        spin()


def spin(seconds: float = 0.0) -> None:
    """Let the window work for so long."""
    end = time.monotonic() + seconds
    while True:
        QApplication.processEvents()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        if time.monotonic() >= end:
            return
        time.sleep(0.002)


def wait_for(condition, seconds: float = 30.0) -> None:
    """Let the window work until something is so."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "it did not become so"
        spin(0.01)


def load_plan(path: Path, levels=(0, 1), names=NAMES) -> dict[str, list[QgsVectorLayer]]:
    """The plan's layers in the project, those of a storey apart, as the main job loads them."""
    loaded: dict[str, list[QgsVectorLayer]] = {}
    for name in names:
        parts = [f'|subset="level" = {level}' for level in levels]
        for part in [""] if name == "network_covariance" else parts:
            layer = QgsVectorLayer(f"{path}|layername={name}{part}", name, "ogr")
            assert layer.isValid()
            QgsProject.instance().addMapLayer(layer)
            loaded.setdefault(name, []).append(layer)
    return loaded


def select(path: Path, sql: str) -> list[tuple]:
    """Rows of the file as another program reads them."""
    with closing(sqlite3.connect(path)) as file:
        return file.execute(sql).fetchall()


def change(path: Path, *statements: str) -> None:
    """Change the file as another program does: GDAL, whose functions the file's triggers call."""
    file = ogr.Open(str(path), update=1)
    for statement in statements:
        file.ExecuteSQL(statement)


class Heartbeat:
    """The longest time for which the window did nothing."""

    def __init__(self):
        self.longest_s, self._last = 0.0, time.monotonic()
        self._timer = QTimer()
        self._timer.timeout.connect(self._beat)
        self._timer.start(1)

    def _beat(self):
        now = time.monotonic()
        self.longest_s = max(self.longest_s, now - self._last)
        self._last = now

    def stop(self) -> float:
        self._timer.stop()
        return self.longest_s


class OtherPlan:
    """Stands for the algorithm that draws a plan anew: takes its time, then writes the earlier plan
    with other figures."""

    def __init__(self, seconds=0.3, fails="", statements=("UPDATE stations SET used = used - 1",)):
        self.seconds, self.fails, self.statements = seconds, fails, statements
        self.given = None

    def run(self, parameters, context, feedback):
        self.given = dict(parameters)
        end = time.monotonic() + self.seconds
        while time.monotonic() < end:
            if feedback.isCanceled():
                return {}, True
            feedback.setProgress(100.0 * (1.0 - (end - time.monotonic()) / self.seconds))
            time.sleep(0.01)
        if self.fails:
            feedback.reportError(self.fails)
            return {}, False
        shutil.copy(parameters["EARLIER"], parameters["OUTPUT"])
        change(parameters["OUTPUT"], *self.statements)
        for ending in (".html", ".json"):
            Path(parameters["REPORT"]).with_suffix(ending).write_text("a new report")
        return {"OUTPUT": parameters["OUTPUT"]}, True
