# SPDX-License-Identifier: GPL-2.0-or-later
"""What was adjusted, how, and how good it is: the first page of a network's report."""

from __future__ import annotations

import numpy as np

from ..captures.model import Survey
from ..stations.model import Network, Status
from ..stations.statistics import error_ellipse
from .html import Markup, bullets, facts, paragraph, table
from .network_decisions import decisions_sentence
from .network_names import left_out_ties
from .values import MM, figure, several

PLURALS = {"wall or surface": "walls and surfaces"}


def summary_html(survey: Survey, network: Network) -> list[Markup]:
    """The verdict in words, the figures, what was observed, and what should be read first."""
    return [
        paragraph(_verdict(network), "lead"),
        _figures(survey, network),
        *_observations(network),
        bullets(network.warnings),
    ]


def _verdict(network: Network) -> str:
    s = network.statistics
    tied = sum(status is not Status.UNCONNECTED for status in network.status)
    groups = several(len(network.groups), "connected group")
    sentences = [f"{tied} of {several(len(network), 'station')} are tied, in {groups}."]
    if not s.degrees_of_freedom:
        sentences.append("No observation is redundant: nothing checks the others.")
    else:
        between = (
            f"the reference variance {s.reference_variance:.2f} lies "
            f"{'within' if s.passes else 'outside'} {s.lower_bound:.2f} to {s.upper_bound:.2f}"
        )
        meaning = "as well as their standard errors say"
        if not s.passes:
            low = s.reference_variance < s.lower_bound
            meaning = f"{'better' if low else 'worse'} than their standard errors say"
        sentences.append(f"The observations agree {meaning}: {between} (chi-square test, 95 %).")
    sentences.append(_least_certain(network))
    sentences.append(decisions_sentence(network))
    return " ".join(sentence for sentence in sentences if sentence)


def _least_certain(network: Network) -> str:
    blocks = np.array([network.block(i)[:2, :2] for i in range(len(network))]).reshape(-1, 2, 2)
    known = np.isfinite(blocks).all(axis=(1, 2))
    if not known.any():
        return ""
    major = np.where(known, error_ellipse(np.where(known[:, None, None], blocks, 0.0))[0], -1.0)
    worst = int(np.argmax(major))
    return (
        f"The least certain position is that of {network.station[worst]}: its 95 % ellipse reaches "
        f"{MM * major[worst]:.1f} mm."
    )


def _figures(survey: Survey, network: Network) -> Markup:
    s = network.statistics
    test = (
        f"{s.reference_variance:.3f}, between {s.lower_bound:.3f} and {s.upper_bound:.3f} at 95 %: "
        + ("passed" if s.passes else "not passed")
        if s.degrees_of_freedom
        else "none: no redundant observation, so nothing is checked"
    )
    return facts(
        [
            ("Method", "weighted least squares, each connected group in one adjustment"),
            ("Datum", _datum(network)),
            ("Standard error of a distance", _range(survey, "distance_sigma_m", MM, "mm")),
            ("Standard error of an angle", _range(survey, "angle_sigma_deg", 1.0, "deg")),
            ("Stations", len(network)),
            ("Connected groups", len(network.groups)),
            ("Unconnected stations", s.unconnected_stations),
            ("Ties used", int(network.ties.used.sum())),
            ("Ties rejected or left out", len(left_out_ties(network))),
            ("Degrees of freedom", s.degrees_of_freedom),
            ("Reference variance (chi-square test)", test),
            ("Largest standardised residual", figure(s.largest_standardised_residual, 2)),
            ("Rejected beyond", "|w| 3.29; chi-square 16.27 of correlated ties (0.1 %)"),
        ]
    )


def _datum(network: Network) -> str:
    held = [n for n, status in zip(network.station, network.status) if status is Status.HELD]
    if held:
        return f"{', '.join(held)} held"
    free = "free network, inner constraints over the stations"
    if network.joined_since:
        return f"{free} that were connected before: all but {', '.join(network.joined_since)}"
    return free


def _range(survey: Survey, name: str, factor: float, unit: str) -> str:
    values = np.array([getattr(capture, name) for capture in survey.captures], dtype=float) * factor
    values = values[np.isfinite(values)]
    if not len(values):
        return "–"
    low, high = f"{values.min():.3g}", f"{values.max():.3g}"
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def _observations(network: Network) -> list[Markup]:
    s = network.statistics
    if not s.observations:
        return []
    unknowns = ", ".join(
        several(count, word, PLURALS.get(word, "")) for word, count in s.unknowns if count
    )
    rows = [(word, count, count - used, used) for word, count, used in s.observations]
    return [
        table(
            ("Observations", "All", "Not used", "Used"),
            rows,
            (1, 2, 3),
            f"What was observed; unknown are {unknowns}",
        )
    ]
