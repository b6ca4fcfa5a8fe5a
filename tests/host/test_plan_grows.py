# SPDX-License-Identifier: GPL-2.0-or-later
"""Plan from captures on from a plan that stands: what is taken over, whole or not at all."""

import json
import shutil
import sqlite3
from contextlib import closing

import numpy as np
import pytest
from cancelling import CancelsAt
from grown_plans import FIRST, WINDOW, digest, geometries, rows, run_sql
from qgis.core import (
    QgsProcessingException,
    QgsProcessingFeedback,
    QgsVectorLayer,
)


@pytest.fixture(scope="module")
def edited(half_plan_file, tmp_path_factory):
    """The first half with what a person did to it: names, a window, choices, fields, a style, a
    layer."""
    path = tmp_path_factory.mktemp("edited") / "plan.gpkg"
    shutil.copy(half_plan_file, path)
    room = rows(path, "rooms", "room")[0][0]
    unseen = next(
        name for name, kind in rows(path, "openings", "opening", "kind") if kind == "unseen"
    )
    target = rows(path, "targets", "target")[0][0]
    run_sql(
        path,
        f"UPDATE rooms SET name = 'Foyer' WHERE room = '{room}' AND plot_scale = 50",
        f"UPDATE openings SET kind = 'window' WHERE opening = '{unseen}' AND plot_scale = 50",
        "UPDATE stations SET choice = 'hold' WHERE station = 'S02'",
        "UPDATE ties SET sigma_factor = 2.5 WHERE tie = 'S01 with S02'",
        "ALTER TABLE rooms ADD COLUMN floor_cover TEXT",
        f"UPDATE rooms SET floor_cover = 'oak' WHERE room = '{room}'",
        "ALTER TABLE readings ADD COLUMN looked_at INTEGER",
        "UPDATE readings SET looked_at = 7 WHERE station = 'S03' AND seq = 11",
        "UPDATE stations SET comment = 'on the mat' WHERE station = 'S01'",
        f"UPDATE targets SET role = 'check' WHERE target = '{target}'",
        "CREATE TABLE remarks_of_mine (fid INTEGER PRIMARY KEY, said TEXT)",
        "INSERT INTO remarks_of_mine (said) VALUES ('door sticks')",
    )
    with closing(sqlite3.connect(path)) as database:
        database.execute(
            "UPDATE layer_styles SET styleQML = replace(styleQML, '</qgis>', '<!--mine--></qgis>')"
            " WHERE f_table_name = 'rooms'"
        )
        database.commit()
    return path, room, unseen, target


@pytest.fixture(scope="module")
def grown(make_plan, edited, halves):
    """It grew, in place; the file before beside it."""
    path = edited[0]
    before = path.with_name("as_it_was.gpkg")
    shutil.copy(path, before)
    feedback = QgsProcessingFeedback(False)
    result = make_plan(
        feedback,
        INPUT=str(halves / "second"),
        EARLIER=str(path),
        OUTPUT=str(path),
        REPORT=str(path.with_suffix(".html")),
    )
    return path, before, result, feedback.textLog()


def test_the_plan_is_the_whole_one_and_has_the_same_scales(grown):
    path, before, result, _ = grown
    stations = dict(rows(path, "stations", "station", "status"))
    assert len(stations) == 18
    assert stations.pop("S02") == "held" and set(stations.values()) == {"adjusted"}
    assert result["UNCONNECTED_STATIONS"] == 0
    assert {scale for (scale,) in rows(path, "rooms", "plot_scale")} == {50, 200}
    assert len(rows(path, "rooms", "room")) > len(rows(before, "rooms", "room"))


def test_nothing_measured_is_lost(grown):
    path, before, _, _ = grown
    names = ("station", "seq", "angle_deg", "zenith_deg", "slope_distance_m", "kind", "target")
    assert set(rows(before, "readings", *names)) < set(rows(path, "readings", *names))
    headers = ("station", "capture_file", "captured_at", "level", "tilt_deg", "longitude_deg")
    assert set(rows(before, "stations", *headers)) < set(rows(path, "stations", *headers))
    files = "SELECT subject, value FROM survey_notes WHERE kind = 'file'"
    with closing(sqlite3.connect(path)) as database:
        assert len(database.execute(files).fetchall()) == 18


