# SPDX-License-Identifier: GPL-2.0-or-later
"""A finished plan arrives in the project: one group, storeys in sub-groups, drawn in order."""

import gc

import pytest
from qgis.core import QgsProcessingContext, QgsProcessingFeedback, QgsProject, QgsVectorLayer


@pytest.fixture(scope="module")
def loaded(roomtie, example_survey, tmp_path_factory):
    """A project into which the example was loaded twice, as the host does it."""
    project = QgsProject()
    path = tmp_path_factory.mktemp("loading") / "library.gpkg"
    for _ in range(2):
        context = QgsProcessingContext()
        context.setProject(project)
        algorithm = roomtie.algorithm("planfromcaptures").create()
        parameters = {
            "INPUT": str(example_survey / "captures"),
            "PLOT_SCALES": ["1:50", "1:100"],
            "OUTPUT": str(path),
        }
        _, ok = algorithm.run(parameters, context, QgsProcessingFeedback())
        assert ok
        del algorithm
        gc.collect()  # neither the algorithm nor its locals may be needed any more
        for uri, details in context.layersToLoadOnCompletion().items():
            layer = QgsVectorLayer(uri, details.name, "ogr")
            project.addMapLayer(layer)
            details.postProcessor().postProcessLayer(layer, context, QgsProcessingFeedback())
    return project


def names(group):
    return [child.name() for child in group.children()]


def test_each_run_has_a_group_of_its_own_with_a_group_for_each_storey(loaded):
    root = loaded.layerTreeRoot()
    assert names(root) == ["Plan library", "Plan library"]
    for group in root.children():
        assert names(group) == ["Level 1", "Level 0", "Network covariance", "Error band (95 %)"]


def test_layers_lie_in_the_order_they_are_drawn(loaded):
    for group in loaded.layerTreeRoot().children():
        for storey in group.children()[:2]:
            assert names(storey) == [
                "Stations",
                "Targets",
                "Openings",
                "Wall faces",
                "Ties",
                "Readings",
                "Rooms",
            ]


def test_the_first_storey_is_shown_without_readings_and_ties(loaded):
    group = loaded.layerTreeRoot().children()[0]
    upper, lower = group.children()[:2]
    assert lower.itemVisibilityChecked()
    assert not upper.itemVisibilityChecked()
    hidden = {child.name() for child in lower.children() if not child.itemVisibilityChecked()}
    assert hidden == {"Ties", "Readings"}


def test_storeys_hold_their_own_features_with_the_styles_of_the_plan(loaded):
    lower = loaded.layerTreeRoot().children()[0].children()[1]
    rooms = lower.children()[-1].layer()
    assert {feature["level"] for feature in rooms.getFeatures()} == {0}
    rules = rooms.renderer().rootRule().children()
    assert [rule.label() for rule in rules] == ["Room, 1:50", "Room, 1:100"]
    # Zooming shows the right one: the border lies at the geometric mean of the two scales.
    assert rules[0].minimumScale() == rules[1].maximumScale() == round((50 * 100) ** 0.5)
    assert rooms.labelsEnabled()
