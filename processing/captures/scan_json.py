# SPDX-License-Identifier: GPL-2.0-or-later
"""Laser scan JSON: the fields of the open ``sensor_msgs/LaserScan`` message, and header values
under ``"capture"``.

By the message's definition angles are radians counterclockwise, ranges metres, and a range below
`range_min` or above `range_max` is to be discarded; infinite and NaN ranges are no return (REP 117
of the same project).
"""

from __future__ import annotations

import json
from hashlib import sha256
from math import isfinite, pi
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from ..angles import Floats
from ..progress import SILENT, Progress
from .findings import Findings, shown
from .header import Header
from .model import Capture, Flag, Kind, Survey
from .readings import RawReadings, to_capture
from .units import within_full_turn

_FIXED = {"angle_unit": "rad", "distance_unit": "m", "rotation": "counterclockwise"}
_OPENINGS = (b"{", b"[")
_REACH = "a number of metres, or Infinity, NaN or null where nothing came back"


class _Unusable(Exception):
    """A scan that cannot be read, with the sentence that says why."""


def is_scan_json(data: bytes) -> bool:
    """Whether the first part of a file looks like a laser scan."""
    start = data.lstrip(b"\xef\xbb\xbf \t\r\n")
    named = b'"ranges"' in data or b'"angle_increment"' in data
    return start.startswith(_OPENINGS) and named


def read_scan_json(
    source: Path | bytes,
    *,
    name: str | None = None,
    skip_unreadable: bool = False,
    progress: Progress = SILENT,
) -> Survey:
    """The captures of a file with one laser scan, or with a list of them.

    Raises `SurveyError` naming the file, the scan and the value; with `skip_unreadable` what cannot
    be read is left out and told in `Survey.skipped`. The line of a reading is 0: scans have none.
    """
    data = source.read_bytes() if isinstance(source, Path) else source
    if name is None:
        name = source.name if isinstance(source, Path) else "scan"
    findings = Findings(name, skip_unreadable)
    captures: list[Capture] = []
    scans = _scans(data, findings)
    for index, scan in enumerate(progress.over(scans)):
        place = f"scan {index + 1}: " if len(scans) > 1 else ""
        try:
            captures.append(_capture(scan, place, findings))
        except _Unusable as problem:
            findings.bad(f"{place}{problem}")
    return Survey(
        tuple(captures),
        tuple(findings.skipped),
        tuple(findings.warnings),
        MappingProxyType({name: sha256(data).hexdigest()}),
    )


def _scans(data: bytes, findings: Findings) -> list[Any]:
    try:
        content = json.loads(data.decode("utf-8-sig"))
    except json.JSONDecodeError as error:
        findings.bad(f"the file is no JSON ({error.msg}).", error.lineno)
        return []
    except (UnicodeDecodeError, RecursionError):
        findings.bad("the file is no JSON (UTF-8); expected a laser scan.")
        return []
    scans = content if isinstance(content, list) else [content]
    if not scans:
        findings.bad("the list is empty; expected laser scans.")
    return scans


def _capture(scan: Any, place: str, findings: Findings) -> Capture:
    if not isinstance(scan, dict):
        raise _Unusable(f"found {shown(json.dumps(scan))}; expected an object with ranges.")
    ranges = scan.get("ranges")
    if not isinstance(ranges, list) or not ranges:
        raise _Unusable("ranges is missing or empty; expected a list of numbers.")
    first, step = _number(scan, "angle_min"), _number(scan, "angle_increment")
    if step == 0.0:
        raise _Unusable("angle_increment is 0; expected a number of radians.")
    angle = first + step * np.arange(len(ranges))
    if not within_full_turn(angle, "rad").all():
        raise _Unusable(
            f"the angles run from {angle[0]:g} to {angle[-1]:g} rad; expected -{2 * pi:g} to "
            f"{2 * pi:g}, one full turn either way (check angle_min, angle_increment)."
        )
    last: Any = scan.get("angle_max")
    if _is_number(last) and abs(angle[-1] - float(last)) > 1.5 * abs(step):
        findings.warn(f"{place}angle_max is {last}, but the last range lies at {angle[-1]:g} rad.")

    distance, good = _distances(ranges, "ranges", place, findings)
    distance[~(np.isfinite(distance) & (distance != 0.0))] = np.nan
    intensity = np.full(len(ranges), np.nan)
    intensities = scan.get("intensities")
    if isinstance(intensities, list) and len(intensities) == len(ranges):
        intensity = np.array([float(v) if _is_number(v) else np.nan for v in intensities])
        intensity[~np.isfinite(intensity)] = np.nan

    count = int(good.sum())
    raw = RawReadings(
        angle=angle[good],
        distance=distance[good],
        zenith=None,
        kind=np.full(count, int(Kind.RING), dtype=np.int64),
        target=np.full(count, "", dtype="<U1"),
        intensity=intensity[good],
        line=np.zeros(count, dtype=np.int64),
    )
    if not count:
        raise _Unusable("no range can be read.")
    capture = to_capture(
        raw,
        _header(scan.get("capture", {}), findings),
        capture_file=findings.file,
        default_station=Path(findings.file).stem,
        angle_unit=_FIXED["angle_unit"],
        distance_unit=_FIXED["distance_unit"],
        rotation=_FIXED["rotation"],
    )
    # What the instrument itself says is out of its range was measured all the same.
    if "range_min" in scan:
        capture = capture.with_flags(raw.distance < _number(scan, "range_min"), Flag.TOO_NEAR)
    if _is_number(scan.get("range_max")):
        capture = capture.with_flags(raw.distance > float(scan["range_max"]), Flag.TOO_FAR)
    return capture


def _header(values: Any, findings: Findings) -> Header:
    if not isinstance(values, dict):
        raise _Unusable(f"capture is {shown(json.dumps(values))}; expected an object.")
    header = Header()
    for key, value in values.items():
        if isinstance(value, bool):
            value = "yes" if value else "no"
        text = "" if value is None else value if isinstance(value, str) else json.dumps(value)
        fixed = _FIXED.get(key.lower())
        if fixed and text.lower() != fixed:
            raise _Unusable(f"{key} is {shown(text)}; a laser scan has {fixed} by definition.")
        header.add(key.strip(), " ".join(text.split()), findings)
    header.check_geotag(findings)
    return header


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _number(scan: dict[str, Any], name: str) -> float:
    value: Any = scan.get(name)
    if not _is_number(value) or not isfinite(value):
        found = "missing" if name not in scan else shown(json.dumps(value))
        raise _Unusable(f"{name} is {found}; expected a number.")
    return float(value)


def _distances(
    values: list[Any], name: str, place: str, findings: Findings
) -> tuple[Floats, np.ndarray]:
    """Distances ``(n,)`` in metres, NaN for null, and which ones can be read."""
    distance = np.full(len(values), np.nan)
    good = np.ones(len(values), dtype=bool)
    for index, value in enumerate(values):
        if value is None:
            continue
        # Minus infinity is "nearer than can be measured": no return either.
        if not _is_number(value) or -np.inf < value < 0:
            found = shown(json.dumps(value))
            findings.bad(f"{place}{name}[{index}] is {found}; expected {_REACH}.")
            good[index] = False
            continue
        distance[index] = value
    return distance, good
