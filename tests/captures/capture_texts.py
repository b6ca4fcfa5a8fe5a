# SPDX-License-Identifier: GPL-2.0-or-later
"""Capture texts written down for tests, and the one capture of a text."""

from roomtie.processing.captures.capture_text import read_capture_text

HEADER = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"
START = HEADER + "angle,distance\n"  # the first reading is on line 5


def one(text, **rules):
    survey = read_capture_text(text, **rules)
    assert len(survey) == 1
    return survey.captures[0]


def rows(columns, *lines, header=HEADER):
    return header + "\n".join([columns, *lines]) + "\n"
