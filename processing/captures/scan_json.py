# SPDX-License-Identifier: GPL-2.0-or-later
"""Laser scan JSON: the fields of the open ``sensor_msgs/LaserScan`` message, and header values
under ``"capture"``.

By the message's definition angles are radians counterclockwise, ranges metres, and a range below
`range_min` or above `range_max` is to be discarded; infinite and NaN ranges are no return (REP 117
of the same project).
"""

from __future__ import annotations

import json
import re
from hashlib import sha256
from math import isfinite, pi
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from ..angles import Floats
from ..progress import SILENT, Progress
from .decoding import UTF_16_MARKS, head_text
from .findings import Findings, shown
from .header import Header
from .model import Capture, Flag, Kind, Survey
from .readings import RawReadings, to_capture
from .units import within_full_turn

_FIXED = {"angle_unit": "rad", "distance_unit": "m", "rotation": "counterclockwise"}
_OPENINGS = ("{", "[")
_NAMES = ('"ranges"', '"angle_increment"', '"angle_min"', '"range_max"')
_CONTROL = re.compile(r"[\x00-\x1f\x7f]")
_REACH = "a number of metres, or Infinity, NaN or null where nothing came back"


class _Unusable(Exception):
    """A scan that cannot be read, with the sentence that says why."""


def is_scan_json(data: bytes) -> bool:
    """Whether the first part of a file looks like a laser scan."""
    text = head_text(data)
    return text.lstrip().startswith(_OPENINGS) and any(name in text for name in _NAMES)


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
        findings.part = f"scan {index + 1}" if len(scans) > 1 else ""
        try:
            captures.append(_capture(scan, findings))
        except _Unusable as problem:
            findings.bad(str(problem))
    return Survey(
        tuple(captures),
        tuple(findings.skipped),
        tuple(findings.warnings),
        MappingProxyType({name: sha256(data).hexdigest()}),
    )


class _Object(dict[str, Any]):
    """A JSON object; `twice` names a key that it holds twice, with different values."""

    twice: str | None = None


def _object(pairs: list[tuple[str, Any]]) -> _Object:
    content = _Object(pairs)
    if len(content) != len(pairs):
        # NaN is another value than NaN, but the same one here.
        differs = (k for k, v in pairs if content[k] is not v and content[k] != v)
        content.twice = next(differs, None)
    return content


def _integer(digits: str) -> int | float:
    # No reading needs more digits than a float holds, and Python refuses very many.
    return int(digits) if len(digits) < 16 else float(digits)


def _scans(data: bytes, findings: Findings) -> list[Any]:
    if not data.strip(b"\xef\xbb\xbf \t\r\n"):
        findings.bad("the file is empty; expected a laser scan.")
        return []
    try:
        codec = "utf-16" if data.startswith(UTF_16_MARKS) else "utf-8-sig"
        text = data.decode(codec)
        content = json.loads(text, object_pairs_hook=_object, parse_int=_integer)
    except json.JSONDecodeError as error:
        findings.bad(_what_is_wrong(error), error.lineno)
        return []
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        findings.bad("the file is no UTF-8 text, as JSON is; expected a laser scan.", line)
        return []
    except RecursionError:
        findings.bad("the file nests lists or objects too deep; expected a laser scan.")
        return []
    scans = content if isinstance(content, list) else [content]
    if not scans:
        findings.bad("the list is empty; expected laser scans.")
    return scans


def _what_is_wrong(error: json.JSONDecodeError) -> str:
    rest = error.doc[error.pos :].strip()
    if error.msg == "Extra data":
        return (
            f"found {shown(rest[:60])} after the end of the scan; expected one laser scan, or "
            "several in a list: [scan, scan]."
        )
    if not rest:
        return "the file ends within the scan. Is it cut off?"
    return f"the file is no JSON here ({error.msg}); found {shown(rest[:60])}."


def _quoted(value: Any) -> str:
    """A value as it is quoted in a message."""
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return "a list"
    return shown(json.dumps(value))


