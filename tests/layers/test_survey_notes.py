# SPDX-License-Identifier: GPL-2.0-or-later
"""A survey that went through a plan's layers comes back as it was imported."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.captures.model import Flag, KnownPoint
from roomtie.processing.captures.noise import with_noise
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.errors import SurveyError
from roomtie.processing.layers import read, rows
from roomtie.processing.layers.known_points import (
    FROM_CONTROL,
    FROM_FILES,
    known_points_table,
    read_known_points,
)
from roomtie.processing.layers.survey_notes import (
    Notes,
    notes_of,
    read_notes,
    restored,
    within,
    written,
)
from roomtie.processing.layers.table import concatenate
from roomtie.processing.stations.systematics import Systematics, corrected, corrected_survey

HEADER = (
    *("station", "capture_file", "level", "captured_at", "instrument_height_m", "tilt_deg"),
    *("moved", "compass_calibrated", "magnetic_azimuth_deg", "magnetic_azimuth_sigma_deg"),
    *("longitude_deg", "latitude_deg", "geotag_sigma_m", "ellipsoidal_height_m"),
    *("distance_sigma_m", "angle_sigma_deg", "distance_zero_m", "comment", "remarks"),
)


def columns_of(table):
    return dict(zip(table.schema.field_names, table.columns))


@pytest.fixture(scope="module")
def imported(example_survey):
    return import_captures(example_survey / "captures")


def back(imported, systematics=None):
    """The survey through the layers, after the noise was settled and walls flagged readings."""
    used = with_noise(imported)
    if systematics is not None:
        used = corrected_survey(used, systematics)
    drawn = type(used)(
        tuple(c.with_flags(np.arange(len(c)) % 7 == 0, Flag.CLUTTER) for c in used.captures),
        used.skipped,
        used.warnings,
        used.digests,
        used.known_points,
    )
    unturned = np.zeros((len(drawn), 2)), np.zeros(len(drawn))
    stations = columns_of(rows.recorded_stations(drawn, *unturned))
    readings = columns_of(concatenate([*rows.recorded_readings(drawn, *unturned).parts]))
    notes = read_notes(columns_of(notes_of(imported, drawn, systematics)))
    return restored(read.survey(stations, readings), notes, imported.known_points)


def assert_same(one, other, angle=0.0):
    for name in ("seq", "kind", "flag", "target", "zenith_deg"):
        assert np.array_equal(getattr(one, name), getattr(other, name)), name
    for name in ("angle_deg", "slope_distance_m", "distance_m", "intensity"):
        assert np.allclose(
            getattr(one, name), getattr(other, name), rtol=0.0, atol=angle, equal_nan=True
        ), name
    for name in HEADER:
        a, b = getattr(one, name), getattr(other, name)
        assert a == b or (a != a and b != b) or abs(a - b) < angle, (name, a, b)
    assert dict(one.other) == dict(other.other)


def test_the_example_comes_back_bit_by_bit(imported):
    again = back(imported)
    assert again.names == imported.names
    for one, other in zip(again.captures, imported.captures):
        assert_same(one, other)
    assert again.warnings == imported.warnings and again.skipped == imported.skipped
    assert dict(again.digests) == dict(imported.digests)
    assert again.known_points == imported.known_points


def test_corrections_of_the_instrument_are_undone(imported):
    found = Systematics(0.004, 0.0007, 3e-4, np.diag([1e-8, 1e-8, 1e-10]))
    for one, other in zip(back(imported, found).captures, imported.captures):
        assert_same(one, other, angle=1e-9)
    moved_m = corrected(imported.captures[0], found).distance_m - imported.captures[0].distance_m
    assert np.nanmax(np.abs(moved_m)) > 0.003


def test_a_flag_that_a_person_changed_stays(imported):
    notes = read_notes(columns_of(notes_of(imported, imported, None)))
    capture = imported.captures[0]
    by_hand = capture.with_flags(capture.seq == 5, Flag.PASSER_BY)
    again = restored(type(imported)((by_hand, *imported.captures[1:])), notes)
    assert np.array_equal(again.captures[0].flag, by_hand.flag)


def test_a_plan_without_notes_is_taken_as_it_stands(imported):
    again = restored(imported, read_notes(None))
    assert again.captures == imported.captures


def test_known_points_come_back_with_their_source():
    points = [
        (KnownPoint("T1", 1.25, 2.5, 3.0, 0.004, "EPSG:32631", False), FROM_CONTROL),
        (KnownPoint("S1", 1.0, 2.0, station=True), FROM_FILES),
    ]
    again = read_known_points(columns_of(known_points_table(points)))
    assert [source for _, source in again] == [FROM_CONTROL, FROM_FILES]
    assert again[0][0] == points[0][0]
    assert again[1][0].station and np.isnan(again[1][0].sigma_m) and again[1][0].crs == ""


@given(st.sets(st.integers(1, 400)), st.lists(st.integers(1, 400), max_size=50))
def test_numbers_survive_their_text(numbers, asked):
    text = written(np.array(sorted(numbers), dtype=np.int64))
    assert within(np.array(asked, dtype=np.int64), text).tolist() == [n in numbers for n in asked]


@pytest.mark.parametrize("text", ["3-", "a", "1-2-3", "-"])
def test_another_text_is_refused(text):
    with pytest.raises(SurveyError, match="expected numbers of readings"):
        within(np.array([1, 2]), text)


def test_a_damaged_correction_is_refused(imported):
    columns = {"kind": ["correction"], "subject": [None], "name": ["values"], "value": ["1 2"]}
    with pytest.raises(SurveyError, match="survey_notes: the correction"):
        restored(imported, read_notes(columns))


@pytest.mark.parametrize("value", ["", "2 mm", "nan"])
def test_a_stated_value_that_was_edited_is_told(imported, value):
    line = ("stated", imported.names[0], "distance_sigma_m", value)
    with pytest.raises(SurveyError, match=r"survey_notes, station .*distance_sigma_m is .*number"):
        restored(imported, Notes((line,), True))