def test_what_a_person_did_is_there(grown, edited):
    path, _, _, _ = grown
    _, room, unseen, target = edited
    names = [name for own, name in rows(path, "rooms", "room", "name") if own == room]
    assert names == ["Foyer", "Foyer"]  # at both plot scales
    kinds = [kind for own, kind in rows(path, "openings", "opening", "kind") if own == unseen]
    assert kinds and set(kinds) == {WINDOW}
    covers = dict(rows(path, "rooms", "room", "floor_cover"))
    assert covers.pop(room) == "oak" and set(covers.values()) == {None}
    assert [r for r in rows(path, "readings", "station", "seq", "looked_at") if r[2]] == [
        ("S03", 11, 7)
    ]
    stations = {row[0]: row[1:] for row in rows(path, "stations", "station", "choice", "comment")}
    assert stations["S02"][0] == "hold" and stations["S01"] == (None, "on the mat")
    assert dict(rows(path, "ties", "tie", "sigma_factor"))["S01 with S02"] == 2.5
    assert dict(rows(path, "targets", "target", "role"))[target] == "check"
    assert rows(path, "remarks_of_mine", "said") == [("door sticks",)]


def test_edited_styles_stay_and_others_are_made_anew(grown):
    path, before, _, _ = grown
    query = "SELECT f_table_name, styleQML FROM layer_styles"
    with closing(sqlite3.connect(path)) as now, closing(sqlite3.connect(before)) as then:
        after, was = dict(now.execute(query).fetchall()), dict(then.execute(query).fetchall())
        names = [name for (name,) in now.execute("SELECT f_table_name FROM layer_styles")]
    assert after["rooms"] == was["rooms"] and "<!--mine-->" in after["rooms"]
    assert len(names) == len(set(names)) and set(names) >= {"wall_faces", "stations"}
    layer = QgsVectorLayer(f"{path}|layername=stations", "stations", "ogr")
    assert layer.loadDefaultStyle()[1]


def test_the_place_is_kept_and_what_a_new_fit_would_say_is_told(grown):
    path, before, _, log = grown
    here = geometries(path, "stations", ("station",))
    there = geometries(before, "stations", ("station",))
    apart = {name[0]: here[name].distance(there[name]) for name in there}
    assert apart["S02"] == 0.0  # held
    assert max(apart.values()) < 0.003
    rooms, were = (geometries(p, "rooms", ("room", "plot_scale")) for p in (path, before))
    for key, polygon in were.items():
        common = polygon.intersection(rooms[key]).area
        assert common > 0.95 * min(polygon.area, rooms[key].area)
    assert "The plan stays where it was. By all evidence" in log
    assert "Control points of the earlier plan are used again: C1 and C2." in log
    report = json.loads(path.with_suffix(".json").read_text("utf-8"))
    growth = report["growth"]
    assert set(growth["new_stations"]) == {f"S{n:02d}" for n in range(1, 19)} - set(FIRST)
    moved = {row["station"]: np.hypot(row["x_mm"], row["y_mm"]) for row in growth["moved_stations"]}
    for name, metres in apart.items():
        # The layer's coordinates are scaled to the grid and have six figures before the point.
        assert moved[name] == pytest.approx(1000 * metres, abs=0.01)
    assert len(growth["moved_walls"]) > 30
    assert "Since the earlier plan" in path.with_suffix(".html").read_text("utf-8")


def test_the_file_before_is_kept_beside(grown):
    path, before, _, _ = grown
    kept = path.with_name("plan.before.gpkg")
    for layer in ("stations", "rooms", "readings"):
        names = ("station",) if layer != "rooms" else ("room", "name")
        assert rows(kept, layer, *names) == rows(before, layer, *names)


def test_a_third_time_what_a_person_did_still_counts(make_plan, grown, tmp_path):
    path = grown[0]
    feedback = QgsProcessingFeedback(False)
    make_plan(feedback, EARLIER=str(path), OUTPUT=str(tmp_path / "again.gpkg"))
    again = tmp_path / "again.gpkg"
    for layer, names in (
        ("rooms", ("room", "name", "plot_scale", "floor_cover")),
        ("openings", ("opening", "kind", "plot_scale")),
        ("wall_faces", ("wall", "plot_scale")),
        ("stations", ("station", "choice", "comment")),
    ):
        assert set(rows(again, layer, *names)) == set(rows(path, layer, *names)), layer
    stations, were = (dict(rows(p, "stations", "station", "x_m")) for p in (again, path))
    assert stations == pytest.approx(were, abs=1e-4)


