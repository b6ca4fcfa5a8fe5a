# SPDX-License-Identifier: GPL-2.0-or-later
"""What captures say of each other: copies, times, geotags, heights."""

from dataclasses import replace
from datetime import datetime, timedelta, timezone

import numpy as np
import pytest
from pyproj import Geod
from roomtie.processing.captures.checks_survey import SurveyChecks, check_survey
from roomtie.processing.captures.model import Flag, Survey
from simulated import capture_of, loop

ROOM = loop([(-2, -2), (3, -2), (3, 3), (-2, 3)])
START = datetime(2026, 4, 21, 9, 0, tzinfo=timezone.utc)
GEOD = Geod(ellps="WGS84")


def job(count=8, spacing_m=5.0, minutes=6):
    """Captures of a job without fault: a row of stations to the east, one every six minutes."""
    captures = []
    for number in range(count):
        rng = np.random.default_rng(number)
        capture, _ = capture_of(ROOM, (0, 0), rng=rng, readings=60, station=f"S{number + 1:02d}")
        lon, lat, _ = GEOD.fwd(8.0, 50.0, 90.0, spacing_m * number)
        captures.append(
            replace(
                capture,
                capture_file=f"{capture.station}.csv",
                captured_at=START + timedelta(minutes=minutes * number),
                longitude_deg=lon + 1e-5 * rng.standard_normal(),
                latitude_deg=lat + 1e-5 * rng.standard_normal(),
                geotag_sigma_m=3.0,
                ellipsoidal_height_m=140.0 + 4.0 * rng.standard_normal(),
                instrument_height_m=1.2,
            )
        )
    return captures


def findings(captures, latest=None):
    checks = SurveyChecks(latest)
    for capture in captures:
        checks.add(capture)
    return checks.findings()


def changed(index, **values):
    captures = job()
    captures[index] = replace(captures[index], **values)
    return captures


def told(captures, latest=None):
    return list(findings(captures, latest).warnings)


def test_a_job_without_fault():
    for count in (0, 1, 2, 8):
        assert told(job(count), latest=START + timedelta(days=1)) == []


def test_the_same_readings_under_another_name_are_flagged_and_told():
    captures = job()
    copy = replace(captures[2], station="S99", capture_file="copy.csv", comment="another header")
    survey = check_survey(Survey((*captures, copy), warnings=("before",)))
    assert survey.warnings[0] == "before"
    (warning,) = survey.warnings[1:]
    assert "S99 (copy.csv) holds the same readings as S03 (S03.csv)" in warning
    assert (survey.captures[-1].flag == Flag.DUPLICATE).all()
    assert survey.captures[-1].remarks[0].sentence == warning
    assert all(capture.usable.any() and not capture.remarks for capture in survey.captures[:-1])


def test_nothing_but_a_few_values_is_kept():
    checks = SurveyChecks()
    for capture in job():
        checks.add(capture)
    for setup in checks._setups:
        assert not any(isinstance(value, np.ndarray) for value in vars(setup).values())


def test_a_geotag_far_from_the_others():
    lon, lat, _ = GEOD.fwd(8.0, 50.0, 30.0, 3000.0)
    found = findings(changed(4, longitude_deg=lon, latitude_deg=lat, captured_at=None))
    (sentence,) = found.warnings
    assert "The geotag of S05 lies 3.0 km from the middle of the others" in sentence
    assert found.remarks["S05"][0].check == "geotag"
    assert set(found.remarks) == {"S05"}


def test_swapped_coordinates_and_no_fix():
    swapped = changed(4, longitude_deg=50.0, latitude_deg=8.0, captured_at=None)
    assert "S05" in told(swapped)[0]
    assert "likely swapped" in told(swapped)[0]
    (sentence,) = told(changed(4, longitude_deg=0.0, latitude_deg=0.0, captured_at=None))
    assert "0, 0" in sentence


def test_two_stations_alone():
    lon, lat, _ = GEOD.fwd(8.0, 50.0, 30.0, 5000.0)
    captures = job(2)
    captures[1] = replace(captures[1], longitude_deg=lon, latitude_deg=lat, captured_at=None)
    (sentence,) = told(captures)
    assert "S01 and S02 are 5.0 km apart" in sentence


def test_a_large_site_is_no_mistake():
    assert told(job(12, spacing_m=200.0)) == []


