# SPDX-License-Identifier: GPL-2.0-or-later
"""Loads and unloads the plugin ten times and counts what is there."""

import gc
import tempfile
from pathlib import Path

from qgis.core import QgsApplication
from qgis.PyQt.QtCore import QCoreApplication, QEvent, QObject, QTimer
from qgis.PyQt.QtWidgets import QApplication, QToolBar, QWidget
from qgis.utils import iface, loadPlugin, plugins, startPlugin, unloadPlugin


def there():
    """What a plugin could leave behind."""
    for _ in range(3):
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        QApplication.processEvents()
        gc.collect()
    window = iface.mainWindow()
    return {
        "widgets": len(window.findChildren(QWidget)),
        "objects": len(window.findChildren(QObject)),
        "own top-level widgets": sorted(
            type(w).__name__
            for w in QApplication.topLevelWidgets()
            if "roomtie" in type(w).__module__
        ),
        "toolbars": sorted(bar.objectName() for bar in window.findChildren(QToolBar)),
        "plugin menu": [action.text() for action in iface.pluginMenu().actions()],
        "providers": sorted(p.id() for p in QgsApplication.processingRegistry().providers()),
        "timers": len(window.findChildren(QTimer)),
        "tasks": QgsApplication.taskManager().count(),
        "files": sorted(p.name for p in Path(tempfile.gettempdir()).iterdir()),
    }


def load():
    assert loadPlugin("roomtie")
    assert startPlugin("roomtie")


def use():
    plugin = plugins["roomtie"]
    plugin.help("index")
    plugin.review.show()
    plugin.sight.action.trigger()
    plugin.describe()


def script(result):
    result["before"] = there()
    load()  # the first brings modules that stay, and the host's tabs for docks
    use()
    yield 0.2
    result["loaded first"] = there()
    unloadPlugin("roomtie")
    yield 0.2
    result["unloaded first"] = there()
    for _ in range(10):
        load()
        yield 0.1
        use()
        yield 0.1
        unloadPlugin("roomtie")
        yield 0.1
    load()
    use()
    yield 0.2
    result["loaded last"] = there()
    unloadPlugin("roomtie")
    yield 0.2
    result["unloaded last"] = there()
