# SPDX-License-Identifier: GPL-2.0-or-later
"""The summary of an import: what was read, what is usable, what to measure again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..captures.model import Flag, Survey
from ..captures.spool import in_memory
from .capture_advice import IMPORT_AGAIN, ONCE_MORE, advice_for, advice_of, first_to_measure
from .capture_facts import CaptureFacts
from .capture_plate import plate
from .capture_tables import cut_section, flag_table, missing_table, station_table
from .flag_marks import symbol
from .html import Markup, bullets, page_parts, paragraph, section, table, text

PICTURES = 200
"""Up to so many stations each get a picture; of more, those with something to measure again."""

MOST_FIRST = 20
"""So many stations to measure again are listed at the top; the rest is counted."""

CAUTIONS = (
    "A rotating laser is used with care: keep to the laser class on the instrument's label and "
    "do not look into the beam.",
    "A plan made from these readings shows what the instrument saw at its height. It is no "
    "structural survey and no boundary document.",
)


def capture_summary_parts(survey: Survey, title: str) -> Iterator[str]:
    """A complete page about a survey as imported, self-contained and user text escaped, in pieces:
    one station's picture at a time, so that a large survey's is never held whole."""
    return page_parts(title, _body(survey))


def _body(survey: Survey) -> Iterator[str]:
    facts = []
    for number, capture in enumerate(survey.captures, start=1):
        facts.append(CaptureFacts.of(in_memory(capture)))
        if number % 100 == 0:
            yield ""  # whoever writes the page may be cancelled meanwhile
    drawn = [own for own in facts if own.again] if len(facts) > PICTURES else facts
    places = {own.station: f"s{number}" for number, own in enumerate(facts, start=1)}
    linked = {own.station: places[own.station] for own in drawn}
    yield paragraph(_lead(survey, facts), "lead")
    yield section("Before you leave", *_overview(facts, linked))
    yield section("Stations", station_table(facts, linked), missing_table(facts))
    if any(own.ring for own in facts):
        yield section("Height of the cut", *cut_section(facts))
    yield section("Flagged readings", flag_table(facts))
    yield from _told(survey, facts)
    yield section("Station by station", *_legend(facts, drawn))
    by_name = {own.station: own for own in drawn}
    for capture in survey.captures:
        if own := by_name.get(capture.station):
            yield plate(in_memory(capture), own, advice_of(own), places[own.station])
    rest = [own for own in facts if own.station not in by_name and own.remarks]
    if rest:
        yield "<h3>Remarks about the other stations</h3>"
        yield from _rest(rest)
    yield section("Cautions", bullets(CAUTIONS))
    if survey.digests:
        yield section("Files", table(["File", "SHA-256"], sorted(survey.digests.items())))


def _lead(survey: Survey, facts: Sequence[CaptureFacts]) -> str:
    files = len(survey.digests) or len({own.capture_file for own in facts})
    readings = sum(own.readings for own in facts)
    share = f"{100 * sum(own.usable for own in facts) / readings:.1f} %" if readings else "none"
    return (
        f"{_count(len(facts), 'capture')} from {_count(files, 'file')}: "
        f"{_count(readings, 'reading')}, {share} of them usable. Nothing measured is deleted: a "
        "reading that is not used carries a flag that says why."
    )


def _count(number: int, thing: str) -> str:
    return f"{number:,} {thing}{'' if number == 1 else 's'}".replace(",", "\u202f")


def _overview(facts: Sequence[CaptureFacts], linked: dict[str, str]) -> list[Markup]:
    """What to measure again, the worst first, and what the stations lack together."""
    first = first_to_measure(facts)
    parts, hints = [], []
    if first:
        rows = [
            Markup(
                f"{_name_of(own, linked)} (level {own.level}, {100 * own.share:.0f} % usable): "
                f"{text(advice_of(own))}"
            )
            for own in first[:MOST_FIRST]
        ]
        more = len(first) - MOST_FIRST
        if more > 0:
            rows.append(text(f"{_count(more, 'more station')}, told in the table below."))
        parts += [
            paragraph(
                f"Measure {_count(len(first), 'station')} again"
                f"{', the worst first' if len(first) > 1 else ''}:",
                "advice",
            ),
            bullets(rows),
        ]
    else:
        parts.append(paragraph("Nothing to measure again.", "advice good"))
    for advice in (ONCE_MORE, IMPORT_AGAIN):
        stations = [own for own in facts if advice_of(own) == advice]
        if stations:
            names = ", ".join(_name_of(own, linked) for own in stations[:MOST_FIRST])
            rest = " …" if len(stations) > MOST_FIRST else ""
            hints.append(Markup(f"{names}{rest}: {text(advice)}"))
    parts.append(bullets([*hints, *advice_for(facts)]))
    return parts


def _name_of(own: CaptureFacts, linked: dict[str, str]) -> Markup:
    """A station's name, leading to its picture where there is one."""
    if own.station not in linked:
        return Markup(f"<b>{text(own.station)}</b>")
    return Markup(f'<a href="#{linked[own.station]}"><b>{text(own.station)}</b></a>')


def _told(survey: Survey, facts: Sequence[CaptureFacts]) -> Iterator[str]:
    """What the files hold that could not be read or used, and warnings that no station's remark
    tells already."""
    if survey.skipped:
        yield section(
            f"Left out ({len(survey.skipped)})",
            paragraph("These could not be read and were skipped, as was asked for."),
            bullets(survey.skipped),
        )
    told = {remark.sentence for own in facts for remark in own.remarks}
    warnings = [sentence for sentence in survey.warnings if sentence not in told]
    if warnings:
        yield section("Warnings", bullets(warnings))
    unknown = [(own.station, key, value) for own in facts for key, value in own.other.items()]
    if unknown:
        yield section("Further keys, kept as text", table(("Station", "Key", "Value"), unknown))


def _legend(facts: Sequence[CaptureFacts], drawn: Sequence[CaptureFacts]) -> list[Markup]:
    parts = []
    if len(drawn) < len(facts):
        parts.append(
            paragraph(
                f"Of more than {PICTURES} stations only those to measure again are drawn: "
                f"{len(drawn)} of {len(facts)}."
            )
        )
    if drawn:
        parts.append(
            paragraph(
                Markup(
                    f"{symbol(Flag.USABLE)} usable readings; flagged ones are marked as in the "
                    f"table beside each picture; {symbol(Flag.NO_RETURN)} at the rim: nothing came "
                    "back from there. Squares are sighted targets. The circle is the instrument, "
                    "the stroke from it its zero direction; grey rings give the distance."
                ),
                "soft",
            )
        )
    return parts


def _rest(facts: Sequence[CaptureFacts]) -> Iterator[str]:
    yield table(
        ("Station", "Check", "Remark"),
        ((own.station, remark.check, remark.sentence) for own in facts for remark in own.remarks),
    )
