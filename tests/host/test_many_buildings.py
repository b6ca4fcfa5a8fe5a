# SPDX-License-Identifier: GPL-2.0-or-later
"""Many buildings through the real host into a real PostGIS: parts at once, killed, run again."""

import csv
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import sysconfig
import threading
import time
import zipfile
from pathlib import Path

import pytest
import roomtie
import shapely
from osgeo import ogr
from roomtie.processing.errors import SurveyError
from roomtie.processing.many.postgis import Database

sys.path.append(str(Path(__file__).resolve().parent.parent / "benchmarks"))
from many_surveys import write_survey
from postgis_server import programs

ROOT = Path(roomtie.__file__).resolve().parent
KILLS = int(os.environ.get("ROOMTIE_KILLS", "6"))
NAMES = ["north/1", "north/2", "south/1", "south/2"]
OPTIONS = (
    *("--set", "TARGET_CRS=EPSG:32631", "--set", "PLOT_SCALES=1:50", "--jobs", "1"),
    *("--also", "exportindoor", "--set", "exportindoor.COUNTRY=NL"),
)
TABLES = {
    "rooms": "room",
    "wall_faces": "wall",
    "openings": "opening",
    "stations": "station",
}

if programs() is None:
    pytest.skip(
        "no PostgreSQL server with PostGIS (Debian: postgresql-15-postgis-3)",
        allow_module_level=True,
    )


@pytest.fixture(scope="module")
def command(tmp_path_factory, host_process):
    """``command(surveys, results, *options)`` starts the command in a profile with the plugin."""
    profile = tmp_path_factory.mktemp("profile")
    packages = profile / "profiles" / "default" / "python" / "plugins"
    packages.mkdir(parents=True)
    (packages / "roomtie").symlink_to(ROOT)
    site = sysconfig.get_path("purelib")
    host_process(profile, "plugins", "enable", "roomtie", python_path=[site])

    def start(surveys, results, *options):
        return subprocess.Popen(
            [sys.executable, "-m", "roomtie.processing.many", surveys, results, *OPTIONS, *options],
            env={
                **os.environ,
                "PATH": "/usr/local/bin:/usr/bin:/bin",
                "PYTHONPATH": os.pathsep.join([str(packages), site]),
                "QGIS_CUSTOM_CONFIG_PATH": str(profile),
                "XDG_RUNTIME_DIR": str(profile),
                "HOME": str(profile),
            },
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            cwd="/",
        )

    return start


def plan_of(top, name):
    return top / "results" / name / f"{name.replace('/', '-')}.gpkg"


def ended(child):
    said = child.communicate(timeout=500)[0]
    return child.returncode, said


def summary(results):
    with (results / "summary.csv").open(encoding="utf-8", newline="") as file:
        return {row["building"]: row for row in csv.DictReader(file)}


@pytest.fixture(scope="module")
def made(tmp_path_factory, command, server):
    """Four small buildings and a broken one, made by two processes at once, each with a part."""
    top = tmp_path_factory.mktemp("many")
    for number, name in enumerate(NAMES):
        write_survey(top / "surveys" / name / "captures", 5000 + number, number, rooms=2)
    broken = top / "surveys" / "south" / "broken" / "captures"
    broken.mkdir(parents=True)
    (broken / "S01.csv").write_text("no capture")
    children = [
        command(
            top / "surveys",
            top / "results",
            *("--postgis", server.connection, "--schema", "city", "--part", f"{k}/2"),
        )
        for k in (1, 2)
    ]
    return top, [ended(child) for child in children]


def of_plan(path, table):
    source = ogr.Open(str(path))
    return {
        (feature[TABLES[table]], feature["plot_scale"] if table != "stations" else None): (
            bytes(feature.GetGeometryRef().ExportToWkb())
        )
        for feature in source.GetLayerByName(table)
    }


def of_schema(server, table, building, name="city"):
    scale = "plot_scale" if table != "stations" else "NULL"
    rows = server.sql(
        f"SELECT {TABLES[table]}, {scale}, ST_AsBinary(geom) FROM {name}.{table} "
        f"WHERE building = '{building}'"
    )
    return {(row[0], row[1]): bytes(row[2]) for row in rows}


def test_good_ones_are_made_and_the_broken_one_is_told(made):
    top, results = made
    assert sorted(code for code, _ in results) == [0, 1], results
    rows = summary(top / "results")
    assert {name: rows[name]["status"] for name in NAMES} == dict.fromkeys(NAMES, "done")
    assert rows["south/broken"]["status"] == "failed"
    assert "south/broken/captures" in rows["south/broken"]["message"]
    assert all(int(rows[name]["rooms"]) >= 1 for name in NAMES)
    for name in NAMES:
        archive = plan_of(top, name).with_name(f"{name.replace('/', '-')}-indoor.zip")
        with zipfile.ZipFile(archive) as indoor:
            units = json.loads(indoor.read("unit.geojson"))["features"]
            (venue,) = json.loads(indoor.read("venue.geojson"))["features"]
        source = ogr.Open(str(plan_of(top, name)))
        tied = {
            f["network"] for f in source.GetLayerByName("stations") if f["status"] == "adjusted"
        }
        rooms = [f["network"] in tied for f in source.GetLayerByName("rooms")]
        assert (sum(rooms), len(rooms)) == (len(units), int(rows[name]["rooms"]))
        assert venue["properties"]["name"] == {"en": name}