def _capture(scan: Any, findings: Findings) -> Capture:
    if not isinstance(scan, _Object):
        raise _Unusable(f"found {_quoted(scan)}; expected an object with ranges.")
    _check_keys(scan)
    ranges = scan.get("ranges")
    if not isinstance(ranges, list) or not ranges:
        raise _Unusable("ranges is missing or empty; expected a list of numbers.")
    first, step = _number(scan, "angle_min"), _number(scan, "angle_increment")
    if step == 0.0:
        raise _Unusable("angle_increment is 0; expected a number of radians.")
    with np.errstate(over="ignore"):
        angle = first + step * np.arange(len(ranges))
    if not within_full_turn(angle[[0, -1]], "rad").all():
        raise _Unusable(
            f"the angles run from {angle[0]:g} to {angle[-1]:g} rad; expected -{2 * pi:g} to "
            f"{2 * pi:g}, one full turn either way (check angle_min, angle_increment)."
        )
    last: Any = scan.get("angle_max")
    if _is_number(last) and abs(angle[-1] - float(last)) > 1.5 * abs(step):
        findings.warn(f"angle_max is {last}, but the last range lies at {angle[-1]:g} rad.")

    distance, good = _distances(ranges, findings)
    distance[~(np.isfinite(distance) & (distance != 0.0))] = np.nan
    intensity = _intensities(scan.get("intensities"), len(ranges), findings)
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
        _header(scan.get("capture"), findings),
        capture_file=findings.file,
        default_station=Path(findings.file).stem,
        angle_unit=_FIXED["angle_unit"],
        distance_unit=_FIXED["distance_unit"],
        rotation=_FIXED["rotation"],
    )
    # What the instrument itself says is out of its range was measured all the same.
    nearest, farthest = _limit(scan, "range_min"), _limit(scan, "range_max")
    capture = capture.with_flags(raw.distance < nearest, Flag.TOO_NEAR)
    return capture.with_flags(raw.distance > farthest, Flag.TOO_FAR)


def _check_keys(content: _Object) -> None:
    if content.twice is not None:
        raise _Unusable(
            f"the key {shown(content.twice)} is there twice with two values; expected one."
        )


def _header(values: Any, findings: Findings) -> Header:
    header = Header()
    if values is None:
        return header
    if not isinstance(values, _Object):
        raise _Unusable(f"capture is {_quoted(values)}; expected an object.")
    _check_keys(values)
    for key, value in values.items():
        if isinstance(value, bool):
            value = "yes" if value else "no"
        if isinstance(value, (dict, list)):
            found = _quoted(value)
            findings.bad(f"{shown(key)} under capture is {found}; expected a number or a text.")
            continue
        text = "" if value is None else value if isinstance(value, str) else json.dumps(value)
        fixed = _FIXED.get(key.lower())
        if fixed and text.lower() != fixed:
            raise _Unusable(f"{key} is {shown(text)}; a laser scan has {fixed} by definition.")
        header.add(_one_line(key), _one_line(text), findings)
    header.check_geotag(findings)
    return header


def _one_line(text: str) -> str:
    """A text without what JSON can hold but no layer: control signs, halves of surrogate pairs."""
    return " ".join(_CONTROL.sub(" ", text.encode(errors="replace").decode()).split())


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _number(scan: dict[str, Any], name: str) -> float:
    value: Any = scan.get(name)
    if not _is_number(value) or not isfinite(value):
        found = "missing" if name not in scan else _quoted(value)
        raise _Unusable(f"{name} is {found}; expected a number.")
    return float(value)


def _limit(scan: dict[str, Any], name: str) -> float:
    """A shortest or longest range; NaN, which no range is beyond, where the scan has none."""
    value: Any = scan.get(name)
    if value is not None and not _is_number(value):
        raise _Unusable(f"{name} is {_quoted(value)}; expected a number.")
    return float("nan") if value is None else float(value)


def _intensities(values: Any, count: int, findings: Findings) -> Floats:
    """Intensities ``(count,)``, NaN where there is none; what is not used is said."""
    none = np.full(count, np.nan)
    if values is None or values == []:
        return none
    if not isinstance(values, list) or len(values) != count:
        found = f"{len(values)} values" if isinstance(values, list) else _quoted(values)
        findings.warn(f"intensities is {found}, not a list of {count} as ranges; it is not used.")
        return none
    numbers = [_is_number(value) for value in values]
    strange = [value for value, fine in zip(values, numbers) if not fine and value is not None]
    if strange:
        findings.warn(
            f"{len(strange)} intensities are no numbers (here {_quoted(strange[0])}); not used."
        )
    result = np.array([value if fine else np.nan for value, fine in zip(values, numbers)], float)
    result[~np.isfinite(result)] = np.nan
    return result


def _distances(values: list[Any], findings: Findings) -> tuple[Floats, np.ndarray]:
    """Distances ``(n,)`` in metres, NaN for null, and which ones can be read."""
    distance = np.full(len(values), np.nan)
    good = np.ones(len(values), dtype=bool)
    if {type(value) for value in values} <= {float, int}:
        distance = np.array(values, dtype=float)
        suspects = np.flatnonzero(distance < 0).tolist()
    else:
        suspects = range(len(values))
    for index in suspects:
        value = values[index]
        if value is None:
            continue
        # Minus infinity is "nearer than can be measured": no return either.
        if not _is_number(value) or -np.inf < value < 0:
            findings.bad(f"ranges[{index}] is {_quoted(value)}; expected {_REACH}.")
            good[index] = False
            continue
        distance[index] = value
    return distance, good
