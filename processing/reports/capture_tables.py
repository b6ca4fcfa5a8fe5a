# SPDX-License-Identifier: GPL-2.0-or-later
"""The tables of a summary of captures."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from ..captures.cut_height import CutHeight, told_by_level
from ..captures.findings import listed
from ..captures.model import Flag
from .capture_advice import NOTHING, advice_of
from .capture_facts import CaptureFacts
from .flag_marks import symbol
from .html import Markup, bullets, paragraph, table, text


def station_table(facts: Sequence[CaptureFacts], linked: dict[str, str]) -> Markup:
    """One row a station; `linked` gives the anchors of those that are drawn. Columns in which no
    station has a value are left out."""
    zones = {own.captured_at.strftime("%z") for own in facts if own.captured_at}
    columns: list[tuple[str, bool, list[object]]] = [
        ("Station", False, [_linked(own.station, linked) for own in facts]),
        ("File", False, [own.capture_file for own in facts]),
        ("Level", True, [own.level for own in facts]),
        (f"Captured at{_zone(zones)}", True, [_time(own, len(zones) > 1) for own in facts]),
        ("Readings", True, [own.readings for own in facts]),
        ("Usable, %", True, [f"{100 * own.share:.1f}" for own in facts]),
        (
            "Distances, m",
            True,
            [f"{own.nearest_m:.2f} to {own.farthest_m:.2f}" if own.usable else "" for own in facts],
        ),
        ("Targets", True, [len(own.sighted) or "" for own in facts]),
        (
            "Magnetic azimuth, deg",
            True,
            [f"{own.magnetic_azimuth_deg:.1f}" if own.has_compass else "" for own in facts],
        ),
        ("Advice", False, [_short(advice_of(own)) for own in facts]),
    ]
    kept = [column for column in columns if any(cell != "" for cell in column[2])]
    return table(
        [title for title, _, _ in kept],
        zip(*(cells for _, _, cells in kept)),
        numeric={place for place, (_, number, _) in enumerate(kept) if number},
    )


def _zone(zones: set[str]) -> str:
    """The zone of all times in the head, so that it does not stand in every row."""
    (zone,) = zones if len(zones) == 1 else ("",)
    return f" ({zone[:3]}:{zone[3:5]})" if zone else ""


def _time(own: CaptureFacts, zone: bool) -> str:
    if own.captured_at is None:
        return ""
    time = own.captured_at if zone else own.captured_at.replace(tzinfo=None)
    return time.isoformat(sep=" ", timespec="minutes")


def _linked(station: str, linked: dict[str, str]) -> Markup:
    if station not in linked:
        return text(station)
    return Markup(f'<a href="#{linked[station]}">{text(station)}</a>')


def _short(advice: str) -> Markup:
    return Markup("") if advice == NOTHING else text(advice)


def missing_table(facts: Sequence[CaptureFacts]) -> Markup:
    """Which header values are absent, and where: by value, as most files of a job are alike."""
    absent: dict[str, Callable[[CaptureFacts], bool]] = {
        "captured_at": lambda own: own.captured_at is None,
        "instrument_height_m": lambda own: not np.isfinite(own.cut.instrument_height_m),
        "magnetic_azimuth_deg": lambda own: not own.has_compass,
        "longitude_deg, latitude_deg": lambda own: not own.has_geotag,
    }
    rows = []
    for key, test in absent.items():
        names = [own.station for own in facts if test(own)]
        if names:
            rows.append([key, "all stations" if len(names) == len(facts) else listed(names, 12)])
    if not rows:
        return Markup("")
    return table(["Header value", "Missing in"], rows, caption="Values that the files do not give")


def flag_table(facts: Sequence[CaptureFacts]) -> Markup:
    """Counts by station and flag, for the flags that occur and the stations that have any."""
    present = [flag for flag in Flag if flag and any(own.flags[flag] for own in facts)]
    if not present:
        return paragraph("No reading is flagged.")
    rows: list[list[object]] = [
        [own.station, *(own.flags[flag] or "" for flag in present)]
        for own in facts
        if own.usable < own.readings
    ]
    if len(rows) > 1:
        totals = [sum(own.flags[flag] for own in facts) for flag in present]
        rows.append([Markup("<b>Together</b>"), *totals])
    headers = ["Station", *(Markup(f"{symbol(flag)} {flag.text}") for flag in present)]
    return table(headers, rows, numeric=range(1, len(headers)))


def cut_section(facts: Sequence[CaptureFacts]) -> list[Markup]:
    """The height at which each level is cut."""
    cuts: dict[int, list[tuple[str, CutHeight]]] = {}
    for own in facts:
        if own.ring:
            cuts.setdefault(own.level, []).append((own.station, own.cut))
    known = any(np.isfinite(cut.instrument_height_m) for level in cuts.values() for _, cut in level)
    zenith = sum(cut.with_zenith for level in cuts.values() for _, cut in level)
    if not known and not zenith:
        return [
            paragraph(
                "All readings are horizontal and no instrument height is given "
                "(instrument_height_m): the plan is a cut at the height of the instrument, which "
                "the files do not say."
            )
        ]
    rows = [
        _cut_row(level, [cut for _, cut in stations]) for level, stations in sorted(cuts.items())
    ]
    what = (
        "Distances are reduced to the horizontal: slope distance times sine of the zenith angle."
        if zenith
        else "All readings are horizontal: the plan is a cut at the height of the instrument."
    )
    headers = ["Level", "Stations", "Instrument height, m", "Surfaces are met at, m"]
    headers += ["Readings with a zenith angle"]
    return [
        paragraph(what),
        table(headers, rows, numeric={0, 1, 2, 3, 4}),
        bullets(told_by_level(cuts)),
    ]


def _cut_row(level: int, cuts: Sequence[CutHeight]) -> list[object]:
    heights = [cut.instrument_height_m for cut in cuts if np.isfinite(cut.instrument_height_m)]
    met = [cut for cut in cuts if np.isfinite(cut.low_m)]
    same = [cut for cut in met if np.isfinite(cut.instrument_height_m)] or met
    where = _span([cut.low_m for cut in same], [cut.high_m for cut in same])
    above = "" if heights or not met else " above the instrument"
    return [
        level,
        len(cuts),
        _span(heights, heights) or "not given",
        f"{where}{above}",
        sum(cut.with_zenith for cut in cuts) or "",
    ]


def _span(low: Sequence[float], high: Sequence[float]) -> str:
    if not low:
        return ""
    first, last = f"{min(low):.2f}", f"{max(high):.2f}"
    return first if first == last else f"{first} to {last}"