def test_a_height_above_sea_level():
    """The geoid lies 45 m above the ellipsoid in central Europe (EGM2008, from memory)."""
    (sentence,) = told(changed(3, ellipsoidal_height_m=95.0))
    assert "The ellipsoidal height of S04, 95.0 m, is 4" in sentence
    assert "above sea level?" in sentence


def test_levels_that_stand_upside_down():
    captures = [
        replace(c, level=int(i >= 4), ellipsoidal_height_m=140.0 - 25.0 * (i >= 4))
        for i, c in enumerate(job())
    ]
    (sentence,) = told(captures)
    assert "level 1 stand 25 m lower than those on level 0" in sentence
    proper = [
        replace(c, level=int(i >= 4), ellipsoidal_height_m=140.0 + 3.0 * (i >= 4))
        for i, c in enumerate(job())
    ]
    assert told(proper) == []


@pytest.mark.parametrize(
    ("height_m", "words"),
    [(120.0, "centimetres given as metres"), (1200.0, "millimetres"), (9.0, "is 9 m")],
)
def test_an_instrument_height_in_another_unit(height_m, words):
    (sentence,) = told(changed(1, instrument_height_m=height_m))
    assert words in sentence


def test_clocks_that_were_not_set():
    (sentence, *_) = told(changed(0, captured_at=START.replace(year=1980)))
    assert "S01" in sentence
    assert "clock was not set" in sentence
    late = changed(7, captured_at=START + timedelta(days=400))
    assert told(late) == []
    (sentence,) = told(late, latest=START + timedelta(days=1))
    assert "in the future" in sentence


def test_zones_in_some_files_only():
    captures = job()
    for index in (2, 5):
        at = captures[index].captured_at.replace(tzinfo=None)
        captures[index] = replace(captures[index], captured_at=at)
    (sentence,) = told(captures)
    assert "The times of S03 and S06 have no time zone" in sentence
    naive = [replace(c, captured_at=c.captured_at.replace(tzinfo=None)) for c in job()]
    assert told(naive) == []


def test_two_places_at_one_time():
    captures = job()
    captures[3] = replace(captures[3], captured_at=captures[2].captured_at)
    (sentence,) = told(captures)
    assert "S03 and S04 were captured at the same time, 2026-04-21 09:12:00+00:00" in sentence


def test_the_same_time_in_another_zone():
    captures = job()
    zone = timezone(timedelta(hours=2))
    captures[3] = replace(captures[3], captured_at=captures[2].captured_at.astimezone(zone))
    assert "S03 and S04 were captured at the same time" in told(captures)[0]


def test_days_without_a_time_may_be_the_same():
    day = [replace(c, captured_at=datetime(2026, 4, 21)) for c in job()]
    assert told(day) == []


def test_a_distance_that_nobody_walks_in_the_time():
    captures = job(spacing_m=120.0)
    at = captures[4].captured_at + timedelta(seconds=20)
    captures[5] = replace(captures[5], captured_at=at)
    (sentence,) = told(captures)
    assert "S05 and S06 lie 119 m apart" in sentence
    assert "within 20 s" in sentence


def test_times_out_of_the_order_of_numbers():
    captures = job()
    at = captures[6].captured_at + timedelta(minutes=2)
    captures[1] = replace(captures[1], captured_at=at)
    (sentence,) = told(captures)
    assert "The times of S02 are out of the order" in sentence


def test_a_name_of_very_many_digits_is_no_number():
    captures = [replace(c, station=f"{'1' * 100_000}a{k}") for k, c in enumerate(job())]
    assert told(captures) == []
    captures = [replace(c, station=f"a{'1' * 100_000}{k}b") for k, c in enumerate(job())]
    assert told(captures) == []


def test_stations_numbered_in_no_order_are_no_mistake():
    captures = job()
    order = [3, 7, 1, 0, 6, 2, 5, 4]
    captures = [
        replace(c, captured_at=START + timedelta(minutes=6 * n)) for c, n in zip(captures, order)
    ]
    assert told(captures) == []


def test_the_order_of_captures_changes_nothing_in_what_is_told():
    captures = changed(3, ellipsoidal_height_m=95.0, instrument_height_m=130.0)
    captures[5] = replace(captures[5], captured_at=captures[4].captured_at)
    assert sorted(told(captures)) == sorted(told(captures[::-1]))
