# SPDX-License-Identifier: GPL-2.0-or-later
"""The same in a real PostGIS: concurrent sessions, killed clients, a server that loses power."""

import json
import signal
import threading
import time

import pytest
from building_layers import OLD, at_place, rooms_file
from moments import Moments
from postgis_server import programs
from qgis.core import QgsProcessingException, QgsVectorLayer
from test_building_kills import KILLS, started

if programs() is None:
    pytest.skip(
        "no PostgreSQL server with PostGIS (Debian: postgresql-15-postgis-3)",
        allow_module_level=True,
    )

LEVELS = json.dumps(
    {"schema": "roomtie-building-layer", "version": 1, "level": "geschoss", "levels": {"EG": 0}}
)
STATE = "SELECT md5(string_agg(r::text, '|' ORDER BY id)) FROM raeume r"


def fill(server, rooms=OLD):
    server.sql(
        "DROP TABLE IF EXISTS moebel, raeume_history, raeume CASCADE",
        "CREATE TABLE raeume (id serial PRIMARY KEY, nummer text UNIQUE, nutzung text, kosten "
        "numeric(12,4), geschoss text, marken text[], angaben jsonb, seit timestamptz DEFAULT "
        "'2020-01-01 12:00:00.123456+02', geom geometry(MultiPolygon, 32632))",
    )
    rows = ", ".join(
        f"('{name}', E'B\\\\\\\\ü''ro', 0.1234, 'EG', '{{a,\"b c\"}}', '{{\"x\": [1, 2.50]}}', "
        f"ST_Multi(ST_GeomFromText('{at_place(shape).wkt}', 32632)))"
        for name, shape in rooms.items()
    )
    server.sql(
        "INSERT INTO raeume (nummer, nutzung, kosten, geschoss, marken, angaben, geom) "
        f"VALUES {rows}"
    )


@pytest.fixture
def layer(server):
    fill(server)
    found = QgsVectorLayer(
        f'{server.connection} key=\'id\' srid=32632 type=MultiPolygon table="public"."raeume" '
        "(geom)",
        "raeume",
        "postgres",
    )
    assert found.isValid()
    yield found
    del found


@pytest.fixture
def data(run, tmp_path, layer):
    def compare():
        return run(
            "comparebuildinglayer",
            ROOMS=rooms_file(tmp_path / "rooms.gpkg"),
            BUILDING=layer,
            ID_FIELD="nummer",
            PROFILE=LEVELS,
            CHANGES=str(tmp_path / "changes.gpkg"),
        )

    def update(**more):
        given = {"CHANGES": str(tmp_path / "changes.gpkg"), "UNDO": str(tmp_path / "undo.json")}
        return run(
            "updatebuildinglayer",
            BUILDING=layer,
            ID_FIELD="nummer",
            PROFILE=LEVELS,
            **{**given, "DRY_RUN": False, "DATE": "2026-05-04", **more},
        )

    compare()
    return update


def test_an_update_and_the_way_back(server, data, tmp_path):
    before = server.sql(STATE)
    kept = "SELECT id, nummer, nutzung, kosten, marken, angaben, seit FROM raeume ORDER BY nummer"
    rows = {row[1]: row for row in server.sql(kept)}
    data(DRY_RUN=True)
    assert server.sql(STATE) == before
    data()
    after = {row[1]: row for row in server.sql(kept)}
    assert set(after) == (set(rows) - {"105"}) | {"103-2", "Room g"}
    assert all(after[name] == rows[name] for name in set(rows) & set(after))
    assert after["103-2"][2:] == rows["103"][2:]
    sizes = dict(server.sql("SELECT nummer, round(ST_Area(geom)::numeric, 3) FROM raeume"))
    assert (float(sizes["101"]), float(sizes["103-2"]), float(sizes["104"])) == (25.0, 12.5, 24.0)
    assert server.sql("SELECT nummer, superseded_on FROM raeume_history") == [("105", "2026-05-04")]
    data(CHANGES=None, INVERSE=str(tmp_path / "undo.json"), UNDO=None)
    assert server.sql(STATE) == before
    assert server.sql("SELECT count(*) FROM raeume_history") == [(0,)]


