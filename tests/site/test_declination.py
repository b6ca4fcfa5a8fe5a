# SPDX-License-Identifier: GPL-2.0-or-later
"""Declination against the published test values of the World Magnetic Model and against IGRF-14."""

import math
import subprocess
import sys
from datetime import date, datetime, timedelta

import numpy as np
import ppigrf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from roomtie.processing.errors import SurveyError
from roomtie.processing.site import declination as module
from roomtie.processing.site.declination import magnetic_field
from roomtie.tests.site.wmm2025 import PUBLISHED

HALF_DAY = 0.5 / 365
"""Test years such as 2025.5 are no whole days in 2025; the nearest day is half a day off at most,
which the largest published rates (2.5 deg a year near the pole) turn into 0.004 deg."""


def day_of(year: float) -> date:
    start = date(int(year), 1, 1)
    length = (date(int(year) + 1, 1, 1) - start).days
    return start + timedelta(days=round((year - int(year)) * length))


@pytest.mark.parametrize("row", PUBLISHED)
def test_published_values_of_wmm2025(row):
    year, height_km, latitude, longitude, expected, horizontal = row
    field = magnetic_field(longitude, latitude, height_km * 1000, day_of(year))
    assert math.degrees(field.declination_rad) == pytest.approx(expected, abs=0.005 + 0.004)
    assert field.horizontal_nt == pytest.approx(horizontal, abs=0.5)
    assert field.model == "WMM2025"


def test_all_published_values(shared_data):
    table = np.loadtxt(shared_data("geomag") / "WMM2025_TEST_VALUES.txt")
    assert len(table) == 100
    for year, height_km, latitude, longitude, expected, *rest in table:
        field = magnetic_field(longitude, latitude, height_km * 1000, day_of(year))
        # Printed to 0.01 deg; plus half a day of the published rate of change.
        tolerance = 0.005 + abs(rest[6]) * HALF_DAY + 1e-9
        assert math.degrees(field.declination_rad) == pytest.approx(expected, abs=tolerance)
        assert field.horizontal_nt == pytest.approx(rest[1], abs=abs(rest[8]) * HALF_DAY + 1e-3)


@pytest.mark.parametrize(
    ("year", "tolerance_deg"), [(2011, 0.06), (2016, 0.06), (2022, 0.25), (2026, 0.05), (2029, 0.1)]
)
@pytest.mark.parametrize(
    ("longitude", "latitude"), [(14.5, 46.05), (-74.0, 40.7), (18.5, -33.9), (174.8, -41.3)]
)
def test_igrf_agrees(year, tolerance_deg, longitude, latitude):
    """IGRF-14 (ppigrf) is another model from other data and processing: the two differ by
    hundredths of a degree at these latitudes; more at the end of WMM2020, which was a prediction
    that IGRF-14 corrects (0.22 deg in South Africa, where the field changes fastest)."""
    on = date(year, 7, 1)
    east, north, _ = ppigrf.igrf(longitude, latitude, 0.2, datetime(year, 7, 1))
    reference = math.degrees(math.atan2(float(np.squeeze(east)), float(np.squeeze(north))))
    field = magnetic_field(longitude, latitude, 200.0, on)
    assert math.degrees(field.declination_rad) == pytest.approx(reference, abs=tolerance_deg)
    assert abs(math.degrees(field.declination_rad) - reference) < math.degrees(field.sigma_rad)
    assert field.model == f"WMM{year - year % 5}"


def test_uncertainty_is_the_models_own():
    """WMM2025 error model: sqrt(0.26^2 + (5417 / H)^2) degrees (technical report; from memory, as
    pygeomag's calculate_uncertainty has it)."""
    field = magnetic_field(14.5, 46.05, 300.0, date(2026, 3, 18))
    expected = math.sqrt(0.26**2 + (5417 / field.horizontal_nt) ** 2)
    assert math.degrees(field.sigma_rad) == pytest.approx(expected, rel=1e-12)
    earlier = magnetic_field(14.5, 46.05, 300.0, date(2022, 3, 18))
    expected = math.sqrt(0.26**2 + (5625 / earlier.horizontal_nt) ** 2)
    assert math.degrees(earlier.sigma_rad) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("year", [2015, 2020, 2025])
