# SPDX-License-Identifier: GPL-2.0-or-later
"""Words are as written until a host translates them."""

import pytest
from roomtie.processing import words


@pytest.fixture
def german():
    words.speak({"1 station": "1 Standpunkt", "{count} stations": "{count} Standpunkte"}.get)
    yield
    words.speak()


def test_without_a_host_words_are_as_written():
    assert words.word("{count} stations", count=3) == "3 stations"


def test_a_host_s_words_come_with_the_values(german):
    assert words.word("{count} stations", count=3) == "3 Standpunkte"
    assert words.word("1 station") == "1 Standpunkt"
