# SPDX-License-Identifier: GPL-2.0-or-later
"""Columns of stations and readings back into what the stages take.

Errors name the layer and the feature by its station or reading.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

import numpy as np

from ..angles import Floats
from ..captures.model import Capture, Flag, Ints, Kind, Survey
from ..errors import SurveyError
from ..stations.model import Network, NetworkStatistics, Status, Targets, Ties
from . import schema
from .rows import MM, NAN, PPM

Columns = Mapping[str, Sequence[Any]]

READING_FIELDS = ("station", "seq", "angle_deg", "slope_distance_m", "distance_m", "kind", "flag")
OPTIONAL_READING_FIELDS = ("zenith_deg", "target", "intensity", "wall", "residual_mm")
STATION_FIELDS = ("station", "level")
POSE_FIELDS = ("x_m", "y_m", "orientation_deg", "network", "status")
OPTIONAL_STATION_FIELDS = tuple(
    name for name in schema.STATIONS.field_names if name not in (*STATION_FIELDS, *POSE_FIELDS)
)
TARGET_FIELDS = ("target", "x_m", "y_m", "sigma_x_mm", "sigma_y_mm", "cov_xy_mm2")
OPTIONAL_TARGET_FIELDS = ("sightings", "network", "level")
WORD_OF_FLAG = {flag.text: flag for flag in Flag}
WORD_OF_KIND = {kind.text: kind for kind in Kind}


def numbers(values: Sequence[Any], default: float = NAN) -> Floats:
    """A column of numbers; the default for NULL."""
    return np.array([default if v is None else float(v) for v in values], dtype=float)


def words(column: Sequence[Any], known: Mapping[str, int], where: str) -> np.ndarray:
    """A column of words as their codes; SurveyError on a word that is none of them."""
    try:
        return np.array([known[v or ""] for v in column], dtype=np.int64)
    except KeyError as error:
        raise SurveyError(
            f"{where}: found {error}, expected one of {', '.join(w for w in known if w)}."
        ) from None


def survey(stations: Columns, readings: Columns | None) -> Survey:
    """The survey of a stations layer and its readings layer (None: headers only).

    SurveyError on a station named twice, on a reading of an unknown station, on an unknown flag.
    """
    names = [str(name) for name in stations["station"]]
    repeated = sorted({name for name in names if names.count(name) > 1})
    if repeated:
        raise SurveyError(f"Layer stations: station {repeated[0]} stands there more than once.")
    rows = rows_by_station(names, readings)
    return Survey(
        tuple(_capture(stations, i, readings, rows[name]) for i, name in enumerate(names))
    )


def rows_by_station(names: Sequence[str], readings: Columns | None) -> dict[str, np.ndarray]:
    """The rows of each station in a readings layer, in the order of `seq`; SurveyError on a reading
    of a station that is not there."""
    if readings is None:
        return {name: np.empty(0, dtype=np.int64) for name in names}
    number = {name: place for place, name in enumerate(names)}
    of = np.array([number.get(str(name), -1) for name in readings["station"]], dtype=np.int64)
    if (of < 0).any():
        unknown = min(str(readings["station"][row]) for row in np.flatnonzero(of < 0))
        raise SurveyError(
            f"Layer readings: station {unknown} is not in the stations layer; expected one of "
            f"{', '.join(names[:8])}{' …' if len(names) > 8 else ''}."
        )
    return dict(zip(names, grouped(of, len(names), numbers(readings["seq"], 0.0))))


def grouped(number: Ints, count: int, order: Floats | None = None) -> list[Ints]:
    """The places of each of the numbers 0 to ``count`` - 1 among ``number (n,)``, ascending, or by
    the values of ``order (n,)``; other numbers are left out."""
    places = np.argsort(number, kind="stable") if order is None else np.lexsort((order, number))
    ends = np.searchsorted(number[places], np.arange(count + 1))
    return [places[start:stop] for start, stop in zip(ends, ends[1:])]


def _capture(stations: Columns, place: int, readings: Columns | None, rows: np.ndarray) -> Capture:
    def number(name: str) -> float:
        value = stations[name][place]
        return NAN if value is None else float(value)

    def yes_no(name: str) -> bool | None:
        value = stations[name][place]
        return None if value is None else bool(value)

    name = str(stations["station"][place])
    when = stations["captured_at"][place]
    try:
        captured_at = datetime.fromisoformat(when) if when else None
    except (TypeError, ValueError):
        raise SurveyError(
            f"Layer stations, station {name}: captured_at is {when!r}, expected an ISO 8601 time."
        ) from None

    def column(field: str, default: float = NAN) -> Floats:
        values = readings[field] if readings else ()
        return numbers([values[i] for i in rows], default)

    def texts(field: str) -> list[str]:
        values = readings[field] if readings else ()
        return [values[i] or "" for i in rows]

    where = f"Layer readings, station {name}"
    return Capture(
        station=name,
        capture_file=stations["capture_file"][place] or "",
        level=int(stations["level"][place] or 0),
        captured_at=captured_at,
        instrument_height_m=number("instrument_height_m"),
        tilt_deg=number("tilt_deg"),
        moved=yes_no("moved"),
        compass_calibrated=yes_no("compass_calibrated"),
        magnetic_azimuth_deg=number("magnetic_azimuth_deg"),
        magnetic_azimuth_sigma_deg=number("magnetic_azimuth_sigma_deg"),
        longitude_deg=number("longitude_deg"),
        latitude_deg=number("latitude_deg"),
        geotag_sigma_m=number("geotag_sigma_m"),
        ellipsoidal_height_m=number("ellipsoidal_height_m"),
        distance_sigma_m=number("distance_sigma_mm") / MM,
        angle_sigma_deg=number("angle_sigma_deg"),
        distance_zero_m=_or_zero(number("distance_zero_mm")) / MM,
        axis_eccentricity_m=_or_zero(number("axis_eccentricity_mm")) / MM,
        angle_scale=_or_zero(number("angle_scale_ppm")) / PPM,
        comment=stations["comment"][place] or "",
        seq=column("seq", 0.0).astype(np.int64),
        line=np.zeros(len(rows), dtype=np.int64),
        angle_deg=column("angle_deg"),
        zenith_deg=column("zenith_deg", 90.0),
        slope_distance_m=column("slope_distance_m"),
        distance_m=column("distance_m"),
        intensity=column("intensity"),
        kind=words(texts("kind"), WORD_OF_KIND, f"{where}, field kind"),
        flag=words(texts("flag"), WORD_OF_FLAG, f"{where}, field flag"),
        target=np.array(texts("target"), dtype=np.str_),
    )


def _or_zero(value: float) -> float:
    return value if np.isfinite(value) else 0.0


def network(
    stations: Columns, targets: Columns | None = None, covariance: Columns | None = None
) -> Network:
    """The network of an adjusted stations layer.

    Without the table of covariances the stations count as uncorrelated with each other, and
    direction with position. SurveyError when a station was not adjusted.
    """
    names = tuple(str(name) for name in stations["station"])
    status = []
    for name, word in zip(names, stations["status"]):
        if word not in {s.value for s in Status} or word == Status.AS_RECORDED.value:
            raise SurveyError(
                f"Layer stations, station {name}: status is {word!r}; expected adjusted stations, "
                "as Adjust stations makes them."
            )
        status.append(Status(word))
    group = numbers(stations["network"], 0.0).astype(np.int64)
    return Network(
        station=names,
        xy_m=np.column_stack([numbers(stations["x_m"]), numbers(stations["y_m"])]),
        orientation_rad=np.radians(numbers(stations["orientation_deg"])),
        covariance=_covariance(names, stations, covariance),
        network=group,
        status=tuple(status),
        ties=no_ties(),
        targets=_targets(targets),
        statistics=NetworkStatistics(1.0, 0, 0.0, 0.0, 0.0, 0, 0),
    )


def _covariance(names: Sequence[str], stations: Columns, covariance: Columns | None) -> Floats:
    n = len(names)
    full = np.zeros((n, 3, n, 3))
    sigma = np.column_stack(
        [
            numbers(stations["sigma_x_mm"]) / MM,
            numbers(stations["sigma_y_mm"]) / MM,
            np.radians(numbers(stations["sigma_orientation_deg"])),
        ]
    )
    across = numbers(stations["cov_xy_mm2"]) / MM**2
    for i in range(n):
        block = np.diag(sigma[i] ** 2)
        block[0, 1] = block[1, 0] = across[i]
        full[i, :, i, :] = block if np.isfinite(block).all() else np.nan
    if covariance is not None:
        place = {name: i for i, name in enumerate(names)}
        to_si = np.array([1 / MM, 1 / MM, np.radians(1.0)])
        fields = schema.NETWORK_COVARIANCE.field_names[2:]
        blocks = np.column_stack([numbers(covariance[f]) for f in fields]).reshape(-1, 3, 3)
        blocks = blocks * np.outer(to_si, to_si)
        for a, b, block in zip(covariance["station_a"], covariance["station_b"], blocks):
            if a in place and b in place:
                full[place[a], :, place[b], :] = block
                full[place[b], :, place[a], :] = block.T
    return full.reshape(3 * n, 3 * n)


def _targets(columns: Columns | None) -> Targets:
    if columns is None:
        return no_targets()
    sx, sy = numbers(columns["sigma_x_mm"]) / MM, numbers(columns["sigma_y_mm"]) / MM
    across = numbers(columns["cov_xy_mm2"]) / MM**2
    return Targets(
        name=tuple(str(name) for name in columns["target"]),
        xy_m=np.column_stack([numbers(columns["x_m"]), numbers(columns["y_m"])]),
        covariance_m2=np.stack([sx**2, across, across, sy**2], axis=-1).reshape(-1, 2, 2),
        sightings=numbers(columns["sightings"], 0.0).astype(np.int64),
        network=numbers(columns["network"], 1.0).astype(np.int64),
    )


def no_targets() -> Targets:
    """A list of targets without any."""
    none = np.empty(0, dtype=np.int64)
    return Targets((), np.empty((0, 2)), np.empty((0, 2, 2)), none, none)


def no_ties() -> Ties:
    """A list of ties without any."""
    none, whole = np.empty(0), np.empty(0, dtype=np.int64)
    return Ties((), (), whole, whole, whole, none, none, none, none, np.empty(0, dtype=bool), ())
