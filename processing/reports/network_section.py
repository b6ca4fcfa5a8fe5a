# SPDX-License-Identifier: GPL-2.0-or-later
"""The adjustment in a report, in the order in which survey reports have it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ..captures.model import Survey
from ..progress import SILENT, Progress
from ..stations.model import Network
from .html import Markup, section
from .network_decisions import decisions_html, nothing_decided
from .network_instrument import instrument_html
from .network_quality import loops_html, reliability_html
from .network_sketch import sketches_html
from .network_stations import stations_html, targets_html
from .network_summary import summary_html
from .network_ties import ties_html
from .storeys_section import storeys_html

IF_ANY = ("Storeys", "Targets")
"""Sections that are not there when nothing is in them."""


def network_section_html(survey: Survey, network: Network, progress: Progress = SILENT) -> Markup:
    """HTML sections: the verdict and its figures, a sketch a storey, decisions, stations, targets,
    observations, reliability, loops and the instrument; of storeys and targets where there are
    any."""
    made: list[tuple[str, Callable[[], Sequence[Markup]]]] = [
        ("Adjustment", lambda: summary_html(survey, network)),
        ("Network", lambda: sketches_html(survey, network)),
        ("Storeys", lambda: storeys_html(survey, network)),
        ("Decisions", lambda: decisions_html(network) or [nothing_decided()]),
        ("Stations", lambda: stations_html(survey, network)),
        ("Targets", lambda: targets_html(network)),
        ("Ties", lambda: ties_html(survey, network)),
        ("Reliability", lambda: reliability_html(network)),
        ("Loops", lambda: loops_html(network)),
        ("Instrument", lambda: instrument_html(survey, network)),
    ]
    sections = [(title, make()) for title, make in progress.over(made)]
    sections = [(title, parts) for title, parts in sections if parts or title not in IF_ANY]
    return Markup("\n".join(section(title, *parts) for title, parts in sections))
