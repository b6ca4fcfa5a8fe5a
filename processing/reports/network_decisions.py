# SPDX-License-Identifier: GPL-2.0-or-later
"""What a person decided, and what should be decided, in a report."""

from __future__ import annotations

import numpy as np

from ..stations.model import Network
from .html import Markup, paragraph, table
from .values import figure, several


def decisions_html(network: Network) -> list[Markup]:
    """Choices with what came of each, and proposals with their evidence; nothing where there are
    none."""
    parts = []
    if rows := _choices(network):
        parts.append(
            table(
                ("Of", "Decided", "What it does"),
                rows,
                caption="Decided by a person, not by the adjustment",
            )
        )
    if network.proposals:
        headers, caption = ("Station", "Proposed, and why"), "Proposed to a person"
        parts.append(table(headers, network.proposals.items(), caption=caption))
    return parts


def _choices(network: Network) -> list[tuple[str, str, str]]:
    c, t = network.choices, network.ties
    found = []
    for name in c.held:
        what = "keeps its pose to the last digit; its own error goes on into the others"
        if network.sigma()[network.station.index(name)].sum() == 0.0:
            what = "keeps its pose to the last digit; the datum, without error"
        found.append((f"station {name}", "hold", what))
    for name in c.left_out:
        found.append((f"station {name}", "leave out", "takes no part; its readings stay"))
    listed = {name: k for k, name in enumerate(t.name)}
    for name in sorted(c.ties_left_out):
        what = "takes no part" if name in listed else "there is no such tie"
        k = listed.get(name)
        if k is not None and np.isfinite(t.residual_m[k]):
            what += f"; it would differ by {figure(1e3 * t.residual_m[k], 1)} mm"
        found.append((f"tie {name}", "leave out", what))
    for name, factor in sorted(c.sigma_factor.items()):
        what = f"its standard errors are multiplied by {factor:g}"
        found.append((f"tie {name}", f"sigma factor {factor:g}", what))
    return found


def decisions_sentence(network: Network) -> str:
    """One sentence for the summary; empty where a person decided nothing."""
    c = network.choices
    counts = [
        (len(c.held), "station held", "stations held"),
        (len(c.left_out), "station left out", "stations left out"),
        (len(c.ties_left_out), "tie left out", "ties left out"),
        (len(c.sigma_factor), "tie re-weighted", "ties re-weighted"),
    ]
    told = [several(count, one, many) for count, one, many in counts if count]
    return f"Decided by a person: {', '.join(told)}." if told else ""


def nothing_decided() -> Markup:
    """What the section says where a person decided nothing."""
    return paragraph("Nothing was held, left out or re-weighted by a person; nothing is proposed.")
