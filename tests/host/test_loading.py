# SPDX-License-Identifier: GPL-2.0-or-later
"""A finished plan arrives in the project: one group, storeys in sub-groups, drawn in order."""

import gc

import pytest
from qgis.core import (
    QgsLayerTreeModel,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProject,
    QgsVectorLayer,
)
from qgis.PyQt import sip
from roomtie.processing.layers.schema import STATIONS


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
    yield project
    project.clear()  # what keeps the project must not keep its layers beyond the host


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


def test_each_storey_gets_a_theme_for_review_plan_and_site(loaded):
    from roomtie.plugin.themes import themes_of

    other = QgsVectorLayer("Polygon?crs=EPSG:32631", "site map", "memory")
    loaded.addMapLayer(other)
    for group in loaded.layerTreeRoot().children():
        if group.name() == "Plan library":
            themes_of(loaded, group)
    themes = loaded.mapThemeCollection()
    assert set(themes.mapThemes()) == {
        f"Plan library, Level {level}: {theme}"
        for level in (0, 1)
        for theme in ("review", "plan", "site")
    }

    def shown(theme):
        return {layer.name() for layer in themes.mapThemeVisibleLayers(theme)}

    assert shown("Plan library, Level 1: plan") == {"Rooms", "Wall faces", "Openings"}
    assert "Readings" in shown("Plan library, Level 0: review")
    assert shown("Plan library, Level 0: site") >= {"Rooms", "Error band (95 %)", "site map"}
    for layer in themes.mapThemeVisibleLayers("Plan library, Level 1: plan"):
        assert layer.subsetString() == '"level" = 1'
    root = loaded.layerTreeRoot()
    model = QgsLayerTreeModel(root)
    themes.applyTheme("Plan library, Level 1: plan", root, model)
    on = {(n.parent().name(), n.name()) for n in root.findLayers() if n.isVisible()}
    sip.delete(model)
    assert on == {("Level 1", name) for name in ("Rooms", "Wall faces", "Openings")}
    loaded.removeMapLayer(other)


def test_a_plan_that_was_put_into_another_group_stays_there(qgis_app):
    """A person has tidied up the layer tree: what comes later joins the plan where it is."""
    from roomtie.plugin.themes import themes_of
    from roomtie.processing.algorithms.loading import Place, PutIntoGroup

    project, context = QgsProject(), QgsProcessingContext()
    context.setProject(project)
    outer = project.layerTreeRoot().addGroup("Old town")

    def come(storey):
        fields = "field=station:string&field=orientation_deg:double"
        layer = QgsVectorLayer(f"Point?{fields}", storey, "memory")
        project.addMapLayer(layer)
        place = Place("Plan library", "run 1", storey, 1, True, True)
        PutIntoGroup(place).postProcessLayer(layer, context, QgsProcessingFeedback())

    come("Level 0")
    (group,) = [one for one in project.layerTreeRoot().children() if one.name() != "Old town"]
    outer.addChildNode(group.clone())
    project.layerTreeRoot().removeChildNode(group)
    come("Level 1")
    assert names(project.layerTreeRoot()) == ["Old town"]
    (plan,) = outer.children()
    assert sorted(names(plan)) == ["Level 0", "Level 1"]
    stations = QgsVectorLayer(
        "Point?" + "&".join(f"field={name}:string" for name in STATIONS.field_names), "s", "memory"
    )
    project.addMapLayer(stations, False)
    plan.findGroup("Level 1").addLayer(stations)
    themes_of(project, plan)
    record = project.mapThemeCollection().mapThemeState("Plan library, Level 1: review")
    on = {"Old town", "Old town/Plan library", "Old town/Plan library/Level 1"}
    assert record.checkedGroupNodes() == on
    project.clear()