@pytest.mark.parametrize("table", list(TABLES))
def test_every_feature_is_in_the_schema_where_the_plan_has_it(made, server, table):
    """Against GDAL's reading of the plans, and the database's own binary form."""
    top, _ = made
    for name in NAMES:
        plan = of_plan(plan_of(top, name), table)
        assert plan
        found = of_schema(server, table, name)
        assert set(found) == set(plan)
        for key, wkb in plan.items():
            assert shapely.from_wkb(found[key]).equals_exact(shapely.from_wkb(wkb), 0.0)
    assert server.sql(f"SELECT DISTINCT ST_SRID(geom) FROM city.{table}") == [(32631,)]


def test_attributes_come_along(made, server):
    top, _ = made
    source = ogr.Open(str(plan_of(top, NAMES[0])))
    for feature in source.GetLayerByName("rooms"):
        ((area, sigma, level),) = server.sql(
            "SELECT area_m2, sigma_area_m2, level FROM city.rooms "
            f"WHERE building = '{NAMES[0]}' AND room = '{feature['room']}'"
        )
        assert (area, sigma, level) == (
            feature["area_m2"],
            feature["sigma_area_m2"],
            feature["level"],
        )
    ((moved,),) = server.sql("SELECT DISTINCT moved FROM city.stations")
    assert moved in (None, False, True)


def test_the_same_again_changes_no_row(made, command, server):
    top, _ = made
    state = "SELECT string_agg(xmin::text || ':' || gid, ',' ORDER BY gid) FROM city.{}"
    before = [server.sql(state.format(table)) for table in TABLES]
    code, said = ended(
        command(
            top / "surveys",
            top / "results",
            *("--postgis", server.connection, "--schema", "city", "--skip-failed"),
        )
    )
    assert code == 1 and "4 kept" in said
    assert [server.sql(state.format(table)) for table in TABLES] == before
    rows = summary(top / "results")
    assert {rows[name]["in_database"] for name in NAMES} == {"yes"}


def test_a_database_named_later_gets_what_is_done(made, command, server):
    top, _ = made
    _, said = ended(
        command(
            top / "surveys",
            top / "results",
            *("--postgis", server.connection, "--schema", 'O\'Hara "new"', "--skip-failed"),
        )
    )
    assert "4 kept" in said, said
    assert server.sql('SELECT count(*) FROM "O\'Hara ""new""".buildings') == [(4,)]


def test_what_a_building_has_again_keeps_its_row(made, server, tmp_path):
    """Another plan of the same survey: rows of the same identifiers keep their numbers and what
    people added; others go, and no other building is touched."""
    top, _ = made
    plan = tmp_path / "plan.gpkg"
    shutil.copy(plan_of(top, NAMES[1]), plan)
    database = Database(server.connection, "again")
    for name in NAMES[:2]:
        database.load(name, "first", plan_of(top, name))
    server.sql(
        "ALTER TABLE again.rooms ADD COLUMN lease text",
        "UPDATE again.rooms SET lease = 'L-' || gid",
    )
    theirs = "SELECT string_agg(r::text, '|' ORDER BY gid) FROM again.rooms r WHERE building = '{}'"
    other = server.sql(theirs.format(NAMES[0]))
    before = dict(server.sql(f"SELECT room, gid FROM again.rooms WHERE building = '{NAMES[1]}'"))
    gone = sorted(before)[0]
    source = ogr.Open(str(plan), update=1)
    source.ExecuteSQL(f"DELETE FROM rooms WHERE room = '{gone}'")
    source.ExecuteSQL("UPDATE rooms SET name = 'renamed'")
    del source
    assert database.load(NAMES[1], "second", plan)
    assert not database.load(NAMES[1], "second", plan)
    rows = server.sql(
        f"SELECT room, gid, name, lease FROM again.rooms WHERE building = '{NAMES[1]}'"
    )
    assert {room: gid for room, gid, _, _ in rows} == {
        room: gid for room, gid in before.items() if room != gone
    }
    assert all(name == "renamed" and lease == f"L-{gid}" for _, gid, name, lease in rows)
    assert server.sql(theirs.format(NAMES[0])) == other


def test_writers_at_once_lose_nothing(made, server):
    """Eight threads on four buildings in an empty database: tables once, each building whole."""
    top, _ = made
    failed = []

    def load(name):
        try:
            database = Database(server.connection, "race")
            database.load(name, "key", plan_of(top, name))
        except SurveyError as error:
            failed.append(error)

    threads = [threading.Thread(target=load, args=(name,)) for name in NAMES * 2]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failed
    for table in TABLES:
        for name in NAMES:
            assert of_schema(server, table, name, "race") == of_schema(server, table, name)


