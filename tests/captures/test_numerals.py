# SPDX-License-Identifier: GPL-2.0-or-later
"""Numbers as people and programs write them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.captures.numerals import as_numbers, why_no_number


@given(st.lists(st.none() | st.floats(allow_nan=False, allow_infinity=False)), st.booleans())
def test_any_numbers_and_blanks(values, comma):
    cells = ["" if value is None else repr(value) for value in values]
    if comma:
        cells = [cell.replace(".", ",") for cell in cells]
    numbers, bad = as_numbers(cells, decimal_comma=True)
    np.testing.assert_array_equal(numbers, np.array(values, dtype=float))
    assert not bad.any()


@given(st.lists(st.text(max_size=8), max_size=8), st.booleans())
def test_only_what_holds_signs_of_numbers_is_one(cells, comma):
    numbers, bad = as_numbers(cells, comma)
    for cell, number, wrong in zip(cells, numbers, bad):
        own = cell.strip().replace("\N{MINUS SIGN}", "-")
        own = own.replace(",", ".") if comma else own
        try:
            expected = float(own) if own else np.nan
            fine = set(own) <= set("0123456789+-.eE")
        except ValueError:
            fine = False
        assert wrong == (not fine), cell
        if fine:
            np.testing.assert_equal(number, expected)


def test_spaces_and_the_minus_sign_of_printers():
    numbers, bad = as_numbers([" 1.5", "\u22122", "3\xa0", ""], decimal_comma=False)
    assert numbers.tolist()[:3] == [1.5, -2.0, 3.0]
    assert np.isnan(numbers[3])
    assert not bad.any()


def test_a_point_or_comma_beside_the_other_may_be_between_thousands():
    cells = ["1,5", "1.234", "2.5", "12,345", "999"]
    numbers, bad = as_numbers(cells, decimal_comma=True, both_signs=True)
    assert bad.tolist() == [False, True, False, True, False]
    assert numbers[~bad].tolist() == [1.5, 2.5, 999.0]


@pytest.mark.parametrize(
    ("cell", "comma", "words"),
    [
        ("1,234.5", False, "with a sign between thousands?"),
        ("1.234,5", True, "with a sign between thousands?"),
        ("12 345", True, "with a sign between thousands?"),
        ("12\u202f345,6", True, "with a sign between thousands?"),
        ("1'234.5", False, "with a sign between thousands?"),
        ("1,5", False, "a decimal comma needs semicolons or tabs"),
        ("2.5 m", False, "its unit belongs in the header"),
        ("90°", False, "its unit belongs in the header"),
        ("12°30'15\"", False, "minutes and seconds are not read"),
        ("12:30:15", False, "minutes and seconds are not read"),
        ("far", False, ""),
        ("1.2.3", False, ""),
        ("9" * 100 + ",", False, ""),
    ],
)
def test_what_was_meant_is_guessed(cell, comma, words):
    why = why_no_number(cell, comma)
    assert words in why
    assert bool(words) == bool(why)
