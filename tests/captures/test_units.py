# SPDX-License-Identifier: GPL-2.0-or-later
import numpy as np
import pytest
from roomtie.processing.captures.findings import Rules
from roomtie.processing.captures.units import (
    FULL_TURN,
    METRES,
    to_degrees,
    to_metres,
    unit_that_holds,
    within_full_turn,
)
from roomtie.processing.errors import SurveyError
from scipy import constants


def test_lengths_agree_with_the_constants_of_scipy():
    # scipy.constants takes inch and foot from NIST SP 811.
    assert METRES["in"] == constants.inch
    assert METRES["ft"] == pytest.approx(constants.foot, rel=1e-15)
    assert METRES["cm"] == constants.centi
    assert METRES["mm"] == constants.milli


@pytest.mark.parametrize(("unit", "turn"), [("deg", 360), ("gon", 400), ("rad", 2 * np.pi)])
def test_a_full_turn_is_360_degrees_in_every_unit(unit, turn):
    assert FULL_TURN[unit] == turn
    assert to_degrees(np.array([turn]), unit)[0] == pytest.approx(360.0, rel=1e-15)


def test_degrees_and_metres_pass_unchanged():
    values = np.array([0.1, 123.456])
    assert to_degrees(values, "deg") is values
    assert to_metres(values, "m") is values


def test_a_full_turn_rounded_up_is_within():
    assert within_full_turn(np.array([6.2832, -6.2832]), "rad").all()
    assert not within_full_turn(np.array([6.29]), "rad").any()


@pytest.mark.parametrize(
    ("largest", "unit", "looks_like"),
    [(399.9, "deg", "gon"), (-399.9, "deg", "gon"), (359.0, "rad", "deg"), (390.0, "rad", "gon")]
    + [(401.0, "gon", ""), (1e6, "deg", "")],
)
def test_unit_that_an_angle_fits_in(largest, unit, looks_like):
    assert unit_that_holds(largest, unit) == looks_like


@pytest.mark.parametrize("parameter", ["angle_unit", "distance_unit", "rotation"])
def test_unknown_parameter_values_are_named(parameter):
    with pytest.raises(SurveyError, match="is 'odd'; expected one of"):
        Rules(**{parameter: "odd"})
