# SPDX-License-Identifier: GPL-2.0-or-later
"""What a plan keeps of its survey beside the stations and readings, so that it can grow.

The layers hold every reading and most of the headers. The rest stands in the table of notes, a line
each: headers of other keys, remarks and warnings of the checks, digests of the files, the noise as
stated (the stations layer tells the noise as used), which readings a later stage flagged, the
corrections of the instrument that the readings were freed of, and what the survey itself said of
rooms and openings, by which an edit is known from a result. With them `restored` gives back the
survey as it was imported.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..captures.model import Capture, Flag, Ints, KnownPoint, Remark, Survey
from ..errors import SurveyError
from ..stations.systematics import Systematics, uncorrected
from . import schema
from .read import WORD_OF_FLAG, Columns
from .rows import NAN
from .table import Table, make_table

FILE, HEADER, REMARK, REMARK_AGAIN = "file", "header", "remark", "remark: measure again"
WARNING, SKIPPED, STATED, FLAGGED = "warning", "skipped", "stated", "flagged"
CORRECTION, FOUND, FIT = "correction", "found", "fit"
NOISE_FIELDS = ("distance_sigma_m", "angle_sigma_deg")
ERROR_FIELDS = ("distance_zero_m", "axis_eccentricity_m", "angle_scale")

Line = tuple[str, str, str, str]


@dataclass(frozen=True)
class Notes:
    """The lines of the table: kind, subject (a station, file, room, opening or group), name and
    value, in their order. `there` tells whether the plan has the table at all."""

    lines: tuple[Line, ...] = ()
    there: bool = False

    def of(self, kind: str) -> list[tuple[str, str, str]]:
        """Subject, name and value of the lines of a kind."""
        return [(subject, name, value) for k, subject, name, value in self.lines if k == kind]

    def found(self, name: str) -> Mapping[str, str]:
        """What the survey itself said, by the identifier: for ``name`` of rooms, or the kind of
        openings at a plot scale (`identity_kept.kind_at`)."""
        return {subject: value for subject, own, value in self.of(FOUND) if own == name}


def notes_of(
    imported: Survey,
    drawn: Survey,
    corrected: Systematics | None,
    found: Mapping[tuple[str, str], str] = MappingProxyType({}),
    fits: Mapping[int, str] = MappingProxyType({}),
    more: Iterable[Line] = (),
) -> Table:
    """The table of notes: of the survey as `imported`, and as it was `drawn` with the flags of
    later stages and freed of `corrected`. `found` is by identifier and name, `fits` are texts by
    the number of the group, `more` further lines."""
    lines: list[Line] = [(FILE, name, "", digest) for name, digest in imported.digests.items()]
    lines += [(WARNING, "", "", sentence) for sentence in imported.warnings]
    lines += [(SKIPPED, "", "", sentence) for sentence in imported.skipped]
    for before, after in zip(imported.captures, drawn.captures):
        lines += _lines_of(before, after)
    if corrected is not None:
        lines.append((CORRECTION, "", "values", _numbers(corrected.vector)))
        lines.append((CORRECTION, "", "covariance", _numbers(corrected.covariance.ravel())))
    lines += [(FOUND, subject, name, value) for (subject, name), value in found.items()]
    lines += [(FIT, str(network), "", text) for network, text in fits.items()]
    lines += more
    columns = list(zip(*lines)) if lines else [()] * 4
    names = schema.SURVEY_NOTES.field_names
    return make_table(
        schema.SURVEY_NOTES,
        {name: [value or None for value in column] for name, column in zip(names, columns)},
        [None] * len(lines),
        [0] * len(lines),
    )


def _lines_of(before: Capture, after: Capture) -> Iterable[Line]:
    station = before.station
    for key, text in before.other.items():
        yield HEADER, station, key, text
    for remark in before.remarks:
        yield REMARK_AGAIN if remark.again else REMARK, station, remark.check, remark.sentence
    for name in (*NOISE_FIELDS, *ERROR_FIELDS):
        value = float(getattr(before, name))
        if np.isfinite(value) and value:
            yield STATED, station, name, repr(value)
    changed = before.flag != after.flag
    for flag in np.unique(after.flag[changed]):
        rows = changed & (after.flag == flag)
        yield FLAGGED, station, Flag(flag).text, written(after.seq[rows])


def read_notes(columns: Columns | None) -> Notes:
    """The notes of a table's columns; none where there is no table."""
    if columns is None:
        return Notes()
    fields = [columns[name] for name in schema.SURVEY_NOTES.field_names]
    lines = tuple(
        (kind or "", subject or "", name or "", value or "")
        for kind, subject, name, value in zip(*fields)
    )
    return Notes(lines, True)


