# SPDX-License-Identifier: GPL-2.0-or-later
"""Fields and roles of a person's go on to the layers of a plan that grew."""

from dataclasses import replace

import numpy as np
import shapely
from roomtie.processing.layers import schema
from roomtie.processing.layers.carried import added_fields, carried
from roomtie.processing.layers.schema import INTEGER, REAL, TEXT
from roomtie.processing.layers.table import Table


def table(one, rows, more=()):
    """A table of dictionaries; what they leave out is None."""
    fields = (*one.fields, *more)
    columns = tuple([row.get(name) for row in rows] for name, _ in fields)
    points = np.array([shapely.Point(i, 0) for i in range(len(rows))], dtype=object)
    return Table(
        replace(one, fields=fields), columns, points[: len(rows)], np.ones(len(rows), np.int64)
    )


def test_own_fields_follow_the_feature_and_its_scale():
    own = (("floor", TEXT),)
    before = table(
        schema.ROOMS,
        [
            {"room": "a", "plot_scale": 200, "floor": "coarse"},
            {"room": "a", "plot_scale": 50, "floor": "oak"},
            {"room": "gone", "plot_scale": 50, "floor": "tiles"},
        ],
        own,
    )
    now = table(
        schema.ROOMS,
        [
            {"room": "a", "plot_scale": 50},
            {"room": "a", "plot_scale": 200},
            {"room": "a", "plot_scale": 20},
            {"room": "new", "plot_scale": 50},
        ],
    )
    (made,) = carried([now], {"rooms": before}, {})
    assert made.schema.fields == (*schema.ROOMS.fields, *own)
    # At a scale that is new the finest earlier one tells.
    assert made.column("floor") == ["oak", "coarse", "oak", None]
    assert made.column("room") == now.column("room")


def test_readings_are_known_by_station_and_number():
    before = table(
        schema.READINGS,
        [{"station": "S1", "seq": 1, "seen": 5}, {"station": "S1", "seq": 2, "seen": 6}],
        (("seen", INTEGER),),
    )
    now = table(
        schema.READINGS,
        [{"station": "S2", "seq": 2}, {"station": "S1", "seq": 2}, {"station": "S1", "seq": 3}],
    )
    (made,) = carried([now], {"readings": before}, {})
    assert made.column("seen") == [None, 6, None]


def test_a_station_that_was_put_aside_takes_its_fields_along():
    before = table(schema.STATIONS, [{"station": "S1", "tripod": 1.2}], (("tripod", REAL),))
    now = table(schema.STATIONS, [{"station": "S1"}, {"station": "S1 (earlier)"}])
    (made,) = carried([now], {"stations": before}, {"S1 (earlier)": "S1"})
    assert made.column("tripod") == [None, 1.2]


def test_roles_of_a_person_stay_and_others_are_found_anew():
    before = table(
        schema.TARGETS, [{"target": "T1", "role": "check"}, {"target": "T2", "role": "control"}]
    )
    now = table(schema.TARGETS, [{"target": t, "role": "tie"} for t in ("T1", "T2", "T3")])
    (made,) = carried([now], {"targets": before}, {})
    assert made.column("role") == ["check", "tie", "tie"]


def test_held_stations_keep_the_last_digit_of_their_orientation():
    before = table(schema.STATIONS, [{"station": n, "orientation_deg": 302.0} for n in "AB"])
    now = table(
        schema.STATIONS,
        [
            {"station": "A", "status": "held", "orientation_deg": 302.0 + 6e-14},
            {"station": "B", "status": "adjusted", "orientation_deg": 302.0 + 6e-14},
        ],
    )
    (made,) = carried([now], {"stations": before}, {})
    assert made.column("orientation_deg") == [302.0, 302.0 + 6e-14]


def test_what_the_plugin_made_is_no_field_of_a_persons():
    assert added_fields(table(schema.TIES, [])) == ()
    # An earlier version of the layer has fewer fields, and no more.
    assert added_fields(table(replace(schema.TIES, fields=schema.TIES.fields[:4]), [])) == ()
    mine = (("Mine", TEXT),)
    assert added_fields(table(schema.TIES, [], mine)) == mine
