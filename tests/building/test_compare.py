# SPDX-License-Identifier: GPL-2.0-or-later
"""What became of each room, on plans whose changes are known."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.building.compare import Options, compare
from roomtie.processing.building.model import room_set
from roomtie.processing.errors import SurveyError
from scipy.stats import chi2
from shapely.geometry import box

SIGMA = 0.01


def rooms(shapes, sigma=SIGMA, level=0, **more):
    return room_set(list(shapes), list(shapes.values()), [level] * len(shapes), sigma, **more)


def told(comparison):
    """(change, old, new) of every row."""
    return sorted(
        (
            row.change,
            comparison.old.id[row.old] if row.old >= 0 else "",
            comparison.new.id[row.new] if row.new >= 0 else "",
        )
        for row in comparison.changes
    )


def cut(shape, at, across):
    x0, y0, x1, y1 = shape
    if across:
        middle = x0 + at * (x1 - x0)
        return (x0, y0, middle, y1), (middle, y0, x1, y1)
    middle = y0 + at * (y1 - y0)
    return (x0, y0, x1, middle), (x0, middle, x1, y1)


@st.composite
def partitions(draw, most=12):
    """A rectangle cut again and again, each piece at least 2 m wide."""
    pieces = [(0.0, 0.0, draw(st.integers(8, 40)), draw(st.integers(8, 40)))]
    for _ in range(draw(st.integers(0, most))):
        k = draw(st.integers(0, len(pieces) - 1))
        x0, y0, x1, y1 = pieces[k]
        across = x1 - x0 >= y1 - y0
        if max(x1 - x0, y1 - y0) >= 4.0:
            length = max(x1 - x0, y1 - y0)
            share = draw(st.floats(2.0 / length, 1.0 - 2.0 / length))
            pieces[k : k + 1] = cut(pieces[k], share, across)
    return {str(i): box(*piece) for i, piece in enumerate(pieces)}


@given(partitions())
def test_a_partition_against_itself_is_unchanged(shapes):
    found = compare(rooms(shapes), rooms(shapes))
    assert told(found) == sorted(("unchanged", name, name) for name in shapes)
    assert not found.shift.significant and not found.left_alone


@settings(max_examples=25)
@given(partitions(), st.data())
def test_random_splits_and_mergers_are_found_whatever_the_order(shapes, data):
    """Some rooms are cut in two, some of the others joined to a neighbour that stayed."""
    new, expected, free = dict(shapes), [], set(shapes)
    for name in data.draw(st.lists(st.sampled_from(sorted(shapes)), unique=True, max_size=3)):
        share = data.draw(st.floats(0.3, 0.7))
        pieces = cut(shapes[name].bounds, share, data.draw(st.booleans()))
        del new[name]
        free.discard(name)
        for part, piece in zip("ab", pieces):
            new[name + part] = box(*piece)
            expected.append(("split", name, name + part))
    for name in sorted(free):
        others = [
            other
            for other in sorted(free - {name})
            if name in free
            and shapely.union(shapes[name], shapes[other]).geom_type == "Polygon"
            and shapely.length(shapely.intersection(shapes[name], shapes[other])) > 0.5
        ]
        if others and data.draw(st.booleans()):
            both = shapely.union(shapes[name], shapes[others[0]])
            free -= {name, others[0]}
            del new[name], new[others[0]]
            new[f"{name}+{others[0]}"] = both
            expected += [("merged", own, f"{name}+{others[0]}") for own in (name, others[0])]
    expected += [("unchanged", name, name) for name in free]
    found = compare(rooms(shapes), rooms(new))
    assert told(found) == sorted(expected)

    mixed_old = data.draw(st.permutations(sorted(shapes)))
    mixed_new = data.draw(st.permutations(sorted(new)))
    again = compare(rooms({n: shapes[n] for n in mixed_old}), rooms({n: new[n] for n in mixed_new}))
    rows = [
        [
            (r.change, r.action, r.group, c.old.id[r.old], c.new.id[r.new], r.difference_m2)
            for r in c.changes
        ]
        for c in (found, again)
    ]
    assert rows[0] == rows[1]


OLD = {f"{i}{j}": box(5 * i, 4 * j, 5 * i + 4.8, 4 * j + 3.8) for i in range(5) for j in range(3)}


@pytest.mark.parametrize(
    ("step", "turn"), [((0.4, -0.25), 0.0), ((37.0, 81.0), 0.0), ((0.1, 0.2), 0.004)]
)
def test_a_shift_of_the_layer_is_one_shift(step, turn):
    """Also where no room overlaps its old place; a wall that moved is told all the same."""
    c, s = math.cos(turn), math.sin(turn)

    def away(xy):
        return (xy - step) @ np.array([[c, -s], [s, c]])

    old = rooms({n: shapely.transform(shape, away) for n, shape in OLD.items()})
    new = {**OLD, "11": box(5, 4, 9.8, 7.0)}
    found = compare(old, rooms(new))
    assert found.shift.significant
    wrong = found.shift.apply(away(np.array([[0.0, 0.0], [20.0, 10.0]])))
    assert wrong == pytest.approx(np.array([[0.0, 0.0], [20.0, 10.0]]), abs=0.002)
    assert [row for row in told(found) if row[0] != "unchanged"] == [("reshaped", "11", "11")]
    back = found.shift.inverse(found.shift.apply(np.array([[3.0, 4.0]])))
    assert back == pytest.approx(np.array([[3.0, 4.0]]))


def test_errors_alone_change_nothing_and_the_rate_of_false_alarms_is_the_level():
    """Edges moved by normal errors: at 95 % about one room in twenty is called changed. 3 sigma of
    the count of 600 rooms is 2.7 %; Bonferroni makes the rate smaller, never larger."""
    random = np.random.default_rng(5)
    changed = total = 0
    for _ in range(40):
        moved = {}
        for name, shape in OLD.items():
            moved[name] = box(*(np.array(shape.bounds) + random.normal(0, SIGMA * 2**0.5, 4)))
        found = compare(rooms(OLD), rooms(moved), Options(confidence=0.95))
        changed += sum(row.change != "unchanged" for row in found.changes)
        total += len(found.changes)
    assert 0.005 < changed / total < 0.05 + 0.027


def test_the_area_s_error_is_what_simulated_edges_give():
    random = np.random.default_rng(6)
    shape = box(0, 0, 6, 4)
    known = rooms({"a": shape}).sigma_area_m2[0]
    areas = [box(*(np.array(shape.bounds) + random.normal(0, SIGMA, 4))).area for _ in range(4000)]
    assert np.std(areas) == pytest.approx(known, rel=0.04)
    # A corner more on a straight wall is none.
    split = shapely.Polygon([(0, 0), (3, 0), (6, 0), (6, 4), (0, 4)])
    assert rooms({"a": split}).sigma_area_m2[0] == pytest.approx(known)


def test_a_wall_moved_by_little_is_seen_as_soon_as_the_errors_allow():
    edge = SIGMA * 2**0.5
    bound = edge * math.sqrt(chi2.ppf(1 - 0.0005 / 8, 2))
    for moved, change in ((0.2 * bound, "unchanged"), (1.5 * bound, "reshaped")):
        new = {**OLD, "11": box(5, 4, 9.8 + moved, 7.8)}
        found = compare(rooms(OLD), rooms(new))
        assert (change, "11", "11") in told(found)


def test_one_room_moved_as_a_whole():
    new = {**OLD, "42": shapely.transform(OLD["42"], lambda xy: xy + [0.7, 0.1])}
    found = compare(rooms(OLD), rooms(new))
    (row,) = (row for row in found.changes if row.change != "unchanged")
    assert row.change == "moved" and row.moved_m == pytest.approx((0.7, 0.1))
    assert row.difference_m2 == pytest.approx(0.0)
    far = {**OLD, "42": shapely.transform(OLD["42"], lambda xy: xy + [4.0, 2.0])}
    assert ("moved", "42", "42") in told(compare(rooms(OLD), rooms(far)))


def test_what_was_not_seen_is_left_to_a_person_unless_all_was_surveyed():
    new = {name: shape for name, shape in OLD.items() if name != "11"}
    far = {**OLD, "x": box(200, 0, 204, 4)}
    found = compare(rooms(far), rooms(new))
    assert ("unresolved", "11", "") in told(found)
    assert [far_id for i in found.left_alone for far_id in [found.old.id[i]]] == ["x"]
    all_of_it = compare(rooms(far), rooms(new), Options(complete=True))
    assert ("removed", "11", "") in told(all_of_it)
    within = compare(rooms(far), rooms(new), Options(complete=True, footprint=box(0, 0, 300, 50)))
    assert ("removed", "x", "") in told(within)


def test_crosswise_changes_are_unresolved():
    """A wall along became a wall across: every new room has half of both old ones."""
    old = {"a": box(0, 0, 8, 4), "b": box(0, 4, 8, 8)}
    new = {"c": box(0, 0, 4, 8), "d": box(4, 0, 8, 8)}
    found = compare(rooms(old), rooms(new))
    assert told(found)[-2:] == [("unresolved", "a", ""), ("unresolved", "b", "")]
    assert {row.change for row in found.changes} == {"new", "unresolved"}
    more = {"c": box(0, 0, 5, 8), "d": box(5, 0, 8, 8)}
    changes = {row.change for row in compare(rooms(old), rooms(more)).changes}
    assert "unresolved" in changes and changes <= {"unresolved", "new"}


def test_storeys_are_told_apart():
    old = room_set(["0", "1"], [box(0, 0, 5, 5)] * 2, [0, 1], SIGMA)
    new = room_set(["n"], [box(0, 0, 5, 5)], [1], SIGMA)
    found = compare(old, new)
    assert told(found) == [("unchanged", "1", "n")] and found.left_alone == (0,)


def test_a_doubtful_outline_goes_to_a_person():
    old = rooms(OLD)
    new = {**OLD, "11": box(5, 4, 9.8, 7.0)}
    doubt = ["seen from far" if name == "11" else "" for name in new]
    found = compare(old, rooms(new, doubt=doubt))
    (row,) = (row for row in found.changes if row.change != "unchanged")
    assert row.change == "unresolved" and row.reason == "seen from far"


def test_the_rule_of_splits_and_mergers():
    old = {"a": box(0, 0, 10, 4), "b": box(0, 5, 6, 9), "c": box(6, 5, 10, 9)}
    new = {"p": box(0, 0, 3, 4), "q": box(3, 0, 10, 4), "r": box(0, 5, 10, 9)}
    found = compare(rooms(old), rooms(new))
    kept = {
        (found.old.id[r.old], found.new.id[r.new]) for r in found.changes if r.action == "replace"
    }
    assert kept == {("a", "q"), ("b", "r")}


def test_bad_requests_are_one_sentence():
    with pytest.raises(SurveyError, match="no new rooms"):
        compare(rooms(OLD), rooms({}))
    with pytest.raises(SurveyError, match="confidence is 1,"):
        Options(confidence=1.0)
