# SPDX-License-Identifier: GPL-2.0-or-later
"""What must hold whatever a file has in it: a survey that is whole, or one clear sentence."""

import numpy as np
from mutations import CAPTURE_TEXT, PROFILE
from reading_only import read_captures
from roomtie.processing.captures.model import Flag, Kind
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.errors import SurveyError

LONGEST_SENTENCE = 600
GOOD = CAPTURE_TEXT.replace("Küche 2", "the good one").encode()
_GIVEN = {"angle_unit": "deg", "distance_unit": "m", "rotation": "clockwise"}


def attempt(folder, name, data, given=False, skip=False, checks=False, profile=None):
    """Read a file with these bytes: the survey, or the sentence that says why not. A profile is
    among the kept ones unless it is asked for."""
    path = folder / name
    path.write_bytes(data)
    reading = import_captures if checks else read_captures
    rules = _GIVEN if given else {}
    rules = {**rules, "profile": profile, "profiles": (PROFILE,), "skip_unreadable": skip}
    try:
        survey = reading(path, **rules)
    except SurveyError as error:
        check_sentence(str(error), name)
        return str(error)
    check_survey(survey, name)
    return survey


def attempt_beside_a_good_one(folder, name, data, checks=False):
    """Read a folder with this file and a good one, skipping: the good one is there, and whole."""
    (folder / name).write_bytes(data)
    (folder / "the good one.csv").write_bytes(GOOD)
    reading = import_captures if checks else read_captures
    survey = reading(folder, skip_unreadable=True, profiles=(PROFILE,))
    check_survey(survey, None)
    good = survey.captures[survey.index("the good one")]
    assert len(good) == 82
    return survey


def check_sentence(sentence, name):
    assert sentence.startswith(name), sentence
    assert sentence.isprintable(), sentence
    assert sentence.endswith((".", "?")), sentence
    assert len(sentence) <= LONGEST_SENTENCE, sentence


def check_survey(survey, name):
    assert survey.captures
    assert len(set(survey.names)) == len(survey)
    for sentence in (*survey.skipped, *survey.warnings):
        assert "\n" not in sentence, sentence
        assert len(sentence) <= 4 * LONGEST_SENTENCE, sentence
    for capture in survey.captures:
        check_capture(capture)
        assert name is None or capture.capture_file == name


def check_capture(capture):
    count = len(capture)
    assert count > 0
    for column in ("angle_deg", "zenith_deg", "slope_distance_m", "distance_m", "kind", "target"):
        assert getattr(capture, column).shape == (count,), column
    assert np.isfinite(capture.angle_deg).all()
    assert (np.abs(capture.angle_deg) < 380.0).all()
    assert ((capture.zenith_deg >= 0.0) & (capture.zenith_deg < 180.1)).all()
    assert not np.isinf(capture.distance_m).any()
    returned = ~np.isnan(capture.slope_distance_m)
    assert (capture.flag[~returned] == Flag.NO_RETURN).all()
    assert ((capture.target == "") == (capture.kind == Kind.RING)).all()
    assert capture.station.encode()
    assert all(f"{key}{value}".encode() is not None for key, value in capture.other.items())
