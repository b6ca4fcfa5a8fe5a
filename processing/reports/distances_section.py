# SPDX-License-Identifier: GPL-2.0-or-later
"""Taped distances in a report: each beside the plan's, a histogram, and the accuracy asked for."""

from __future__ import annotations

import numpy as np

from ..walls.taped import FEWEST, AccuracyClass, Comparison
from .html import Markup, facts, paragraph, section, table, text
from .values import MM

BARS = 9


def distances_section_html(
    comparison: Comparison, asked: AccuracyClass | None, plot_scale: int
) -> Markup:
    """HTML sections on taped distances against the plan at a plot scale."""
    return Markup(
        "\n".join(
            [
                section(
                    "Taped distances", _summary(comparison, plot_scale), _histogram(comparison)
                ),
                section("Accuracy asked for", _accuracy(asked)),
                section("Each distance", _rows(comparison)),
            ]
        )
    )


def _summary(comparison: Comparison, plot_scale: int) -> Markup:
    gap = comparison.difference_m * MM
    drawn = f"as drawn at 1:{plot_scale}" if plot_scale else "as measured"
    return facts(
        [
            ("Walls", drawn),
            ("Distances", len(comparison)),
            ("Within tolerance (95 %)", int(comparison.agrees.sum())),
            ("Beyond tolerance", int((~comparison.agrees).sum())),
            ("Mean difference, plan less tape", f"{np.mean(gap):+.1f} mm"),
            ("Root mean square", f"{np.sqrt(np.mean(gap**2)):.1f} mm"),
            ("Largest", f"{gap[np.argmax(np.abs(gap))]:+.1f} mm"),
        ]
    )


def _accuracy(asked: AccuracyClass | None) -> Markup:
    if asked is None:
        return paragraph("No accuracy was asked for: only the differences are told.")
    wanted = f"{asked.asked_m * MM:g} mm (1 sigma of a distance)"
    if asked.met is None:
        return paragraph(
            f"{wanted}: not decided. {asked.n} distances are too few; expected at least {FEWEST}."
        )
    verdict = "met" if asked.met else "not met"
    found = (
        f"{asked.found_m * MM:.1f} mm" if asked.found_m > 0 else "less than the tape's own error"
    )
    return paragraph(
        f"{wanted}: {verdict}. Sum of squares {asked.statistic:.1f}, chi-square bound "
        f"{asked.bound:.1f} (95 %, {asked.n} distances). Once the tape's own error is taken out, "
        f"the differences show {found}. None of these distances took part in the adjustment."
    )


def _rows(comparison: Comparison) -> Markup:
    gap, tolerance = comparison.difference_m * MM, comparison.tolerance_m * MM
    order = np.argsort(-np.abs(gap) / tolerance, kind="stable")
    rows = [
        (
            comparison.taped[i].first,
            comparison.taped[i].second,
            f"{comparison.taped[i].length_m:.3f}",
            f"{comparison.taped[i].sigma_m * MM:.1f}",
            f"{comparison.plan[i].length_m:.4f}",
            f"{comparison.plan[i].sigma_m * MM:.1f}",
            f"{gap[i]:+.1f}",
            f"{tolerance[i]:.1f}",
            comparison.verdicts[i],
        )
        for i in order
    ]
    headers = (
        "From",
        "To",
        "Taped (m)",
        "σ (mm)",
        "Plan (m)",
        "σ (mm)",
        "Plan less tape (mm)",
        "Tolerance (mm)",
        "Verdict",
    )
    return table(headers, rows, range(2, 8), "The worst in terms of its tolerance first")


def _histogram(comparison: Comparison) -> Markup:
    """Differences over their tolerances: within -1 to 1 lies what agrees."""
    share = comparison.difference_m / comparison.tolerance_m
    reach = max(1.5, float(np.ceil(np.abs(share).max() * 2) / 2))
    edges = np.linspace(-reach, reach, BARS + 1)
    count, _ = np.histogram(share, edges)
    width, height, base = 46.0, 90.0, 110.0
    top = max(int(count.max(initial=0)), 1)
    parts = []
    for k, n in enumerate(count):
        tall = height * n / top
        inside = max(abs(edges[k]), abs(edges[k + 1])) <= 1.0 + 1e-9
        colour = "#3b6e8f" if inside else "#9a3412"
        x = 10 + width * k
        parts.append(
            f'<rect x="{x:.1f}" y="{base - tall:.1f}" width="{width - 3:.1f}" '
            f'height="{tall:.1f}" fill="{colour}"/>'
        )
        if n:
            parts.append(
                f'<text x="{x + width / 2 - 2:.1f}" y="{base - tall - 4:.1f}" '
                f'text-anchor="middle">{n}</text>'
            )
    for edge in (-reach, -1.0, 0.0, 1.0, reach):
        x = 10 + width * BARS * (edge + reach) / (2 * reach) - 1.5
        parts.append(
            f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{base:.0f}" y2="{base + 5:.0f}" '
            'stroke="#5d676f"/>'
            f'<text x="{x:.1f}" y="{base + 18:.0f}" text-anchor="middle">{edge:g}</text>'
        )
    title = "Differences, plan less tape, in units of their tolerance (1 = 95 %)"
    whole = 20 + width * BARS
    return Markup(
        f'<figure><svg viewBox="0 0 {whole:.0f} 135" width="{whole:.0f}" role="img" '
        f'font-family="inherit" font-size="11"><title>{text(title)}</title>{"".join(parts)}</svg>'
        f"<figcaption>{text(title)}</figcaption></figure>"
    )
