# SPDX-License-Identifier: GPL-2.0-or-later
"""The plugin: the provider of algorithms, and a menu and toolbar that open them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from qgis.core import QgsApplication
from qgis.PyQt.QtCore import Qt
from qgis.PyQt.QtGui import QIcon
from qgis.PyQt.QtWidgets import QDialog, QMenu, QToolBar

from ..processing.algorithms.base import HELP_SCHEME
from ..processing.provider import RoomtieProvider
from .help_view import HelpLinks, HelpWindow
from .icons import icon
from .moved_in_qt import QAction
from .styles import style_layer
from .themes import themes_of
from .translation import install, mark, remove, tr

if TYPE_CHECKING:
    from qgis.gui import QgsOptionsWidgetFactory
    from qgis.PyQt.QtCore import QTranslator

    from .review_dock import ReviewDock
    from .sight_dock import SightDock

HERE = Path(__file__).resolve().parent
EXAMPLE = HERE.parent / "testdata" / "example"

ACTIONS = (
    ("planfromcaptures", mark("Plan from captures…"), "plan.svg"),
    ("importcaptures", mark("Import polar captures…"), "import.svg"),
    ("capturesfrompoints", mark("Captures from point layer…"), "points.svg"),
    ("adjuststations", mark("Adjust stations…"), "adjust.svg"),
    ("extractwalls", mark("Extract walls…"), "walls.svg"),
    ("buildrooms", mark("Build rooms and openings…"), "rooms.svg"),
    ("georeferenceplan", mark("Georeference plan…"), "site.svg"),
    ("comparedistances", mark("Compare with taped distances…"), "tape.svg"),
    ("comparebuildinglayer", mark("Compare with building layer…"), "compare.svg"),
    ("updatebuildinglayer", mark("Update building layer…"), "update.svg"),
    ("plansheet", mark("Plan sheet…"), "sheet.svg"),
    ("exportdrawing", mark("Export drawing…"), "drawing.svg"),
    ("exportindoor", mark("Export indoor map…"), "indoor.svg"),
)


def icon_of(algorithm: str) -> QIcon:
    """The icon of an algorithm by its name; the plugin's for an empty one."""
    pictures = {name: picture for name, _, picture in ACTIONS}
    return icon(pictures.get(algorithm, "roomtie.svg"))


