# SPDX-License-Identifier: GPL-2.0-or-later
"""What a report says of loops and of errors that the tests may miss."""

from __future__ import annotations

import numpy as np

from ..stations.model import Network
from ..stations.reliability import LEAST_CONTROL, LEAST_SHIFT_M, Unseen
from .html import Markup, bullets, paragraph, table
from .network_names import in_words
from .values import MM, degrees, figure, several

MOST_LOOPS = 10


def loops_html(network: Network) -> list[Markup]:
    """Misclosures as of traverses, the worst of them by name."""
    if not network.loops:
        return [paragraph("No independent loop: nothing closes, and no misclosure can be told.")]
    size = np.array([loop.misclosure_m for loop in network.loops])
    rows = [
        (
            ", ".join(network.station[s] for s in loop.stations),
            figure(loop.length_m, 1),
            figure(loop.misclosure_m * MM, 1),
            degrees(loop.misclosure_rad, 4),
            f"1:{loop.ratio:.0f}" if np.isfinite(loop.ratio) else "exact",
        )
        for loop in network.loops[:MOST_LOOPS]
    ]
    more = len(network.loops) - len(rows)
    return [
        paragraph(
            f"{len(network.loops)} independent loops, each of pairs of stations that share targets "
            "or surfaces, before the adjustment spreads what is missing: root mean square "
            f"{MM * np.sqrt(np.mean(size**2)):.1f} mm. Stations that all see the same walls close "
            "by themselves; loops through several rooms tell more."
        ),
        table(
            ("Loop", "Length (m)", "Misclosure (mm)", "Misclosure (deg)", "Of the length"),
            rows,
            range(1, 5),
            f"The largest misclosures, without {several(more, 'smaller one')}" if more > 0 else "",
        ),
    ]


def reliability_html(network: Network) -> list[Markup]:
    """The largest effects of errors that go unseen, and what rests on one observation."""
    parts = [
        paragraph(
            "An error of the size in the column Detectable is found with a probability of 80 % by "
            "a test of 0.1 % (Baarda: delta0 = 4.13). A smaller one may stay, and moves the "
            "stations without a word of the statistics."
        )
    ]
    if network.unseen:
        parts.append(bullets(_unseen(unseen) for unseen in network.unseen))
    if not network.resting:
        controlled = (
            f"No station rests on one observation with a redundancy below {LEAST_CONTROL} of which "
            f"an unseen error would move it by {MM * LEAST_SHIFT_M:g} mm or more."
        )
        return [*parts, paragraph(controlled)] if len(network.ties) else parts
    rows = [
        (
            ", ".join(rest.stations),
            in_words(rest.observation),
            figure(rest.redundancy, 3),
            figure(rest.detectable_m * MM, 0),
            f"{100.0 * rest.share:.0f} %",
            figure(rest.shift_m * MM, 0),
        )
        for rest in network.resting
    ]
    headers = (
        "Stations",
        "Rest on",
        "Redundancy",
        "Detectable (mm)",
        "They follow of it",
        "Unseen shift, at most (mm)",
    )
    return [
        *parts,
        table(
            headers,
            rows,
            range(2, 6),
            "Stations that rest on one observation which hardly anything controls: of an error of "
            "it below the detectable size (∞: of any size) the tests say nothing. One more common "
            "target, or a capture between, would control it.",
        ),
    ]


def _unseen(unseen: Unseen) -> str:
    size = f"{np.degrees(unseen.size):.3f} deg" if unseen.angular else f"{MM * unseen.size:.1f} mm"
    observation = in_words(unseen.observation)
    return (
        f"Largest effect of an error that may go unseen: {size} in the {observation} would move "
        f"{unseen.station} by {MM * unseen.shift_m:.1f} mm."
    )