def test_a_concurrent_edit_is_noticed(server, data):
    server.sql("UPDATE raeume SET angaben = '{\"x\": 3}' WHERE nummer = '102'")
    theirs = server.sql(STATE)
    with pytest.raises(QgsProcessingException, match="someone changed room 102"):
        data()
    assert server.sql(STATE) == theirs


def test_an_edit_that_is_not_committed_yet_is_not_waited_for(server, data):
    import psycopg2

    other = psycopg2.connect(server.connection)
    with other.cursor() as cursor:
        cursor.execute("UPDATE raeume SET kosten = 5 WHERE nummer = '105'")
        with pytest.raises(QgsProcessingException, match="someone else is changing rooms"):
            data()
    other.commit()
    other.close()
    assert server.sql("SELECT kosten FROM raeume WHERE nummer = '105'") == [(5,)]


def test_sessions_that_edit_all_the_time_lose_nothing(server, data):
    """Two sessions add to a counter in every room while the update is tried again and again: each
    addition that was committed is there at the end, whether the update came through or not."""
    import psycopg2

    stop, added = threading.Event(), {"101": 0, "104": 0}

    def edits(name):
        link = psycopg2.connect(server.connection)
        link.autocommit = True
        with link.cursor() as cursor:
            while not stop.is_set():
                cursor.execute(f"UPDATE raeume SET kosten = kosten + 1 WHERE nummer = '{name}'")
                added[name] += cursor.rowcount
                time.sleep(0.01)
        link.close()

    threads = [threading.Thread(target=edits, args=(name,)) for name in added]
    for thread in threads:
        thread.start()
    for _ in range(3):
        with pytest.raises(QgsProcessingException, match=r"changed room|someone else is changing"):
            data()
    stop.set()
    for thread in threads:
        thread.join()
    for name, count in added.items():
        ((cost,),) = server.sql(f"SELECT kosten FROM raeume WHERE nummer = '{name}'")
        assert count > 0 and float(cost) == pytest.approx(0.1234 + count)


def test_rows_that_hang_on_a_room_and_triggers_are_respected(server, data):
    server.sql(
        "CREATE TABLE moebel (raum int REFERENCES raeume ON DELETE SET NULL)",
        "INSERT INTO moebel SELECT id FROM raeume WHERE nummer = '105'",
    )
    before = server.sql(STATE)
    with pytest.raises(QgsProcessingException, match=r"1 row\(s\) of moebel hang on it"):
        data()
    server.sql(
        "DELETE FROM moebel",
        "CREATE OR REPLACE FUNCTION no() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN IF NEW.nummer = '104' THEN RETURN NULL; END IF; RETURN NEW; END $$",
        "CREATE TRIGGER veto BEFORE UPDATE ON raeume FOR EACH ROW EXECUTE FUNCTION no()",
    )
    with pytest.raises(QgsProcessingException, match="room 104: the row changed meanwhile, or a"):
        data()
    assert server.sql(STATE) == before


@pytest.mark.parametrize("of_server", [False, True])
def test_killed_in_the_middle_the_table_is_old_or_new(server, of_server):
    import shapely

    rooms = {
        f"{i:04d}": shapely.box(5 * (i % 20), 5 * (i // 20), 5 * (i % 20) + 4, 5 * (i // 20) + 4)
        for i in range(200)
    }
    content = "SELECT nummer, nutzung, ST_AsText(geom) FROM raeume ORDER BY nummer"
    fill(server, rooms)
    old = server.sql(content)
    child = started("postgres", server.connection)
    begun = time.monotonic()
    assert child.communicate()[0] == "done\n"
    lasts = time.monotonic() - begun
    new = server.sql(content)
    moments = Moments(lasts, KILLS // 3 if of_server else KILLS // 2, seed=80 + of_server)
    found = []
    for moment in moments:
        fill(server, rooms)
        child = started("postgres", server.connection)
        time.sleep(moment)
        if of_server:
            server.power_cut()
        else:
            child.send_signal(signal.SIGKILL)
        said = child.communicate()[0]
        state = server.sql("SELECT pg_sleep(0.05)", content)
        found.append("old" if state == old else "new" if state == new else "torn")
        moments.came(early=found[-1] == "old")
        assert found[-1] != "torn"
        assert found[-1] == "new" or said == ""
    print(f"{len(found)} kills: {found.count('old')} old, {found.count('new')} new")
    assert "old" in found, "no kill came before the commit"
