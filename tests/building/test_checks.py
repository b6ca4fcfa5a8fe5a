# SPDX-License-Identifier: GPL-2.0-or-later
"""Faults planted in a layer are found, each with a fix; a clean one has none."""

import numpy as np
import pytest
import shapely
from roomtie.processing.building.checks import NO_LEVEL, checked
from shapely.geometry import Polygon, box

TOUCHING = {f"{i}{j}": box(5 * i, 4 * j, 5 * i + 5, 4 * j + 4) for i in range(4) for j in range(3)}
WALLED = {name: shapely.buffer(s, -0.1, join_style="mitre") for name, s in TOUCHING.items()}
OUTLINE = box(0, 0, 20, 12)


def findings(shapes, levels=None, footprint=OUTLINE):
    polygon = np.empty(len(shapes), dtype=object)
    polygon[:] = list(shapes.values())
    found = checked(list(shapes), polygon, levels or [0] * len(shapes), footprint)
    assert all(one.fix and one.sentence for one in found)
    return [(one.check, one.rooms) for one in found]


@pytest.mark.parametrize("layer", [TOUCHING, WALLED])
def test_a_clean_layer_has_none(layer):
    assert findings(layer) == []


@pytest.mark.parametrize("layer", [TOUCHING, WALLED])
def test_planted_faults_are_found(layer):
    x0, y0, x1, y1 = layer["11"].bounds
    wide = {**layer, "11": box(x0, y0, x1 + 0.5, y1)}
    assert findings(wide) == [("overlap", ("11", "21"))]
    assert findings({**layer, "twin": layer["11"]}) == [("duplicate room", ("11", "twin"))]
    assert findings({**layer, "bow": Polygon([(6, 5), (9, 7), (9, 5), (6, 7)])})[0] == (
        "invalid",
        ("bow",),
    )
    beyond = {**layer, "31": box(*layer["31"].bounds[:2], 22, layer["31"].bounds[3])}
    assert findings(beyond) == [("outside the footprint", ("31",))]
    lost = {name: shape for name, shape in layer.items() if name != "11"}
    ((check, near),) = findings(lost)
    assert check == "gap" and {"01", "21", "10", "12"} <= set(near)
    thin = {**lost, "11": box(x0, y0, x1 - 1.0, y1), "s": box(x1 - 0.9, y0, x1 - 0.8, y1)}
    assert ("sliver", ("s",)) in findings(thin)


def test_a_thin_gap_is_found_where_rooms_touch():
    shrunk = {**TOUCHING, "11": box(5, 4, 9.9, 8)}
    ((check, near),) = findings(shrunk)
    assert check == "gap" and "11" in near and "21" in near


def test_levels_that_are_missing_or_mixed():
    both = {**TOUCHING, **{f"u{name}": shape for name, shape in TOUCHING.items()}}
    levels = [0] * len(TOUCHING) + [1] * len(TOUCHING)
    assert findings(both, levels) == []
    lost = list(levels)
    lost[3] = NO_LEVEL
    assert ("mixed levels", ("10",)) in findings(both, lost)
    wrong = list(levels)
    wrong[list(both).index("u11")] = 0
    assert ("mixed levels", ("11",)) in findings(both, wrong) or (
        "mixed levels",
        ("u11",),
    ) in findings(both, wrong)


def test_rooms_that_name_no_storey_are_told_only_so():
    """Two of them over each other, while a named storey has a hole of their place."""
    rooms = {name: shape for name, shape in TOUCHING.items() if name != "11"}
    rooms |= {"a": TOUCHING["11"], "b": shapely.buffer(TOUCHING["11"], -0.1, join_style="mitre")}
    levels = [0] * 11 + [NO_LEVEL] * 2
    found = [one for one in findings(rooms, levels) if one[0] == "mixed levels"]
    assert found == [("mixed levels", ("a",)), ("mixed levels", ("b",))]


def test_a_repair_counts_all_parts_of_what_it_leaves():
    """Two triangles and a spike: repaired, they are a multipolygon and a line."""
    bow = Polygon([(0, 0), (2, 2), (2, 0), (0, 2), (0, 1), (-1, 1), (0, 1)])
    polygon = np.array([bow], dtype=object)
    (one,) = [one for one in checked(["bow"], polygon, [0]) if one.check == "invalid"]
    assert one.fix.startswith("Repair its outline: 2 part(s) of 2.00 m² together")