def test_held_stations_are_the_same_to_the_last_digit(make_plan, half_plan, halves, tmp_path):
    grown, as_it_was = tmp_path / "held.gpkg", digest(half_plan)
    make_plan(
        INPUT=str(halves / "second"),
        EARLIER=str(half_plan),
        EARLIER_STATIONS="held",
        OUTPUT=str(grown),
    )
    names = ("station", "x_m", "y_m", "orientation_deg")
    before = rows(half_plan, "stations", *names)
    after = {row[0]: row for row in rows(grown, "stations", *names)}
    assert [after[row[0]] for row in before] == before
    here, there = (geometries(p, "stations", ("station",)) for p in (grown, half_plan))
    assert all(here[name].equals(there[name]) for name in there)
    status = rows(grown, "stations", "station", "status", "choice")
    assert {s for name, s, _ in status if name in FIRST} == {"held"}
    assert {choice for _, _, choice in status} == {None}
    # The earlier file was only read.
    assert digest(half_plan) == as_it_was


def test_a_plan_of_an_earlier_version_grows(make_plan, half_plan, halves, tmp_path):
    """Without notes, choices, known points and the fields that came later."""
    from roomtie.processing.layers.schema import PLAN_LAYERS

    with closing(sqlite3.connect(half_plan)) as database:
        for table in ("survey_notes", "known_points"):
            database.execute(f"DROP TABLE IF EXISTS {table}")
            database.execute("DELETE FROM gpkg_contents WHERE table_name = ?", (table,))
            database.execute("DELETE FROM gpkg_ogr_contents WHERE table_name = ?", (table,))
        database.commit()
    for layer in PLAN_LAYERS:
        run_sql(
            half_plan, *(f"ALTER TABLE {layer.name} DROP COLUMN {name}" for name in layer.later)
        )
    window = rows(half_plan, "openings", "opening")[0][0]
    run_sql(half_plan, f"UPDATE openings SET kind = 'window' WHERE opening = '{window}'")
    grown = tmp_path / "grown.gpkg"
    make_plan(INPUT=str(halves / "second"), EARLIER=str(half_plan), OUTPUT=str(grown))
    assert len(rows(grown, "stations", "station")) == 18
    assert dict(rows(grown, "openings", "opening", "kind"))[window] == WINDOW
    here, there = (geometries(p, "stations", ("station",)) for p in (grown, half_plan))
    assert max(here[name].distance(there[name]) for name in there) < 0.003
    assert {scale for (scale,) in rows(grown, "rooms", "plot_scale")} == {50, 200}


