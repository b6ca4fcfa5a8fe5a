# SPDX-License-Identifier: GPL-2.0-or-later
"""The help pages in a window of their own: links, pictures, back and forward."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from qgis.PyQt.QtCore import QEvent, QObject, Qt, QUrl, pyqtSlot
from qgis.PyQt.QtGui import QDesktopServices, QImage, QKeySequence, QTextDocument
from qgis.PyQt.QtWidgets import (
    QMainWindow,
    QTextBrowser,
    QToolBar,
    QWidget,
)

from .moved_in_qt import QAction
from .translation import tr

PAGES = Path(__file__).resolve().parent / "help"
MARGIN = 40


class PageView(QTextBrowser):
    """Shows pages of the help folder; other addresses go to the system's browser."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setOpenLinks(False)
        self.anchorClicked.connect(self.follow)
        self.document().setDocumentMargin(16)

    def follow(self, address: QUrl) -> None:
        """Open what a link names."""
        target = self.source().resolved(address)
        if target.isLocalFile() and PAGES in Path(target.toLocalFile()).resolve().parents:
            self.setSource(target)
        elif target.scheme() in ("http", "https"):
            QDesktopServices.openUrl(target)

    def loadResource(self, kind: int, name: QUrl) -> object:
        """Pictures never wider than the window."""
        found = super().loadResource(kind, name)
        if kind != QTextDocument.ResourceType.ImageResource:
            return found
        picture = QImage(self.source().resolved(name).toLocalFile())
        room = max(self.viewport().width() - MARGIN, 200)
        if picture.isNull() or picture.width() <= room:
            return picture
        return picture.scaledToWidth(room, Qt.TransformationMode.SmoothTransformation)


class HelpLinks(QObject):
    """Opens the help addresses that the host's own buttons follow."""

    def __init__(self, scheme: str, show: Callable[[str], None]) -> None:
        super().__init__()
        self._scheme, self._show = scheme, show
        QDesktopServices.setUrlHandler(scheme, self.follow)

    @pyqtSlot(QUrl)
    def follow(self, address: QUrl) -> None:
        self._show(address.path())

    def release(self) -> None:
        """Follow them no more."""
        QDesktopServices.unsetUrlHandler(self._scheme)


class HelpWindow(QMainWindow):
    """A window with one page of help at a time."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("RoomtieHelp")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.view = PageView(self)
        self.setCentralWidget(self.view)
        bar = QToolBar(tr("Pages"), self)
        bar.setMovable(False)
        for title, act, key in (
            (tr("Back"), self.view.backward, QKeySequence.StandardKey.Back),
            (tr("Forward"), self.view.forward, QKeySequence.StandardKey.Forward),
        ):
            action = QAction(title, self)
            action.setShortcut(QKeySequence(key))
            action.triggered.connect(act)
            bar.addAction(action)
        close = QAction(tr("Close"), self)
        close.setShortcut(QKeySequence(Qt.Key.Key_Escape))
        close.triggered.connect(self.close)
        bar.addAction(close)
        self.addToolBar(bar)
        self.view.sourceChanged.connect(lambda _: self._name_window())
        self.resize(860, 760)

    def open(self, page: str) -> None:
        """Show a page by its name; the list of pages where there is none of that name."""
        path = PAGES / f"{Path(page).name}.md"
        self.view.setSource(QUrl.fromLocalFile(str(path if path.is_file() else PAGES / "index.md")))
        self.show()
        self.raise_()
        self.activateWindow()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange:
            self.view.reload()

    def _name_window(self) -> None:
        heading = self.view.document().firstBlock().text()
        self.setWindowTitle(tr("Roomtie help: {page}").format(page=heading))
