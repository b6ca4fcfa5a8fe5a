# SPDX-License-Identifier: GPL-2.0-or-later
"""A plan is reviewed, readjusted and sighted in the host's window; how long each step kept it."""

import os
import sys
from pathlib import Path

from qgis.core import QgsPointXY, QgsProject
from qgis.PyQt.QtCore import QPoint, Qt
from qgis.PyQt.QtTest import QTest
from qgis.utils import iface, loadPlugin, plugins, startPlugin
from steps import Heartbeat, picture

sys.path.append(str(Path(__file__).resolve().parents[1]))
from reviewed_plan import load_plan


def script(result):
    assert loadPlugin("roomtie")
    assert startPlugin("roomtie")
    plugin = plugins["roomtie"]
    layers = load_plan(Path(os.environ["ROOMTIE_PLAN"]), levels=(0,))
    QgsProject.instance().setCrs(layers["rooms"][0].crs())
    iface.mapCanvas().setExtent(layers["rooms"][0].extent())
    yield lambda: not iface.mapCanvas().isDrawing()
    from roomtie.plugin.background import running

    review, sight = plugin.review, plugin.sight
    panel, heart = review.panel, Heartbeat()
    blocks = result["blocks"] = {}

    def idle():
        return not running() and not review.work.is_busy and not iface.mapCanvas().isDrawing()

    def timed(what, act):
        """What a person does, until nothing goes on any more."""
        heart.start()
        act()
        yield 0.2
        yield idle
        yield 0.2
        wall = heart.stop()
        blocks[what] = [wall, heart.own]

    yield from timed("map drawn again (the host alone)", iface.mapCanvas().refresh)
    yield from timed("review opened", review.show)
    result["stations"] = panel.stations.sorted.rowCount()
    yield from timed("station selected", lambda: panel.stations.selectRow(1))
    result["selected"] = sorted(f["station"] for f in layers["stations"][0].selectedFeatures())
    picture("review")
    yield from timed("station left out", panel.station_choices[2].click)
    yield from timed("readjusted", panel.readjust.click)
    result["said"] = panel.message.text()
    result["states"] = {f["station"]: f["status"] for f in layers["stations"][0].getFeatures()}
    yield from timed("readjustment undone", panel.undo.click)
    result["states undone"] = {
        f["station"]: f["status"] for f in layers["stations"][0].getFeatures()
    }
    yield from timed("distances sighted: plan read", sight.action.trigger)
    yield lambda: sight.sight is not None
    references, canvas = sight.sight.references, iface.mapCanvas()
    result["picked"] = []
    for name in os.environ["ROOMTIE_PICKS"].split():
        (x, y), _ = references.ends[references.name.index(name)]
        at = canvas.getCoordinateTransform().transform(QgsPointXY(x, y))

        def click(at=at):
            spot = QPoint(round(at.x()), round(at.y()))
            QTest.mouseMove(canvas.viewport(), spot)
            button, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
            QTest.mouseClick(canvas.viewport(), button, none, spot)

        yield from timed("target clicked", click)
        result["picked"].append([sight.panel.first.text(), sight.panel.second.text()])
    result["distance"] = sight.panel.plan_m.text()
    sight.panel.taped.setValue(5.0)
    yield from timed("taped distance put in", sight.panel.add.click)
    result["entries"] = sight.panel.distances.rows.rowCount()
    picture("sight")
