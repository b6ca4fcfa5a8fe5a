# SPDX-License-Identifier: GPL-2.0-or-later
"""Help pages, the page in the host's options, and map themes."""

import re
from pathlib import Path

import pytest
from qgis.core import QgsApplication, QgsSettings
from qgis.PyQt.QtCore import QUrl

ROOT = Path(__file__).resolve().parents[2]
PAGES = ROOT / "plugin" / "help"


@pytest.fixture
def own_defaults(qgis_app, monkeypatch):
    """The module as it works in the host's window, with nothing kept."""
    from roomtie.processing.algorithms import own_defaults

    QgsSettings().remove(own_defaults.KEY)
    monkeypatch.setattr(QgsApplication, "platform", staticmethod(lambda: "desktop"))
    yield own_defaults
    QgsSettings().remove(own_defaults.KEY)


def test_every_algorithm_has_a_page_that_is_there(roomtie):
    from roomtie.processing.algorithms.base import HELP_SCHEME

    for algorithm in roomtie.algorithms():
        address = QUrl(algorithm.helpUrl())
        assert address.scheme() == HELP_SCHEME
        assert (PAGES / f"{address.path()}.md").is_file(), algorithm.id()


def test_the_index_and_the_readme_name_every_page():
    pages = {page.name for page in PAGES.glob("*.md")} - {"index.md"}
    index = (PAGES / "index.md").read_text("utf-8")
    readme = (ROOT / "README.md").read_text("utf-8")
    assert set(re.findall(r"\((\S+\.md)\)", index)) == pages
    assert set(re.findall(r"\(plugin/help/(\S+\.md)\)", readme)) == pages


def test_no_link_or_picture_of_a_page_leads_nowhere():
    for page in PAGES.glob("*.md"):
        for target in re.findall(r"\]\(([^)#\s]+)", page.read_text("utf-8")):
            if not target.startswith("http"):
                assert (PAGES / target).exists(), f"{page.name}: {target}"


def test_the_help_window_shows_a_page_and_follows_its_links(qgis_app):
    from roomtie.plugin.help_view import HelpWindow

    window = HelpWindow()
    window.open("index")
    assert "help" in window.windowTitle()
    window.view.follow(QUrl("adjust-stations.md"))
    assert "Tie and adjust the stations" in window.windowTitle()
    window.view.follow(QUrl("../../README.md"))  # outside the pages: not opened
    assert window.view.source().fileName() == "adjust-stations.md"
    window.view.backward()
    assert window.view.source().fileName() == "index.md"
    window.open("no such page")
    assert window.view.source().fileName() == "index.md"
    window.close()


def test_the_hosts_help_button_opens_our_window(qgis_app, roomtie):
    from qgis.PyQt.QtGui import QDesktopServices
    from roomtie.plugin.help_view import HelpLinks
    from roomtie.processing.algorithms.base import HELP_SCHEME

    shown = []
    links = HelpLinks(HELP_SCHEME, shown.append)
    QDesktopServices.openUrl(QUrl(roomtie.algorithm("adjuststations").helpUrl()))
    links.release()
    assert shown == ["adjust-stations"]


def test_pictures_are_no_wider_than_the_help_window(qgis_app):
    from qgis.PyQt.QtGui import QTextDocument
    from roomtie.plugin.help_view import HelpWindow

    window = HelpWindow()
    window.open("plan-sheet")
    names = re.findall(r"\]\((pictures/\S+)\)", (PAGES / "plan-sheet.md").read_text("utf-8"))
    assert names
    kind = QTextDocument.ResourceType.ImageResource
    for name in names:
        picture = window.view.loadResource(kind, QUrl(name))
        assert 0 < picture.width() <= window.view.viewport().width()
    window.close()


def test_options_fill_the_dialogs_and_are_forgotten_when_they_are_the_documented_ones(
    roomtie, own_defaults
):
    from roomtie.plugin.options import OptionsPage

    def default(name):
        algorithm = roomtie.algorithm("planfromcaptures").create()
        return algorithm.parameterDefinition(name).defaultValue()

    assert default("SIGMA_DISTANCE") == 2.0
    page = OptionsPage()
    page.numbers["SIGMA_DISTANCE"][0].setValue(1.5)
    page.scales["1:20"].setChecked(True)
    page.scales["1:200"].setChecked(False)
    page.apply()
    assert default("SIGMA_DISTANCE") == 1.5
    assert default("SIGMA_ANGLE") == 0.03
    assert default("PLOT_SCALES") == ["1:20", "1:50", "1:100"]
    assert not default("TARGET_CRS")

    again = OptionsPage()
    assert again.numbers["SIGMA_DISTANCE"][0].value() == 1.5
    again.numbers["SIGMA_DISTANCE"][0].setValue(2.0)
    again.scales["1:20"].setChecked(False)
    again.scales["1:200"].setChecked(True)
    again.apply()
    assert own_defaults.kept_default("SIGMA_DISTANCE") is None
    assert own_defaults.kept_default("PLOT_SCALES") is None


def test_a_target_crs_is_kept_by_its_authority(roomtie, own_defaults):
    from qgis.core import QgsCoordinateReferenceSystem
    from roomtie.plugin.options import OptionsPage

    page = OptionsPage()
    page.crs.setCrs(QgsCoordinateReferenceSystem("EPSG:32631"))
    page.apply()
    algorithm = roomtie.algorithm("georeferenceplan").create()
    assert algorithm.parameterDefinition("TARGET_CRS").defaultValue() == "EPSG:32631"


def test_outside_the_window_the_documented_defaults_hold(roomtie, own_defaults, monkeypatch):
    own_defaults.keep_default("SIGMA_DISTANCE", 9.0)
    monkeypatch.setattr(QgsApplication, "platform", staticmethod(lambda: "qgis_process"))
    algorithm = roomtie.algorithm("adjuststations").create()
    assert algorithm.parameterDefinition("SIGMA_DISTANCE").defaultValue() == 2.0


@pytest.mark.parametrize("broken", ["two", "-1", "0"])
def test_settings_that_someone_broke_are_passed_over(own_defaults, broken):
    QgsSettings().setValue(f"{own_defaults.KEY}/SIGMA_DISTANCE", broken)
    assert own_defaults.own_default("SIGMA_DISTANCE") is None
