# SPDX-License-Identifier: GPL-2.0-or-later
"""A maintained layer in a report: the shift, what changed with a map, and findings with fixes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from ..building.checks import Finding
from ..building.compare import Comparison
from ..building.model import CHANGES, UNRESOLVED, Change
from .change_colours import CHANGE_COLOURS
from .html import Markup, facts, paragraph, section, table
from .sketch import Sketch, rings_of

MEANING = {
    "unchanged": "within the errors of both",
    "reshaped": "another outline",
    "moved": "the same outline elsewhere",
    "split": "one room is several now",
    "merged": "several rooms are one now",
    "new": "no old room stands there",
    "removed": "its ground has gone to others, or no room stands there",
    "unresolved": "for a person to decide",
}


def building_section_html(
    comparison: Comparison,
    assigned: Sequence[str],
    findings: Sequence[Finding],
) -> Markup:
    """HTML sections on a comparison, the identifiers proposed, and checks of the layer."""
    counts = [(f"{kind} ({MEANING[kind]})", comparison.count(kind)) for kind in CHANGES]
    if comparison.left_alone:
        counts.append(("outside of what was surveyed, left alone", len(comparison.left_alone)))
    levels = sorted({_level(comparison, row) for row in comparison.changes})
    maps = [_map(comparison, assigned, level) for level in levels]
    rows = [
        (row, name)
        for row, name in zip(comparison.changes, assigned)
        if row.change not in ("unchanged", UNRESOLVED)
    ]
    undecided = [
        (row, name) for row, name in zip(comparison.changes, assigned) if row.change == UNRESOLVED
    ]
    same = [(r, n) for r, n in zip(comparison.changes, assigned) if r.change == "unchanged"]
    return Markup(
        "\n".join(
            [
                section("Shift", paragraph(_shift(comparison))),
                section("Rooms", facts(counts), *maps),
                section("For a person to decide", _table(comparison, undecided)),
                section("What changed", _table(comparison, rows)),
                section("Unchanged", _table(comparison, same)),
                section("Checks of the maintained layer", _findings(findings)),
            ]
        )
    )


def _level(comparison: Comparison, row: Change) -> int:
    rooms, k = (comparison.old, row.old) if row.old >= 0 else (comparison.new, row.new)
    return int(rooms.level[k])


def _shift(comparison: Comparison) -> str:
    shift = comparison.shift
    if not shift.significant:
        known = (
            f" ({shift.rooms} rooms agree, to {1000 * shift.sigma_step_m:.0f} mm)"
            if shift.rooms
            else " (too few rooms of unchanged shape agree on one)"
        )
        return f"The layer shows no common shift against the survey{known}."
    x, y = shift.step_m
    turn = float(np.degrees(shift.rotation_rad))
    turned = f" and turned by {turn:+.4f} deg (counterclockwise)" if turn else ""
    return (
        f"The whole layer is shifted: the survey has its rooms {1000 * x:+.0f} mm in x and "
        f"{1000 * y:+.0f} mm in y (standard error {1000 * shift.sigma_step_m:.0f} mm){turned}; "
        f"{shift.rooms} rooms agree. All rooms were compared after this one shift."
    )


def _map(comparison: Comparison, assigned: Sequence[str], level: int) -> Markup:
    """New rooms by what they are, old outlines after the shift dashed."""
    own = [
        (row, name)
        for row, name in zip(comparison.changes, assigned)
        if _level(comparison, row) == level
    ]
    shapes: list[Any] = [
        shape
        for row, _ in own
        for shape in (
            comparison.new.polygon[row.new] if row.new >= 0 else None,
            comparison.placed[row.old] if row.old >= 0 else None,
        )
        if shape is not None
    ]
    sketch = Sketch(shapely.get_coordinates(shapes))
    for row, _ in own:
        fill = CHANGE_COLOURS[row.change]
        shape = comparison.new.polygon[row.new] if row.new >= 0 else comparison.placed[row.old]
        for ring in rings_of(shape):
            sketch.outline(ring, f'fill="{fill}" stroke="#1d2328" stroke-width="1.2"')
    for row, _ in own:
        for ring in rings_of(comparison.placed[row.old]) if row.old >= 0 else ():
            style = 'fill="none" stroke="#5d676f" stroke-width="0.9" stroke-dasharray="4 3"'
            sketch.outline(ring, style)
    for row, name in own:
        shape = comparison.new.polygon[row.new] if row.new >= 0 else comparison.placed[row.old]
        word = name or (comparison.old.id[row.old] if row.old >= 0 else "")
        sketch.labels(shapely.get_coordinates(shapely.point_on_surface(shape)), [word])
    there = [kind for kind in CHANGES if any(row.change == kind for row, _ in own)]
    legend = " ".join(
        f'<svg width="12" height="12"><rect width="12" height="12" fill="{CHANGE_COLOURS[kind]}" '
        f'stroke="#1d2328"/></svg> {kind} &nbsp;'
        for kind in there
    )
    return Markup(
        sketch.svg(f"Storey {level}: new outlines filled, old ones (after the shift) dashed")
        + paragraph(Markup(legend), "soft")
    )


def _table(comparison: Comparison, rows: Sequence[tuple[Change, str]]) -> Markup:
    if not rows:
        return paragraph("None.")
    headers = (
        "Room",
        "New identifier",
        "Storey",
        "Change",
        "Before (m²)",
        "Now (m²)",
        "Difference (m²)",
        "σ (m²)",
        "In σ",
        "Largest offset (mm)",
        "Tolerance (mm)",
        "Remark",
    )
    return table(headers, [_cells(comparison, row, name) for row, name in rows], range(4, 11))


def _cells(comparison: Comparison, row: Change, name: str) -> tuple[object, ...]:
    old, new = comparison.old, comparison.new

    def number(value: float, form: str) -> str:
        return format(value, form) if np.isfinite(value) else ""

    return (
        old.id[row.old] if row.old >= 0 else "",
        name,
        _level(comparison, row),
        row.change,
        f"{old.area_m2[row.old]:.2f}" if row.old >= 0 else "",
        f"{new.area_m2[row.new]:.2f}" if row.new >= 0 else "",
        number(row.difference_m2, "+.2f"),
        number(row.sigma_difference_m2, ".2f"),
        number(row.standardised, "+.1f"),
        number(1000.0 * row.offset_m, ".0f"),
        number(1000.0 * row.tolerance_m, ".0f"),
        row.reason,
    )


def _findings(findings: Sequence[Finding]) -> Markup:
    if not findings:
        return paragraph("Nothing was found.")
    rows = [(one.check, one.sentence, one.fix) for one in findings]
    return table(("Check", "Found", "Proposed"), rows, (), "Nothing of this was changed")
