# SPDX-License-Identifier: GPL-2.0-or-later
"""The adjustment in a report, in the order in which survey reports have it."""

from __future__ import annotations

from ..captures.model import Survey
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


def network_section_html(survey: Survey, network: Network) -> Markup:
    """HTML sections: the verdict and its figures, a sketch a storey, decisions, stations, targets,
    observations, reliability, loops and the instrument."""
    storeys = storeys_html(survey, network)
    targets = targets_html(network)
    sections = [
        ("Adjustment", summary_html(survey, network)),
        ("Network", sketches_html(survey, network)),
        *([("Storeys", storeys)] if storeys else []),
        ("Decisions", decisions_html(network) or [nothing_decided()]),
        ("Stations", stations_html(survey, network)),
        *([("Targets", targets)] if targets else []),
        ("Ties", ties_html(survey, network)),
        ("Reliability", reliability_html(network)),
        ("Loops", loops_html(network)),
        ("Instrument", instrument_html(survey, network)),
    ]
    return Markup("\n".join(section(title, *parts) for title, parts in sections))