def test_epochs_follow_each_other_without_a_step(year):
    """The last day of an epoch and the first of the next: models made five years apart from other
    data agree to well within their standard errors at middle latitudes."""
    before = magnetic_field(14.5, 46.05, 300.0, date(year - 1, 12, 31))
    after = magnetic_field(14.5, 46.05, 300.0, date(year, 1, 1))
    assert before.model != after.model
    assert abs(before.declination_rad - after.declination_rad) < 0.5 * after.sigma_rad


@pytest.mark.parametrize("on", [date(2009, 12, 31), date(2030, 1, 1)])
def test_dates_outside_the_models_are_refused(on):
    with pytest.raises(SurveyError, match=r"2010-01-01 to 2029-12-31"):
        magnetic_field(14.5, 46.05, 300.0, on)


@pytest.mark.parametrize("on", [date(2010, 1, 1), date(2029, 12, 31), date(2024, 12, 31)])
def test_the_first_and_the_last_day_work(on):
    assert math.isfinite(magnetic_field(14.5, 46.05, 300.0, on).declination_rad)


@pytest.mark.parametrize(
    "place",
    [(14.5, 91.0, 0.0), (math.nan, 46.0, 0.0), (14.5, 46.0, math.nan), (14.5, 46.0, 1e7)],
)
def test_what_is_no_place_is_refused(place):
    with pytest.raises(SurveyError, match="not a place"):
        magnetic_field(*place, date(2026, 1, 1))


def test_zones_of_weak_horizontal_field_are_warned():
    """Published rows: H = 1504 nT at 89 N 121 W (blackout zone), 2164 nT at 80 N 96 W (caution)."""
    black = magnetic_field(-121, 89, 28e3, date(2025, 1, 1))
    assert "blackout zone" in black.warning
    assert math.degrees(black.sigma_rad) > 3
    caution = magnetic_field(-96, 80, 48e3, date(2025, 1, 1))
    assert "caution zone" in caution.warning
    assert magnetic_field(14.5, 46.05, 300.0, date(2026, 3, 18)).warning == ""


@settings(max_examples=30, deadline=None)
@given(st.floats(-180, 180), st.floats(-90, 90), st.dates(date(2010, 1, 1), date(2029, 12, 31)))
def test_everywhere_finite_and_within_a_half_turn(longitude, latitude, on):
    field = magnetic_field(longitude, latitude, 0.0, on)
    assert -math.pi <= field.declination_rad <= math.pi
    assert 0 < field.sigma_rad <= math.pi


def test_without_the_package_the_bundled_one_is_loaded(tmp_path):
    """In a process of its own: the installed package is hidden, a bundle stands in its place."""
    bundle = tmp_path / "pygeomag"
    bundle.mkdir()
    (bundle / "__init__.py").write_text("from pygeomag.inner import GeoMag\n", encoding="utf-8")
    (bundle / "inner.py").write_text(
        "class GeoMag:\n"
        "    def __init__(self, base_year): self.year = base_year\n"
        "    def calculate(self, **place):\n"
        "        return type('R', (), {'d': 12.5, 'h': 20000.0})()\n",
        encoding="utf-8",
    )
    program = f"""
import importlib.util, math, sys
from pathlib import Path
root = {str(module.BUNDLED.parent.parent.parent.parent)!r}
spec = importlib.util.spec_from_file_location(
    "roomtie", root + "/__init__.py", submodule_search_locations=[root])
package = importlib.util.module_from_spec(spec)
sys.modules["roomtie"] = package
spec.loader.exec_module(package)
sys.modules["pygeomag"] = None
from datetime import date
from roomtie.processing.errors import SurveyError
from roomtie.processing.site import declination as module
module.BUNDLED = Path({str(tmp_path / "absent" / "__init__.py")!r})
try:
    module.magnetic_field(14.5, 46.0, 0.0, date(2026, 1, 1))
except SurveyError as error:
    print(error)
module.BUNDLED = Path({str(bundle / "__init__.py")!r})
print(math.degrees(module.magnetic_field(14.5, 46.0, 0.0, date(2026, 1, 1)).declination_rad))
"""
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False, cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr
    refused, value = done.stdout.splitlines()
    assert "pip install pygeomag" in refused
    assert float(value) == pytest.approx(12.5)
