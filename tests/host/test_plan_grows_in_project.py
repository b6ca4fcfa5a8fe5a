# SPDX-License-Identifier: GPL-2.0-or-later
"""A plan in the project that is made again: its layers, its group, and edits that are under way."""

import shutil

import pytest
from grown_plans import rows
from qgis.core import (
    QgsProcessingContext,
    QgsProcessingException,
    QgsProcessingFeedback,
    QgsProject,
    QgsVectorLayer,
)


@pytest.fixture
def project():
    QgsProject.instance().clear()
    yield QgsProject.instance()
    QgsProject.instance().clear()


def run_in(project, roomtie, parameters):
    """Run the algorithm as the host's window does, and load what it asks for."""
    context = QgsProcessingContext()
    context.setProject(project)
    algorithm = roomtie.algorithm("planfromcaptures").create()
    _result, good = algorithm.run(parameters, context, QgsProcessingFeedback(False))
    assert good
    asked = context.layersToLoadOnCompletion()
    for uri, details in asked.items():
        layer = QgsVectorLayer(uri, details.name, "ogr")
        project.addMapLayer(layer)
        details.postProcessor().postProcessLayer(layer, context, QgsProcessingFeedback())
    return len(asked)


def test_a_plan_in_the_project_is_written_over_and_shown_anew(roomtie, halves, project, tmp_path):
    plan = str(tmp_path / "plan.gpkg")
    first = {"INPUT": str(halves / "first"), "PLOT_SCALES": ["1:50"], "OUTPUT": plan}
    assert run_in(project, roomtie, first) == 9
    root = project.layerTreeRoot()
    (group,) = root.children()
    stations, rooms = (project.mapLayersByName(title)[0] for title in ("Stations", "Rooms"))
    assert stations.featureCount() == 8
    features = rooms.getFeatures()
    next(features)  # a drawing that is under way
    second = {"INPUT": str(halves / "second"), "EARLIER": plan, "OUTPUT": plan}
    # What one layer showed of the one storey shows both now; nothing is loaded a second time.
    assert run_in(project, roomtie, second) == 0
    del features
    assert [child.name() for child in root.children()] == [group.name()]
    assert stations.isValid() and stations.featureCount() == 18
    assert len({f["station"] for f in stations.getFeatures()}) == 18
    assert rooms.featureCount() == len(rows(plan, "rooms", "room"))


def test_a_new_storey_comes_into_the_group_that_is_there(roomtie, halves, project, tmp_path):
    """A plan of two storeys, and one capture that was taken for a third."""
    plan, more = str(tmp_path / "plan.gpkg"), tmp_path / "more"
    more.mkdir()
    for file in (halves / "second").iterdir():
        if file.stem in ("S14", "S15", "S16", "S17"):
            shutil.copy(file, more)
    both = tmp_path / "both"
    shutil.copytree(halves / "first", both)
    for file in more.iterdir():
        shutil.copy(file, both)
    given = {"INPUT": str(both), "PLOT_SCALES": ["1:50"], "OUTPUT": plan}
    run_in(project, roomtie, given)
    (group,) = project.layerTreeRoot().children()
    assert {"Level 0", "Level 1"} <= {child.name() for child in group.children()}
    third = tmp_path / "third"
    third.mkdir()
    text = (halves / "second" / "S18.csv").read_text("utf-8")
    assert "# level: 1" in text
    (third / "S18.csv").write_text(text.replace("# level: 1", "# level: 2"), "utf-8")
    run_in(project, roomtie, {"INPUT": str(third), "EARLIER": plan, "OUTPUT": plan})
    (same,) = project.layerTreeRoot().children()
    assert next(child.name() for child in same.children()) == "Level 2"
    assert len(project.mapLayersByName("Rooms")) == 3


def test_edits_that_are_not_saved_are_not_lost(make_plan, half_plan, halves, project):
    layer = QgsVectorLayer(f"{half_plan}|layername=rooms", "Rooms", "ogr")
    project.addMapLayer(layer)
    layer.startEditing()
    feature = next(layer.getFeatures())
    layer.changeAttributeValue(feature.id(), layer.fields().lookupField("name"), "Den")
    with pytest.raises(QgsProcessingException, match=r"Rooms of plan\.gpkg has edits that are not"):
        make_plan(INPUT=str(halves / "second"), EARLIER=str(half_plan), OUTPUT=str(half_plan))
    layer.rollBack()
