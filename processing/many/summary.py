# SPDX-License-Identifier: GPL-2.0-or-later
"""All buildings in a table: how far each is, and what its report says."""

from __future__ import annotations

import csv
import json
import os
import socket
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from ..reports.html import Markup, facts, page, section, table, text
from .state import DONE, FAILED, NOT_YET, read_state
from .steps import NUMBERS, REPORT, result
from .tree import Building

HEADERS = (
    "building",
    "status",
    "stations",
    "unconnected_stations",
    "rejected_ties",
    "reference_variance",
    "rooms",
    "area_m2",
    "sigma_position_m",
    "warnings",
    "seconds",
    "finished",
    "in_database",
    "message",
)
NUMERIC = range(2, 11)


def write_summary(
    buildings: Sequence[Building], results: Path, loaded: Mapping[str, str] | None = None
) -> dict[str, int]:
    """Write ``summary.csv`` and ``summary.html`` into the results, each whole; how many buildings
    are done, failed and not done yet. Other processes may do the same at the same time. `loaded`
    are the keys of what a database has by building."""
    rows = [_row(building, results, loaded) for building in buildings]
    counts = {word: sum(row[1] == word for row in rows) for word in (DONE, FAILED, NOT_YET)}
    draft = results / f".summary.{socket.gethostname()}.{os.getpid()}"
    with draft.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(HEADERS)
        writer.writerows([_harmless(cell) for cell in row] for row in rows)
    os.replace(draft, results / "summary.csv")
    draft.write_text(_html(buildings, rows, counts, results), encoding="utf-8")
    os.replace(draft, results / "summary.html")
    return counts


def _harmless(cell: Any) -> Any:
    """A cell that no spreadsheet takes for a formula: a text that begins as one (OWASP, "CSV
    Injection") gets an apostrophe before it. The name of a folder may be anything."""
    begins = isinstance(cell, str) and cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    return f"'{cell}" if begins else cell


def _row(building: Building, results: Path, loaded: Mapping[str, str] | None) -> tuple[Any, ...]:
    folder = results / building.name
    state = read_state(folder)
    told: tuple[Any, ...] = ("",) * 8
    if state.status == DONE:
        # Somebody may have taken the report away.
        with suppress(OSError, ValueError, KeyError, TypeError, RecursionError):
            told = _facts(
                json.loads((folder / result(building, NUMBERS)).read_text(encoding="utf-8"))
            )
    there = "" if loaded is None else "yes" if loaded.get(building.name) == state.key else "no"
    end = (state.seconds or "", state.finished, there, state.message)
    return (building.name, state.status, *told, *end)


def _facts(report: dict[str, Any]) -> tuple[Any, ...]:
    """Numbers of a survey report, of the finest plot scale."""
    network, areas = report["network"], report["areas"]
    finest = min((room["plot_scale"] for room in areas), default=0)
    rooms = [room for room in areas if room["plot_scale"] == finest]
    site = report.get("site") or {}
    sigmas = [
        site[name] for name in ("sigma_east_m", "sigma_north_m") if site.get(name) is not None
    ]
    variance = network["reference_variance"]
    return (
        len(report["stations"]),
        network["unconnected_stations"],
        network["rejected_ties"],
        "" if variance is None else f"{variance:.2f}",
        len(rooms),
        f"{sum(room['area_m2'] for room in rooms):.2f}",
        f"{max(sigmas):.3f}" if sigmas else "",
        len(report["warnings"]),
    )


def _html(
    buildings: Sequence[Building],
    rows: Sequence[tuple[Any, ...]],
    counts: dict[str, int],
    results: Path,
) -> str:
    order = {FAILED: 0, NOT_YET: 1, DONE: 2}
    ordered = sorted(zip(buildings, rows), key=lambda pair: order[pair[1][1]])
    shown = [(_link(building, results), *row[1:]) for building, row in ordered]
    titles = [name.replace("_", " ") for name in HEADERS]
    body = section("Buildings", facts(counts.items()), table(titles, shown, NUMERIC))
    return page(f"Surveys of {len(rows)} buildings", body)


def _link(building: Building, results: Path) -> Markup:
    """A building's name, with a link to its report where there is one."""
    from urllib.parse import quote

    report = f"{building.name}/{result(building, REPORT)}"
    if not (results / report).is_file():
        return text(building.name)
    return Markup(f'<a href="{text(quote(report))}">{text(building.name)}</a>')