def test_a_capture_taken_again_is_used_and_the_other_kept(make_plan, edited, halves, tmp_path):
    path = edited[0].with_name("as_it_was.gpkg")
    plan = shutil.copy(path if path.exists() else edited[0], tmp_path / "plan.gpkg")
    lines = (halves / "first" / "S03.csv").read_text("utf-8").splitlines()
    columns = next(k for k, line in enumerate(lines) if not line.startswith("#"))
    rows_ = [line.split(",") for line in lines[columns + 1 :]]
    # The tripod turned by 25 deg, a year later.
    rows_ = [[f"{(float(row[0]) + 25.0) % 360.0:.3f}", *row[1:]] for row in rows_]
    head = [line.replace("2026", "2027") for line in lines[: columns + 1]]
    (tmp_path / "again").mkdir()
    text = "\n".join([*head, *(",".join(row) for row in rows_)])
    # The very same distances would be the same capture.
    (tmp_path / "again" / "S03.csv").write_text(longer(text, columns), "utf-8")
    grown, third = tmp_path / "grown.gpkg", tmp_path / "third.gpkg"
    feedback = QgsProcessingFeedback(False)
    make_plan(feedback, INPUT=str(tmp_path / "again"), EARLIER=str(plan), OUTPUT=str(grown))
    assert "kept as S03 (earlier), its readings flagged retaken" in feedback.textLog()
    make_plan(EARLIER=str(grown), OUTPUT=str(third))
    before = {row[0]: row[1:] for row in rows(plan, "stations", "station", "x_m", "y_m")}
    for made in (grown, third):
        names = ("station", "x_m", "y_m", "orientation_deg", "status", "used")
        stations = {row[0]: row[1:] for row in rows(made, "stations", *names)}
        assert set(stations) == {*FIRST, "S03 (earlier)"}
        assert stations["S03"][3] == "adjusted"
        assert stations["S03 (earlier)"][3:] == ("unconnected", 0)
        for name in ("S03", "S03 (earlier)"):
            assert stations[name][:2] == pytest.approx(before["S03"], abs=0.003)
        turned = (stations["S03 (earlier)"][2] - stations["S03"][2]) % 360.0
        assert turned == pytest.approx(25.0, abs=0.05)
        readings = rows(made, "readings", "station", "seq", "slope_distance_m", "flag", "looked_at")
        old = [row[1:] for row in readings if row[0] == "S03 (earlier)"]
        measured = rows(plan, "readings", "station", "seq", "slope_distance_m", "flag")
        assert [row[:2] for row in old] == [row[1:3] for row in measured if row[0] == "S03"]
        assert {row[2] for row in old} <= {"retaken", *(row[3] for row in measured)} - {""}
        assert [row for row in old if row[3]] == [(11, old[10][1], "retaken", 7)]
        assert not any(row[4] for row in readings if row[0] == "S03")
        points = geometries(made, "stations", ("station",))
        assert points["S03",].distance(points["S03 (earlier)",]) < 0.003
        assert dict(rows(made, "rooms", "room", "name"))[edited[1]] == "Foyer"


def longer(text, columns):
    """The text of a capture with distances a tenth of a millimetre, or more, longer."""
    made = []
    for number, line in enumerate(text.splitlines()):
        cells = line.split(",")
        if number > columns and cells[1]:
            cells[1] = f"{float(cells[1]) + 0.0002 + 0.0001 * (number % 3):.4f}"
        made.append(",".join(cells) if number > columns else line)
    return "\n".join(made) + "\n"


@pytest.mark.parametrize("percent", [2, 40, 90, 96])
def test_a_cancel_leaves_the_earlier_plan_byte_for_byte(make_plan, half_plan, halves, percent):
    before, there = digest(half_plan), sorted(p.name for p in half_plan.parent.iterdir())
    feedback = CancelsAt(percent)
    result = make_plan(
        feedback, INPUT=str(halves / "second"), EARLIER=str(half_plan), OUTPUT=str(half_plan)
    )
    assert "OUTPUT" not in result or feedback.isCanceled()
    assert "Cancelled" in feedback.textLog()
    assert digest(half_plan) == before
    assert sorted(p.name for p in half_plan.parent.iterdir()) == there


def test_what_is_no_plan_is_refused_in_one_sentence(make_plan, halves, tmp_path, half_plan):
    text = tmp_path / "notes.gpkg"
    text.write_text("not a plan")
    other = tmp_path / "other.gpkg"
    with closing(sqlite3.connect(other)) as database:
        database.execute("CREATE TABLE a (b)")
        database.commit()
    run_sql(half_plan, "UPDATE stations SET status = 'as recorded'")
    for path, sentence in (
        (text, r"notes.gpkg: is not a GeoPackage; expected that of a plan\."),
        (other, r"other.gpkg: there is no layer stations; expected the GeoPackage of a plan"),
        (tmp_path / "none.gpkg", r"none.gpkg: could not be read"),
        (half_plan, r"station S01: status is 'as recorded'; expected adjusted stations"),
    ):
        with pytest.raises(QgsProcessingException, match=sentence):
            make_plan(
                INPUT=str(halves / "second"),
                EARLIER=str(path),
                OUTPUT=str(tmp_path / "out.gpkg"),
            )
        assert not (tmp_path / "out.gpkg").exists()


def test_neither_captures_nor_a_plan_is_refused(make_plan, tmp_path):
    with pytest.raises(QgsProcessingException, match="INPUT: nothing was given"):
        make_plan(OUTPUT=str(tmp_path / "out.gpkg"))
