# SPDX-License-Identifier: GPL-2.0-or-later
"""What a run takes over from the one that made the earlier plan."""

from types import SimpleNamespace

import numpy as np
import pytest


@pytest.fixture
def earlier(qgis_app):
    """``earlier(scales, PARAMETER="JSON")``: a plan drawn at these scales, with these notes."""

    def plan(scales, **noted):
        notes = SimpleNamespace(of=lambda kind: [("", name, text) for name, text in noted.items()])
        walls = SimpleNamespace(plot_scale=np.array(scales))
        drawing = SimpleNamespace(drawing=SimpleNamespace(walls=walls))
        return SimpleNamespace(plan=SimpleNamespace(notes=notes, earlier=drawing))

    return plan


def test_what_is_given_comes_first_then_what_is_noted_then_what_is_drawn(earlier):
    from roomtie.processing.algorithms.remembered import with_remembered

    drawn = [200, 50, 50, 0]  # 0: a tolerance of its own, which is no plot scale
    given = {"SQUARE": None, "PLOT_SCALES": None, "DATE": "2026-03-18"}
    noted = {"SQUARE": '"never"', "DATE": '"2025-01-01"'}
    made = with_remembered(given, earlier(drawn, **noted))
    assert made == {"SQUARE": "never", "DATE": "2026-03-18", "PLOT_SCALES": ["1:50", "1:200"]}
    made = with_remembered({}, earlier(drawn, PLOT_SCALES='["1:20"]'))
    assert made == {"PLOT_SCALES": ["1:20"]}


def test_a_damaged_note_is_told(earlier):
    from roomtie.processing.algorithms.remembered import with_remembered
    from roomtie.processing.errors import SurveyError

    with pytest.raises(SurveyError, match="survey_notes: the parameter SQUARE is not what"):
        with_remembered({}, earlier([50], SQUARE="never"))
    assert with_remembered({"SQUARE": "never"}, earlier([50], SQUARE="{"))["SQUARE"] == "never"


def test_scales_that_do_not_go_on_are_told(earlier):
    from roomtie.processing.algorithms.remembered import about_scales

    assert about_scales(earlier([20, 50, 100]), (50, 100, 200)) == [
        "The earlier plan was drawn at 1:20 too, which this one is not; choose that in PLOT_SCALES "
        "to go on with it."
    ]
    assert about_scales(earlier([50, 100]), (50, 100, 200)) == []
