# SPDX-License-Identifier: GPL-2.0-or-later
"""Where a plan lies that grew: where it lay, until new evidence or a person moves it."""

import pytest
from grown_plans import geometries, rows
from qgis.core import (
    QgsProcessingFeedback,
    QgsVectorLayer,
)


def test_a_plan_that_lies_nowhere_grows_in_plan_coordinates(make_plan, halves, tmp_path):
    folder = tmp_path / "bare"
    for part in ("first", "second"):
        (folder / part).mkdir(parents=True)
        for file in (halves / part).iterdir():
            lines = file.read_text("utf-8").splitlines(keepends=True)
            keys = ("# longitude_deg", "# latitude_deg", "# geotag_sigma_m")
            text = "".join(line for line in lines if not line.startswith(keys))
            (folder / part / file.name).write_text(text, "utf-8")
    plan, grown = tmp_path / "plan.gpkg", tmp_path / "grown.gpkg"
    make_plan(INPUT=str(folder / "first"), PLOT_SCALES=["1:50"], OUTPUT=str(plan))
    feedback = QgsProcessingFeedback(False)
    make_plan(feedback, INPUT=str(folder / "second"), EARLIER=str(plan), OUTPUT=str(grown))
    layer = QgsVectorLayer(f"{grown}|layername=rooms", "rooms", "ogr")
    assert not layer.crs().ellipsoidAcronym()
    here, there = (geometries(p, "stations", ("station",)) for p in (grown, plan))
    assert max(here[name].distance(there[name]) for name in there) < 0.003
    assert (
        dict(rows(plan, "rooms", "room", "name")).items()
        <= dict(rows(grown, "rooms", "room", "name")).items()
    )
    assert "is not georeferenced" in feedback.textLog()


def test_a_new_fit_moves_it_and_says_by_how_much(make_plan, halves, tmp_path):
    """The first half placed by geotags and compass; then control points are given."""
    plan, grown = tmp_path / "plan.gpkg", tmp_path / "grown.gpkg"
    make_plan(INPUT=str(halves / "first"), PLOT_SCALES=["1:50"], OUTPUT=str(plan))
    control = tmp_path / "control.csv"
    targets = geometries(plan, "targets", ("target",))
    (name, one), (other, two) = [(n[0], p) for n, p in targets.items() if n[0] in ("C1", "C2")]
    control.write_text(
        "target,east_m,north_m\n"
        f"{name},{one.x + 3:.3f},{one.y:.3f}\n{other},{two.x + 3:.3f},{two.y:.3f}\n"
    )
    feedback = QgsProcessingFeedback(False)
    make_plan(
        feedback,
        EARLIER=str(plan),
        CONTROL=str(control),
        CONTROL_NAME="target",
        OUTPUT=str(grown),
    )
    assert "was placed anew: it moved by 3.00" in feedback.textLog()
    here, there = (geometries(p, "stations", ("station",)) for p in (grown, plan))
    assert all(here[n].distance(there[n]) == pytest.approx(3.0, abs=0.05) for n in there)
    # And from there on it stays, by the control points that the plan remembers.
    feedback = QgsProcessingFeedback(False)
    make_plan(feedback, EARLIER=str(grown), OUTPUT=str(tmp_path / "third.gpkg"))
    third = geometries(tmp_path / "third.gpkg", "stations", ("station",))
    assert max(third[n].distance(here[n]) for n in here) < 1e-4
    assert "used again: C1 and C2" in feedback.textLog()


def test_a_site_grid_stays_a_site_grid(make_plan, halves, example_survey, tmp_path):
    plan, grown = tmp_path / "plan.gpkg", tmp_path / "grown.gpkg"
    make_plan(
        INPUT=str(halves / "first"),
        CONTROL=str(example_survey / "control.csv"),
        CONTROL_NAME="target",
        MODE="site grid",
        PLOT_SCALES=["1:50"],
        OUTPUT=str(plan),
    )
    make_plan(INPUT=str(halves / "second"), EARLIER=str(plan), OUTPUT=str(grown))
    was, now = (
        QgsVectorLayer(f"{p}|layername=stations", "stations", "ogr").crs() for p in (plan, grown)
    )
    assert was == now and now.ellipsoidAcronym()
    here, there = (geometries(p, "stations", ("station",)) for p in (grown, plan))
    assert max(here[name].distance(there[name]) for name in there) < 0.003


def test_a_plan_stays_where_it_is_whatever_target_crs_the_options_keep(
    make_plan, half_plan_file, tmp_path, monkeypatch
):
    """What is not given is no wish for another place, as when the dock readjusts."""
    from roomtie.processing.algorithms import base

    monkeypatch.setattr(base, "own_default", {"TARGET_CRS": "EPSG:32632"}.get)
    grown = tmp_path / "grown.gpkg"
    make_plan(EARLIER=str(half_plan_file), OUTPUT=str(grown))
    was, now = (
        QgsVectorLayer(f"{p}|layername=stations", "stations", "ogr").crs()
        for p in (half_plan_file, grown)
    )
    assert was == now
