# SPDX-License-Identifier: GPL-2.0-or-later
"""Units in the row of column names, against keys and parameters."""

import numpy as np
import pytest
from roomtie.processing.captures.capture_text import is_capture_text, read_capture_text
from roomtie.processing.captures.columns import column_names, column_of
from roomtie.processing.errors import SurveyError

TURN = "# rotation: clockwise\n"


def one(text, **rules):
    survey = read_capture_text(text, name="a.csv", **rules)
    assert len(survey) == 1
    return survey.captures[0]


@pytest.mark.parametrize(
    ("cell", "name", "unit"),
    [
        ("angle", "angle", ""),
        (" Angle [gon] ", "angle", "gon"),
        ("angle[GON]", "angle", "gon"),
        ("distance (mm)", "distance", "mm"),
        ("Distance / m", "distance", "m"),
        ("distance_ft", "distance", "ft"),
        ("zenith [°]", "zenith", "deg"),
        ("angle []", "angle", ""),
        ("intensity [%]", "intensity", "%"),
        ("angle [yd]", "angle", "yd"),
        ("distance_sigma", "distance_sigma", ""),
        ("target [name]", "target [name]", ""),
        ("angle (gon", "angle (gon", ""),
        ("", "", ""),
    ],
)
def test_a_column_and_its_unit(cell, name, unit):
    column = column_of(cell)
    assert (column.name, column.unit) == (name, unit)


def test_what_is_a_row_of_column_names():
    assert column_names("target;Distance (mm);angle [gon]").names == ["target", "distance", "angle"]
    assert column_names(",angle,distance").names == ["", "angle", "distance"]
    assert column_names('"angle","distance"').names == ["angle", "distance"]
    assert column_names("angle distance") is None
    assert column_names("rectangle,distance") is None
    assert column_names("the angle, then the distance") is None
    assert is_capture_text(b"angle [gon]\tdistance [m]\n")


@pytest.mark.parametrize("columns", ["angle [gon];distance (mm)", "angle/gon;distance_mm"])
def test_units_of_the_columns_make_the_keys_unnecessary(columns):
    capture = one(f"{TURN}{columns}\n100;2500\n")
    assert capture.angle_deg.tolist() == [90.0]
    assert capture.distance_m.tolist() == [2.5]


def test_keys_that_say_the_same_do_no_harm():
    survey = read_capture_text(
        f"# angle_unit: gon\n# distance_unit: mm\n{TURN}angle [gon],distance [mm]\n100,2500\n"
    )
    assert survey.captures[0].distance_m.tolist() == [2.5]
    assert survey.warnings == ()


def test_a_zenith_has_the_angle_s_unit_or_one_of_its_own():
    for columns, zenith in (
        ("zenith,angle [gon],distance [m]", 100.0 / 3),
        ("zenith [deg],angle [gon],distance [m]", 30.0),
        ("zenith [rad],angle [gon],distance [m]", np.pi / 6),
    ):
        capture = one(f"{TURN}{columns}\n{zenith!r},50,2\n,50,2\n")
        assert capture.zenith_deg == pytest.approx([30.0, 90.0])
        assert capture.distance_m == pytest.approx([1.0, 2.0])
        assert capture.angle_deg == pytest.approx([45.0, 45.0])


def test_a_zenith_in_radians_beyond_the_nadir_is_named_in_its_own_unit():
    with pytest.raises(SurveyError, match=r"zenith is '90' rad; expected 0 to 3\.14159, from the"):
        one(f"{TURN}angle [deg],distance [m],zenith [rad]\n1,2,90\n")


@pytest.mark.parametrize(
    ("key", "column", "message"),
    [
        (
            "angle_unit: deg",
            "angle [gon],distance [m]",
            "a.csv, line 3: the column 'angle [gon]' is in gon, but the key angle_unit says deg; "
            "expected one unit.",
        ),
        (
            "distance_unit: m",
            "angle [deg],distance (mm)",
            "a.csv, line 3: the column 'distance (mm)' is in mm, but the key distance_unit says m; "
            "expected one unit.",
        ),
        (
            "angle_unit: deg",
            "angle,distance [m],zenith [gon]",
            "a.csv, line 3: the column 'zenith [gon]' is in gon, but the key angle_unit says deg; "
            "expected one unit.",
        ),
        (
            "level: 1",
            "angle [grad],distance [m]",
            "a.csv, line 3: the column 'angle [grad]' states a unit that is not known; expected "
            "deg, gon or rad.",
        ),
        (
            "level: 1",
            "angle [deg],Distance [yd]",
            "a.csv, line 3: the column 'Distance [yd]' states a unit that is not known; expected "
            "m, cm, mm, ft or in.",
        ),
        (
            "level: 1",
            "angle [deg],angle [gon],distance [m]",
            "a.csv, line 3: the column angle is there twice; expected once.",
        ),
    ],
)
def test_units_that_contradict_each_other_are_named(key, column, message):
    text = f"# {key}\n{TURN}{column}\n1,2,3\n"
    with pytest.raises(SurveyError) as error:
        one(text)
    assert str(error.value) == message
    survey = read_capture_text(text, name="a.csv", skip_unreadable=True)
    assert message in survey.skipped
    assert not survey.captures


def test_the_parameter_wins_over_column_and_key_and_says_so():
    text = f"# angle_unit: rad\n{TURN}Angle [gon],distance [yd]\n90,5\n"
    survey = read_capture_text(text, name="a.csv", angle_unit="deg", distance_unit="ft")
    assert survey.captures[0].angle_deg.tolist() == [90.0]
    assert survey.captures[0].distance_m == pytest.approx([1.524])
    assert survey.warnings == (
        "a.csv, line 3: the column 'Angle [gon]' states a unit; deg was asked for and used.",
        "a.csv, line 1: angle_unit is rad in the file; deg was asked for and used.",
        "a.csv, line 3: the column 'distance [yd]' states a unit; ft was asked for and used.",
    )


def test_one_unit_in_a_column_leaves_the_other_to_its_key():
    with pytest.raises(SurveyError, match="the key distance_unit is missing"):
        one(f"{TURN}angle [gon],distance\n1,2\n")