class RoomtiePlugin:
    """What the host loads. `iface` is None without a window (qgis_process)."""

    def __init__(self, iface) -> None:
        self.iface = iface
        self.translator: QTranslator | None = None
        self.provider: RoomtieProvider | None = None
        self.menu: QMenu | None = None
        self.toolbar: QToolBar | None = None
        self.dialog: QDialog | None = None
        self.help_window: HelpWindow | None = None
        self.help_links: HelpLinks | None = None
        self.options: QgsOptionsWidgetFactory | None = None
        self.review: ReviewDock | None = None
        self.sight: SightDock | None = None

    def initProcessing(self) -> None:
        """Put the algorithms into the host's toolbox."""
        self.provider = RoomtieProvider(style_layer, icon_of, themes_of)
        QgsApplication.processingRegistry().addProvider(self.provider)

    def initGui(self) -> None:
        """Make menu and toolbar."""
        self.translator = install()
        self.initProcessing()
        self.menu = QMenu(tr("Roomtie"))
        self.menu.setIcon(icon("roomtie.svg"))
        self.toolbar = self.iface.addToolBar(tr("Roomtie"))
        self.toolbar.setObjectName("RoomtieToolbar")
        for name, title, picture in ACTIONS:
            action = QAction(icon(picture), tr(title), self.menu)
            action.triggered.connect(lambda _=False, algorithm=name: self.open(algorithm))
            self.menu.addAction(action)
            if name == "planfromcaptures":
                self.toolbar.addAction(action)
                self.menu.addSeparator()
        self.menu.addSeparator()
        self._add_review()
        describe = QAction(icon("describe.svg"), tr("Describe a text file…"), self.menu)
        describe.triggered.connect(lambda _=False: self.describe())
        self.menu.addAction(describe)
        example = QAction(tr("Plan from the example survey…"), self.menu)
        example.triggered.connect(lambda _=False: self.open_example())
        self.menu.addAction(example)
        self.menu.addSeparator()
        pages = QAction(tr("Help"), self.menu)
        pages.triggered.connect(lambda _=False: self.help("index"))
        self.menu.addAction(pages)
        self.iface.pluginMenu().addMenu(self.menu)
        from .options import OptionsFactory

        self.options = OptionsFactory(icon("roomtie.svg"))
        self.iface.registerOptionsWidgetFactory(self.options)
        self.help_links = HelpLinks(HELP_SCHEME, self.help)

    def _add_review(self) -> None:
        """The docks, closed until they are asked for or were open when the host was left."""
        from .review_dock import ReviewDock
        from .sight_dock import SightDock

        self.review = ReviewDock(self.iface, self.open, self.help)
        show = self.review.toggleViewAction()
        show.setIcon(icon("review.svg"))
        show.setToolTip(tr("Review the stations of a plan, choose, and readjust"))
        pick = QAction(icon("sight.svg"), tr("Sight distances"), self.menu)
        pick.setCheckable(True)
        pick.setToolTip(tr("Click two walls, corners or targets: how far apart they are"))
        self.sight = SightDock(self.iface, pick, self.open, self.help)
        self.review.work.ended.connect(lambda *_: self.sight.read_again())
        for dock in (self.review, self.sight):
            self.iface.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, dock)
            dock.hide()  # the host has just shown it
        self.sight.beside = self.review
        for action in (show, pick):
            self.menu.addAction(action)
            self.toolbar.addAction(action)

    def unload(self) -> None:
        """Leave the host as it was."""
        for dock in (self.review, self.sight):
            if dock is not None:
                dock.close_for_good()
        self.review = self.sight = None
        if self.menu is not None:
            self.iface.pluginMenu().removeAction(self.menu.menuAction())
            self.menu.deleteLater()
            self.menu = None
        if self.toolbar is not None:
            self.iface.mainWindow().removeToolBar(self.toolbar)
            self.toolbar.deleteLater()
            self.toolbar = None
        if self.help_links is not None:
            self.help_links.release()
            self.help_links = None
        if self.options is not None:
            self.iface.unregisterOptionsWidgetFactory(self.options)
            self.options = None
        if self.help_window is not None:
            self.help_window.close()
            self.help_window = None
        from .profile_dialog import close_windows

        close_windows()
        self.dialog = None
        if self.provider is not None:
            QgsApplication.processingRegistry().removeProvider(self.provider)
            self.provider = None
        remove(self.translator)
        self.translator = None

    def open(self, algorithm: str, parameters: dict | None = None) -> None:
        """Open an algorithm's dialog, which leaves the map free to use."""
        import processing

        # The host's processing, of which the type checker sees this package's namesake.
        host: Any = processing
        self.dialog = host.createAlgorithmDialog(f"roomtie:{algorithm}", parameters or {})
        if self.dialog is not None:
            self.dialog.show()

    def help(self, page: str) -> None:
        """Show a help page in the plugin's own window."""
        if self.help_window is None:
            self.help_window = HelpWindow(self.iface.mainWindow())
            self.help_window.destroyed.connect(self._forget_help)
        self.help_window.open(page)

    def _forget_help(self) -> None:
        self.help_window = None

    def describe(self, path: str = "") -> None:
        """Open the window in which a person describes an unmarked text file."""
        from .profile_dialog import open_window

        window = open_window(self.iface.mainWindow(), path)
        window.import_asked.connect(
            lambda file, profile: self.open("importcaptures", {"INPUT": file, "PROFILE": profile})
        )

    def open_example(self) -> None:
        """Open the dialog of the main job with the example survey filled in."""
        self.open(
            "planfromcaptures",
            {
                "INPUT": str(EXAMPLE / "captures"),
                "TARGET_CRS": "EPSG:32631",
                "CONTROL": str(EXAMPLE / "control.csv"),
                "CONTROL_NAME": "target",
            },
        )