LOADS = """
import sys
from pathlib import Path
from roomtie.processing.many.postgis import Database
database = Database(sys.argv[1], "kills")
print("ready", flush=True)
sys.stdin.readline()
database.load("north/1", sys.argv[2], Path(sys.argv[3]))
print("done", flush=True)
"""


def test_killed_while_it_loads_a_building_is_old_or_new(made, server, tmp_path):
    top, _ = made
    packages = tmp_path / "packages"
    packages.mkdir()
    (packages / "roomtie").symlink_to(ROOT)
    plans = [plan_of(top, name) for name in NAMES[:2]]
    # In one statement: what the killed client sent last, the server may still be committing.
    state = (
        "(SELECT string_agg({0} || ST_AsText(geom), ',' ORDER BY {0}, plot) FROM (SELECT {2} AS "
    )
    state += "plot, * FROM kills.{1} WHERE building = 'north/1') r)"
    question = "SELECT " + ", ".join(
        state.format(key, table, "''" if table == "stations" else "plot_scale")
        for table, key in TABLES.items()
    )

    def loaded(turn, after=None):
        child = subprocess.Popen(
            [sys.executable, "-c", LOADS, server.connection, str(turn), str(plans[turn % 2])],
            env={**os.environ, "PYTHONPATH": str(packages)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd="/",
        )
        child.stdout.readline()
        begun = time.monotonic()
        child.stdin.write("\n")
        child.stdin.flush()
        if after is None:
            assert child.stdout.readline() == "done\n"
        else:
            time.sleep(after)
            child.send_signal(signal.SIGKILL)
        lasts = time.monotonic() - begun
        said = child.communicate()[0]
        server.sql("SELECT pg_sleep(0.1)")
        return lasts, said, server.sql(question)

    _, _, first = loaded(0)
    lasts, _, second = loaded(1)
    assert first != second
    luck, found = random.Random(85), []
    for turn in range(2, 2 + KILLS):
        _, said, now = loaded(turn, luck.uniform(0.0, 1.2 * lasts))
        found.append("first" if now == first else "second" if now == second else "torn")
        assert found[-1] != "torn"
        assert not said or found[-1] == ("first", "second")[turn % 2]
    print(f"{len(found)} kills: {found}")


def test_a_plan_that_does_not_fit_leaves_the_tables_as_they_were(made, server, tmp_path):
    top, _ = made
    database = Database(server.connection, "city")
    state = "SELECT string_agg(xmin::text || ':' || gid, ',' ORDER BY gid) FROM city.rooms"
    before = server.sql(state)
    plan = tmp_path / "plan.gpkg"
    shutil.copy(plan_of(top, NAMES[0]), plan)
    source = ogr.Open(str(plan), update=1)
    source.ExecuteSQL("UPDATE openings SET room_a = NULL, opening = 'twice', plot_scale = 50")
    del source
    with pytest.raises(SurveyError, match="the database refused"):
        database.load(NAMES[0], "other", plan)
    assert server.sql(state) == before
    source = ogr.Open(str(plan), update=1)
    source.ExecuteSQL("UPDATE gpkg_geometry_columns SET srs_id = 4326")
    del source
    with pytest.raises(SurveyError, match="tables lie in EPSG:32631, the plan in EPSG:4326"):
        database.load(NAMES[0], "other", plan)
    source = ogr.Open(str(plan), update=1)
    source.ExecuteSQL("UPDATE gpkg_geometry_columns SET srs_id = -1")
    del source
    with pytest.raises(SurveyError, match="no system with an EPSG code"):
        database.load(NAMES[0], "other", plan)
    with pytest.raises(SurveyError, match="the database refused"):
        Database("host=/nowhere", "city").load(NAMES[0], "key", plan_of(top, NAMES[0]))


def test_killed_in_the_middle_it_goes_on(made, command, server, tmp_path):
    """The real host, killed while it works on the second building; the first one is kept."""
    top, _ = made
    shutil.copytree(top / "surveys" / "north", tmp_path / "surveys" / "north")
    results = tmp_path / "results"
    words = (tmp_path / "surveys", results, "--postgis", server.connection, "--schema", "killed")
    child = command(*words)
    first = results / "north" / "1" / "state.json"
    deadline = time.monotonic() + 200.0
    while not (first.exists() and [*(results / "north" / "2").glob(".work-*")]):
        assert time.monotonic() < deadline and child.poll() is None
        time.sleep(0.05)
    child.send_signal(signal.SIGKILL)
    child.communicate()
    kept = first.read_bytes()
    code, said = ended(command(*words))
    assert code == 0 and "1 kept" in said and "1 made" in said, said
    assert first.read_bytes() == kept
    assert not [*results.rglob(".work-*")]
    assert server.sql("SELECT count(*) FROM killed.buildings") == [(2,)]
    for name in NAMES[:2]:
        assert of_schema(server, "rooms", name, "killed") == of_schema(server, "rooms", name)
