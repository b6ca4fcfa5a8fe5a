# SPDX-License-Identifier: GPL-2.0-or-later
"""Magnetic declination from the World Magnetic Model, with the model's own uncertainty."""

from __future__ import annotations

import importlib
import importlib.util
import math
import sys
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from types import ModuleType

from ..errors import SurveyError

BUNDLED = Path(__file__).resolve().parent.parent / "bundled" / "pygeomag" / "__init__.py"
FIRST_YEAR, LAST_YEAR = 2010, 2029

BLACKOUT_NT = 2000.0
CAUTION_NT = 6000.0

# (constant in degrees, numerator in degrees x nT) of sigma_D = sqrt(constant^2 + (numerator/H)^2).
ERROR_MODEL = {
    2010: (0.26, 5625.0),
    2015: (0.23, 5430.0),
    2020: (0.26, 5625.0),
    2025: (0.26, 5417.0),
}


@dataclass(frozen=True)
class MagneticField:
    """Declination with its 1-sigma error (radians, magnetic north east of true north positive),
    the horizontal intensity (nT), the model's name, and what to warn of (empty: nothing)."""

    declination_rad: float
    sigma_rad: float
    horizontal_nt: float
    model: str
    warning: str


def magnetic_field(
    longitude_deg: float, latitude_deg: float, height_m: float, on: date
) -> MagneticField:
    """The field's direction at a place (WGS 84 degrees, metres above the ellipsoid) on a date.

    The model is the epoch of the World Magnetic Model that holds the date (2010, 2015, 2020, 2025),
    evaluated by pygeomag. The standard error is the error model of the WMM technical reports,
    sigma_D = sqrt(c^2 + (n / H)^2) degrees with H in nT, which contains the crustal field that the
    model leaves out: WMM2025 c = 0.26, n = 5417; WMM2020 0.26, 5625; WMM2015 0.23, 5430 (values
    from memory of those reports; pygeomag's ``calculate_uncertainty`` carries the same). For
    WMM2010 no such formula is known to us: the widest of the three is taken, an assumption. It does
    not contain iron in the building.

    Raises SurveyError when the place is no place, when the date is outside 2010 to 2029, or when
    pygeomag is missing.
    """
    if not (abs(latitude_deg) <= 90 and abs(longitude_deg) <= 360 and -1e4 <= height_m <= 8.5e5):
        raise SurveyError(
            f"Magnetic declination: longitude {longitude_deg:g}, latitude {latitude_deg:g}, height "
            f"{height_m:g} m is not a place on the earth; expected degrees and metres above the "
            "ellipsoid."
        )
    if not FIRST_YEAR <= on.year <= LAST_YEAR:
        raise SurveyError(
            f"Magnetic declination: the date {on.isoformat()} is outside the models at hand; "
            f"expected a date from {FIRST_YEAR}-01-01 to {LAST_YEAR}-12-31."
        )
    epoch = on.year - on.year % 5
    model = _model(epoch)
    result = model.calculate(
        glat=float(latitude_deg), glon=float(longitude_deg), alt=height_m / 1000, time=_year(on)
    )
    constant, numerator = ERROR_MODEL[epoch]
    sigma_deg = min(math.hypot(constant, numerator / max(result.h, 1e-9)), 180.0)
    name = f"WMM{epoch}"
    return MagneticField(
        declination_rad=math.radians(result.d),
        sigma_rad=math.radians(sigma_deg),
        horizontal_nt=float(result.h),
        model=name,
        warning=_zone(result.h, sigma_deg, name),
    )


def _zone(horizontal_nt: float, sigma_deg: float, model: str) -> str:
    """The warning of the model's blackout and caution zones (WMM technical report)."""
    if horizontal_nt >= CAUTION_NT:
        return ""
    zone, limit, advice = (
        ("blackout zone", BLACKOUT_NT, "compass bearings are worthless here")
        if horizontal_nt < BLACKOUT_NT
        else ("caution zone", CAUTION_NT, "compass bearings are weak here")
    )
    return (
        f"The place lies in the {zone} of {model}: horizontal intensity {horizontal_nt:.0f} nT is "
        f"under {limit:.0f} nT, declination known to {sigma_deg:.1f} degrees only; {advice}."
    )


def _year(on: date) -> float:
    """The date as a decimal year, as the model counts time."""
    start = date(on.year, 1, 1)
    return on.year + (on - start).days / (date(on.year + 1, 1, 1) - start).days


@cache
def _model(epoch: int):  # type: ignore[no-untyped-def]
    return _pygeomag().GeoMag(base_year=epoch)


def _pygeomag() -> ModuleType:
    """The installed package, else the one bundled into the release zip.

    The bundled one is loaded under its own name, since its modules import each other by it.
    """
    try:
        return importlib.import_module("pygeomag")
    except ImportError:
        pass
    if not BUNDLED.exists():
        raise SurveyError(
            "Magnetic declination needs the Python package pygeomag, which is neither installed "
            "nor bundled with this copy of the plugin: install it (python3 -m pip install "
            "pygeomag), use the release zip, or leave the compass bearings out."
        )
    spec = importlib.util.spec_from_file_location(
        "pygeomag", BUNDLED, submodule_search_locations=[str(BUNDLED.parent)]
    )
    if spec is None or spec.loader is None:
        raise SurveyError(f"Magnetic declination: the bundled package at {BUNDLED} cannot be read.")
    module = importlib.util.module_from_spec(spec)
    sys.modules["pygeomag"] = module
    try:
        spec.loader.exec_module(module)
    except ImportError as error:
        del sys.modules["pygeomag"]
        raise SurveyError(
            f"Magnetic declination: the bundled package pygeomag is incomplete ({error}); install "
            "the release zip anew."
        ) from error
    return module
