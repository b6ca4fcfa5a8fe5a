# SPDX-License-Identifier: GPL-2.0-or-later
"""One station of a summary: picture, counts by flag, remarks and advice."""

from __future__ import annotations

from ..captures.model import Capture, Flag
from .capture_advice import NOTHING
from .capture_facts import CaptureFacts
from .flag_marks import WORD, symbol
from .html import Markup, bullets, paragraph, text
from .polar_picture import polar_picture


def plate(capture: Capture, facts: CaptureFacts, advice: str, anchor: str) -> str:
    """The station's part of the page, which links lead to by `anchor`."""
    again = [
        Markup(f'<span class="again">{text(remark.sentence)}</span>') for remark in facts.again
    ]
    others = [remark.sentence for remark in facts.remarks if not remark.again]
    style = "advice" if facts.again else "advice good" if advice == NOTHING else "advice look"
    return (
        f'<div class="station" id="{anchor}"><h3>{text(facts.station)}</h3>'
        f'{polar_picture(capture)}<div class="said">{paragraph(advice, style)}{_counts(facts)}'
        f"</div>{bullets([*again, *others])}</div>"
    )


def _counts(facts: CaptureFacts) -> Markup:
    """Readings by flag, usable ones first, each with its mark."""
    rows = [
        f"<tr><td>{symbol(flag)}</td><td>{text(WORD[flag])}</td>"
        f"<td class=number>{facts.flags[flag]}</td>"
        f"<td class=number>{100 * facts.flags[flag] / max(facts.readings, 1):.1f} %</td></tr>"
        for flag in Flag
        if facts.flags[flag] or flag is Flag.USABLE
    ]
    return Markup(f'<table class="counts"><tbody>{"".join(rows)}</tbody></table>')
