# SPDX-License-Identifier: GPL-2.0-or-later
"""The summary of an import: what was read, what is usable, what to measure again."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from ..captures.findings import listed
from ..captures.model import Capture, Flag, Kind, Survey
from ..captures.spool import in_memory
from .capture_advice import advice_for, advice_of
from .html import Markup, bullets, page_parts, paragraph, section, table, text
from .polar_picture import polar_picture

CAUTIONS = (
    "A rotating laser is used with care: keep to the laser class on the instrument's label and "
    "do not look into the beam.",
    "A plan made from these readings shows what the instrument saw at its height. It is no "
    "structural survey and no boundary document.",
)


def capture_summary_html(survey: Survey, title: str = "Import of polar captures") -> str:
    """A complete page about a survey as imported: self-contained, user text escaped."""
    return "".join(capture_summary_parts(survey, title))


def capture_summary_parts(survey: Survey, title: str = "Import of polar captures") -> Iterator[str]:
    """The page in pieces, one station's picture at a time, so that a large survey's is never held
    whole."""
    return page_parts(title, _body(survey))


def _body(survey: Survey) -> Iterator[str]:
    captures = survey.captures
    files = len(survey.digests) or len({capture.capture_file for capture in captures})
    readings = sum(len(capture) for capture in captures)
    usable = sum(int(capture.usable.sum()) for capture in captures)
    share = f"{100 * usable / readings:.1f} %" if readings else "none"
    lead = (
        f"{_count(len(captures), 'capture')} from {_count(files, 'file')}: "
        f"{_count(readings, 'reading')}, {share} of them usable. Nothing measured is deleted: a "
        "reading that is not used carries a flag that says why."
    )
    yield paragraph(lead, "lead")
    yield section("What to look at", *_advice(survey))
    yield section("Stations", _stations(captures), _missing(captures))
    yield section("Flagged readings", _flags(captures))
    unknown = [(c.station, key, value) for c in captures for key, value in c.other.items()]
    if unknown:
        yield section("Keys without a meaning here", table(("Station", "Key", "Value"), unknown))
    if survey.skipped:
        yield section(
            f"Left out ({len(survey.skipped)})",
            paragraph("These could not be read and were skipped, as was asked for."),
            bullets(survey.skipped),
        )
    if survey.warnings:
        yield section("Warnings", bullets(survey.warnings))
    yield section(
        "Pictures",
        paragraph(
            "Usable readings are dark, flagged ones muted; squares are sighted targets, the "
            "stroke at the instrument is its zero direction.",
            "soft",
        ),
    )
    yield from (_plate(in_memory(capture)) for capture in captures)
    yield section("Cautions", bullets(CAUTIONS))
    if survey.digests:
        yield section("Files", table(["File", "SHA-256"], sorted(survey.digests.items())))


def _count(number: int, thing: str) -> str:
    return f"{number:,} {thing}{'' if number == 1 else 's'}".replace(",", "\u202f")


def _advice(survey: Survey) -> list[Markup]:
    sentences: list[Markup] = [text(sentence) for sentence in advice_for(survey)]
    # One finding that many stations share is told once.
    shared: dict[str, list[str]] = {}
    for capture in survey.captures:
        for sentence in advice_of(capture):
            shared.setdefault(sentence, []).append(capture.station)
    for sentence, stations in shared.items():
        sentences.append(Markup(f"<b>{text(listed(stations))}</b>: {text(sentence)}"))
    if not sentences:
        return [paragraph("Nothing needs to be measured again.")]
    return [bullets(sentences)]


def _distances(capture: Capture) -> str:
    distance = capture.distance_m[capture.usable]
    return f"{distance.min():.2f} to {distance.max():.2f}" if len(distance) else ""


def _stations(captures: tuple[Capture, ...]) -> Markup:
    rows = []
    for capture in captures:
        targets = np.unique(capture.target[capture.kind == Kind.TARGET])
        time = capture.captured_at
        rows.append(
            [
                capture.station,
                capture.capture_file,
                capture.level,
                time.isoformat(sep=" ", timespec="minutes") if time else "",
                len(capture),
                int(capture.usable.sum()),
                _distances(capture),
                len(targets) or "",
                _degrees(capture.magnetic_azimuth_deg),
            ]
        )
    headers = ["Station", "File", "Level", "Captured at", "Readings", "Usable"]
    headers += ["Distances, m", "Targets", "Magnetic azimuth, deg"]
    return table(headers, rows, numeric={2, 4, 5, 6, 7, 8})


def _degrees(value: float) -> str:
    return f"{value:.1f}" if np.isfinite(value) else ""


def _missing(captures: tuple[Capture, ...]) -> Markup:
    """Which header values are absent, and where: by value, as most files of a job are alike."""
    absent: dict[str, Callable[[Capture], bool]] = {
        "captured_at": lambda c: c.captured_at is None,
        "instrument_height_m": lambda c: not np.isfinite(c.instrument_height_m),
        "magnetic_azimuth_deg": lambda c: not c.has_compass,
        "longitude_deg, latitude_deg": lambda c: not c.has_geotag,
    }
    rows = []
    for key, test in absent.items():
        names = [capture.station for capture in captures if test(capture)]
        if names:
            rows.append([key, "all stations" if len(names) == len(captures) else listed(names, 12)])
    if not rows:
        return Markup("")
    return table(["Header value", "Missing in"], rows, caption="Values that the files do not give")


def _flags(captures: tuple[Capture, ...]) -> Markup:
    """Counts by station and flag, for the flags that occur."""
    present = [flag for flag in Flag if flag and any((c.flag == flag).any() for c in captures)]
    if not present:
        return paragraph("No reading is flagged.")
    rows: list[list[object]] = []
    for capture in captures:
        counts = [int((capture.flag == flag).sum()) for flag in present]
        rows.append([capture.station, *(count or "" for count in counts)])
    if len(captures) > 1:
        totals = [sum(int((c.flag == flag).sum()) for c in captures) for flag in present]
        rows.append([Markup("<b>Together</b>"), *totals])
    headers = ["Station", *(flag.text for flag in present)]
    return table(headers, rows, numeric=range(1, len(headers)))


def _plate(capture: Capture) -> str:
    advice = "".join(paragraph(sentence, "advice") for sentence in advice_of(capture))
    return (
        f'<div class="plate"><h3>{text(capture.station)}</h3>{polar_picture(capture)}{advice}</div>'
    )
