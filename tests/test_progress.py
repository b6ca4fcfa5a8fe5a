# SPDX-License-Identifier: GPL-2.0-or-later
"""Progress and cancel while a library works."""

import threading
import time

import pytest
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.progress import SILENT, Progress


def test_what_a_call_gives_is_handed_on():
    assert SILENT.hearing(lambda: 7) == 7


def test_what_a_call_raises_is_handed_on():
    def fails():
        raise SurveyError("no")

    with pytest.raises(SurveyError, match="no"):
        SILENT.hearing(fails)


def test_a_cancel_is_heard_while_a_call_goes_on():
    ends = threading.Event()
    asked = []

    def cancelled():
        asked.append(time.monotonic())
        return len(asked) == 2

    try:
        with pytest.raises(Cancelled):
            # Without the cancel it would go on for a minute.
            Progress(cancelled=cancelled).hearing(lambda: ends.wait(60.0))
        assert len(asked) == 2
    finally:
        ends.set()