def correction_in(notes: Notes) -> Systematics | None:
    """What the readings were freed of; None for nothing."""
    values = {name: value for _, name, value in notes.of(CORRECTION)}
    if not values:
        return None
    try:
        vector = np.array([float(text) for text in values["values"].split()])
        covariance = np.array([float(text) for text in values["covariance"].split()])
        return Systematics.of(vector.reshape(3), covariance.reshape(3, 3))
    except (KeyError, ValueError):
        raise SurveyError(
            "Table survey_notes: the correction of the instrument's errors is not what this plugin "
            "wrote; expected 3 values and their 9 covariances."
        ) from None


def restored(survey: Survey, notes: Notes, known: Sequence[KnownPoint] = ()) -> Survey:
    """The survey as it was imported, from that of the layers; the same where there are no notes.

    Flags that a person has changed since stay as they are. SurveyError where a note was edited into
    something that this plugin does not write.
    """
    if not notes.there:
        return replace(survey, known_points=tuple(known))
    systematics = correction_in(notes)
    by_station: dict[str, _OfStation] = {}
    for kind, subject, name, value in notes.lines:
        if kind in (HEADER, REMARK, REMARK_AGAIN, STATED, FLAGGED):
            by_station.setdefault(subject, _OfStation(subject)).add(kind, name, value)
    captures = []
    for capture in survey.captures:
        if systematics is not None:
            capture = uncorrected(capture, systematics)
        own = by_station.get(capture.station) or _OfStation(capture.station)
        captures.append(own.given_to(capture))
    return Survey(
        tuple(captures),
        tuple(value for _, _, value in notes.of(SKIPPED)),
        tuple(value for _, _, value in notes.of(WARNING)),
        MappingProxyType({subject: value for subject, _, value in notes.of(FILE)}),
        tuple(known),
    )


@dataclass
class _OfStation:
    """The notes of one station."""

    station: str
    other: dict[str, str] = field(default_factory=dict)
    remarks: list[Remark] = field(default_factory=list)
    stated: dict[str, float] = field(default_factory=dict)
    flagged: list[tuple[str, str]] = field(default_factory=list)

    def add(self, kind: str, name: str, value: str) -> None:
        if kind == HEADER:
            self.other[name] = value
        elif kind == STATED:
            self.stated[name] = _number(value, f"station {self.station}: {name}")
        elif kind == FLAGGED:
            self.flagged.append((name, value))
        else:
            self.remarks.append(Remark(name, value, kind == REMARK_AGAIN))

    def given_to(self, capture: Capture) -> Capture:
        flag = capture.flag.copy()
        for word, text in self.flagged:
            if word in WORD_OF_FLAG:
                later = within(capture.seq, text) & (flag == WORD_OF_FLAG[word])
                flag[later] = Flag.USABLE
        stated: dict[str, Any] = {name: self.stated.get(name, NAN) for name in NOISE_FIELDS}
        stated.update({name: self.stated.get(name, 0.0) for name in ERROR_FIELDS})
        return replace(
            capture,
            flag=flag,
            other=MappingProxyType(self.other),
            remarks=tuple(self.remarks),
            **stated,
        )


def _number(text: str, what: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = NAN
    if not np.isfinite(number):
        raise SurveyError(f"Table survey_notes, {what} is {text!r}; expected a number.")
    return number


def written(numbers: Ints) -> str:
    """Whole numbers as a short text: ``3-17,40``.

    >>> written(np.array([3, 4, 5, 9]))
    '3-5,9'
    """
    ordered = np.unique(numbers)
    runs = np.split(ordered, np.flatnonzero(np.diff(ordered) > 1) + 1) if len(ordered) else []
    return ",".join(f"{r[0]}-{r[-1]}" if len(r) > 1 else f"{r[0]}" for r in runs)


def within(numbers: Ints, text: str) -> NDArray[np.bool_]:
    """Which numbers ``(n,)`` a text names that `written` made; SurveyError for another text.

    >>> within(np.array([3, 4, 7]), "4-5,7").tolist()
    [False, True, True]
    """
    named = np.zeros(len(numbers), dtype=bool)
    try:
        for part in filter(None, text.split(",")):
            ends = [int(end) for end in part.split("-")]
            low, high = ends if len(ends) == 2 else (ends * 2)
            named |= (numbers >= low) & (numbers <= high)
    except (ValueError, OverflowError):
        raise SurveyError(
            f"Table survey_notes: found {text!r}, expected numbers of readings such as 3-17,40."
        ) from None
    return named


def _numbers(values: np.ndarray) -> str:
    return " ".join(repr(float(value)) for value in values)
