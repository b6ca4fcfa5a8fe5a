# SPDX-License-Identifier: GPL-2.0-or-later
"""What the instrument reports against its own capture is passed on."""

import pytest
from roomtie.processing.captures.capture_text import read_capture_text
from roomtie.processing.captures.reported import reported_remarks

HEADER = "# station: A\n# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"


@pytest.mark.parametrize(
    ("key", "said"),
    [
        (
            "tilt_deg: -2",
            "by 2 deg: at 10 m a distance may be 6 mm too long, and the beam is up to 0.35 m",
        ),
        ("compass_calibrated: no", "not calibrated"),
    ],
)
def test_each_fault_is_said(key, said):
    survey = read_capture_text(f"{HEADER}# {key}\nangle,distance\n0,1\n", name="a.csv")
    (remark,) = reported_remarks(survey.captures[0])
    assert said in remark.sentence


@pytest.mark.parametrize("key", ["tilt_deg: 0.2", "compass_calibrated: yes", "x: y"])
def test_nothing_is_said_when_all_is_well(key):
    survey = read_capture_text(f"{HEADER}# {key}\nangle,distance\n0,1\n", name="a.csv")
    assert reported_remarks(survey.captures[0]) == ()
