# SPDX-License-Identifier: GPL-2.0-or-later
"""The example survey from the menu: the plan stands in the map without anything being read."""

import time

from qgis.core import QgsProject
from qgis.PyQt.QtWidgets import QDockWidget
from qgis.utils import iface, loadPlugin, plugins, startPlugin
from steps import Heartbeat, picture


def script(result):
    assert loadPlugin("roomtie")
    assert startPlugin("roomtie")
    plugin = plugins["roomtie"]
    actions = {action.text(): action for action in plugin.menu.actions()}
    algorithms = plugin.provider.algorithms()
    pictures = [algorithm.icon().pixmap(24, 24).toImage() for algorithm in algorithms]
    drawn = {picture.bits().asstring(picture.sizeInBytes()) for picture in pictures}
    result["algorithms"], result["icons"] = len(algorithms), len(drawn)
    begun = time.monotonic()
    actions["Plan from the example survey…"].trigger()
    yield lambda: plugin.dialog is not None and plugin.dialog.isVisible()
    picture("first-run-dialog")
    heart = Heartbeat()
    heart.start()
    plugin.dialog.runButton().click()
    project = QgsProject.instance()
    yield lambda: any(layer.name() == "Stations" for layer in project.mapLayers().values())
    yield 3.0
    result["longest block"] = heart.stop()
    result["seconds"] = time.monotonic() - begun
    plugin.dialog.close()
    yield lambda: not iface.mapCanvas().isDrawing()
    rooms = [layer for layer in project.mapLayers().values() if layer.name() == "Rooms"]
    result["rooms"] = sum(layer.featureCount() for layer in rooms)
    settings = iface.mapCanvas().mapSettings()
    result["in view"] = all(
        settings.visibleExtent().intersects(
            settings.layerExtentToOutputExtent(layer, layer.extent())
        )
        for layer in rooms
    )
    result["groups"] = [node.name() for node in project.layerTreeRoot().children()]
    result["themes"] = project.mapThemeCollection().mapThemes()
    yield 1.0
    picture("first-run")
    # The plan alone, as a person would lay out the window to look at it.
    for dock in iface.mainWindow().findChildren(QDockWidget):
        if dock.objectName() != "Layers":
            dock.hide()
    iface.messageBar().clearWidgets()
    shown = [layer for layer in iface.mapCanvas().layers() if layer in rooms]
    iface.setActiveLayer(shown[0])
    iface.zoomToActiveLayer()
    yield 0.5
    yield lambda: not iface.mapCanvas().isDrawing()
    picture("window")
