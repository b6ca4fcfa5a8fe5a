# SPDX-License-Identifier: GPL-2.0-or-later
"""Opens the plugin's windows in another language and looks for words that are cut off."""

import os
from pathlib import Path

from qgis.PyQt.QtWidgets import (
    QAbstractButton,
    QApplication,
    QGroupBox,
    QLabel,
    QTabWidget,
    QWidget,
)
from qgis.utils import iface, loadPlugin, plugins, startPlugin
from steps import picture

SLACK = 2  # pixels


def cut_off(window):
    """Words of a window that have less room than they ask for."""
    found = []
    for widget in window.findChildren(QWidget):
        if not widget.isVisible():
            continue
        wanted = widget.sizeHint().width()
        if isinstance(widget, QLabel):
            if widget.wordWrap() or not widget.text() or widget.pixmap() is not None:
                continue
        elif isinstance(widget, QAbstractButton):
            if not widget.text() or widget.inherits("QToolButton"):
                continue
        elif isinstance(widget, QTabWidget):
            bar = widget.tabBar()
            if bar.usesScrollButtons() and bar.sizeHint().width() > widget.width() + SLACK:
                found.append(f"tabs of {widget.objectName()}")
            continue
        elif isinstance(widget, QGroupBox):
            continue
        else:
            continue
        if wanted > widget.width() + SLACK:
            found.append(f"{widget.text()!r}: {widget.width()} of {wanted}")
    return found


def script(result):
    language = os.environ["ROOMTIE_LANGUAGE"]
    assert loadPlugin("roomtie")
    from roomtie.plugin import translation
    from roomtie.plugin.options import OptionsPage
    from roomtie.plugin.profile_dialog import ProfileDialog

    translation.CATALOGUES = Path(os.environ["ROOMTIE_CATALOGUES"])
    translator = translation.install(language, translation.CATALOGUES)
    assert translator is not None
    assert startPlugin("roomtie")
    plugin = plugins["roomtie"]
    translation.install(language, translation.CATALOGUES)
    result["menu"] = [action.text() for action in plugin.menu.actions() if action.text()]
    windows = {"options": OptionsPage(), "profile": ProfileDialog(iface.mainWindow())}
    for name, window in windows.items():
        window.show()
        window.resize(window.sizeHint().expandedTo(window.minimumSizeHint()))
        yield 0.5
        result[name] = cut_off(window)
        if os.environ.get("ROOMTIE_PICTURES"):
            window.grab().save(f"{os.environ['ROOMTIE_PICTURES']}/{name}-{language}.png")
    for dock in (plugin.review, plugin.sight):
        dock.setUserVisible(True)
        yield 1.0
        picture(f"{dock.objectName()}-{language}")
        result[dock.objectName()] = cut_off(dock)
    plugin.open_example()
    yield lambda: plugin.dialog is not None and plugin.dialog.isVisible()
    yield 0.5
    result["dialog"] = cut_off(plugin.dialog)
    result["title"] = plugin.dialog.windowTitle()
    QApplication.processEvents()
