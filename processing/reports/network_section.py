# SPDX-License-Identifier: GPL-2.0-or-later
"""The adjustment in a report: statistics, stations, ties, and a sketch of the network."""

from __future__ import annotations

import numpy as np

from ..angles import wrap_full_deg
from ..captures.instrument_errors import (
    REACH_M,
    InstrumentErrors,
    effects,
    stated_errors,
    told,
)
from ..captures.model import Survey
from ..stations.model import Network, Status, TieKind
from ..stations.statistics import ELLIPSE_FACTOR, error_ellipse
from ..stations.systematics import describe
from .html import Markup, bullets, facts, paragraph, section, table
from .sketch import Sketch, ellipse_outline
from .storeys_section import storeys_html

MM = 1000.0
MOST_LOOPS = 10
ROUNDING = 1e-9
STATUS_NOTE = {
    Status.UNCONNECTED: "no tie: sketched apart",
    Status.HELD: "held",
    Status.ADJUSTED: "",
    Status.AS_RECORDED: "as recorded",
}


def figure(value: float, digits: int) -> str:
    """A number with a fixed count of digits; a dash where there is none."""
    return "–" if not np.isfinite(value) else f"{value:.{digits}f}"


def network_section_html(survey: Survey, network: Network) -> Markup:
    """HTML sections on the network's statistics, stations and ties, with a sketch a storey."""
    storeys = storeys_html(survey, network)
    return Markup(
        "\n".join(
            [
                section("Adjustment", _statistics(network), bullets(network.warnings)),
                section("Network", *_sketches(survey, network)),
                *([section("Storeys", *storeys)] if storeys else []),
                section("Stations", _stations(survey, network)),
                section("Ties", *_ties(network)),
                section("Loops", *_loops(network)),
                section("Instrument", *_instrument(survey, network)),
            ]
        )
    )


def _statistics(network: Network) -> Markup:
    s = network.statistics
    test = (
        f"{s.reference_variance:.3f}, between {s.lower_bound:.3f} and {s.upper_bound:.3f} at 95 %: "
        + ("passed" if s.passes else "not passed")
        if s.degrees_of_freedom
        else "none: no redundant observation, so nothing is checked"
    )
    return facts(
        [
            ("Stations", len(network)),
            ("Connected groups", len(network.groups)),
            ("Unconnected stations", s.unconnected_stations),
            ("Ties used", int(network.ties.used.sum())),
            ("Ties rejected or left out", len(_left_out(network))),
            ("Degrees of freedom", s.degrees_of_freedom),
            ("Reference variance (chi-square test)", test),
            ("Largest standardised residual", figure(s.largest_standardised_residual, 2)),
        ]
    )


def _stations(survey: Survey, network: Network) -> Markup:
    sigma = network.sigma()
    blocks = np.array([network.block(i)[:2, :2] for i in range(len(network))]).reshape(-1, 2, 2)
    major, minor, _ = error_ellipse(blocks)
    rows = [
        (
            name,
            survey.captures[i].level,
            network.network[i],
            figure(network.xy_m[i, 0], 3),
            figure(network.xy_m[i, 1], 3),
            figure(float(wrap_full_deg(np.degrees(network.orientation_rad[i]))), 3),
            figure(sigma[i, 0] * MM, 1),
            figure(sigma[i, 1] * MM, 1),
            figure(float(np.degrees(sigma[i, 2])), 4),
            f"{figure(major[i] * MM, 1)} × {figure(minor[i] * MM, 1)}",
            STATUS_NOTE[network.status[i]],
        )
        for i, name in enumerate(network.station)
    ]
    headers = (
        "Station",
        "Level",
        "Group",
        "x (m)",
        "y (m)",
        "Orientation (deg)",
        "σ x (mm)",
        "σ y (mm)",
        "σ orientation (deg)",
        "95 % ellipse, half axes (mm)",
        "",
    )
    return table(
        headers, rows, range(1, 10), "Plan coordinates, standard errors 1 sigma, plan north is +y"
    )


def _left_out(network: Network) -> list[int]:
    """Ties that could have been used; geotags only say where groups are drawn."""
    t = network.ties
    return [i for i in range(len(t)) if not t.used[i] and t.kind[i] is not TieKind.GEOTAG]


def _ties(network: Network) -> list[Markup]:
    t = network.ties
    order = sorted(range(len(t)), key=lambda i: (bool(t.used[i]), t.kind[i].value, t.name[i]))
    headers = (
        "Tie",
        "From",
        "To",
        "Kind",
        "Residual (mm)",
        "Residual (deg)",
        "Standardised",
        "Redundancy",
        "Remark",
    )

    def row(i: int) -> tuple[object, ...]:
        if t.to_station[i] >= 0:
            far = network.station[t.to_station[i]]
        else:
            far = network.targets.name[t.to_target[i]] if t.to_target[i] >= 0 else ""
        return (
            t.name[i],
            network.station[t.from_station[i]],
            far,
            t.kind[i].value,
            figure(t.residual_m[i] * MM, 1),
            figure(float(np.degrees(t.residual_rad[i])), 3),
            figure(t.standardised[i], 2),
            figure(t.redundancy[i], 2),
            t.reason[i],
        )

    out = set(_left_out(network))
    left_out = [row(i) for i in order if i in out]
    used = [row(i) for i in order if t.used[i]]
    parts = []
    if left_out:
        parts.append(table(headers, left_out, range(4, 8), "Rejected or left out, with the reason"))
    else:
        parts.append(paragraph("No tie was rejected."))
    if used:
        parts.append(table(headers, used, range(4, 8), "Used in the adjustment"))
    return parts


def _loops(network: Network) -> list[Markup]:
    """Misclosures as of traverses, the worst of them by name."""
    if not network.loops:
        return [paragraph("No independent loop: nothing closes, and no misclosure can be told.")]
    size = np.array([loop.misclosure_m for loop in network.loops])
    rows = [
        (
            ", ".join(network.station[s] for s in loop.stations),
            figure(loop.length_m, 1),
            figure(loop.misclosure_m * MM, 1),
            figure(float(np.degrees(loop.misclosure_rad)), 4),
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
            f"The largest misclosures; {more} smaller ones are left out" if more > 0 else "",
        ),
    ]


def _instrument(survey: Survey, network: Network) -> list[Markup]:
    """What the readings say about the instrument, and what they were freed of."""
    if network.systematics is None:
        looked = paragraph("Systematic errors of the instrument were not looked for.")
        return [*_stated(survey, network), looked]
    parts = [
        paragraph(
            "All captures are taken as one instrument's. What walls, targets and poses cannot take "
            "up tells its systematic errors (standard errors 1 sigma):"
        ),
        bullets(describe(network.systematics)),
    ]
    if network.corrected is not None:
        rows = [
            (name, value, effect)
            for name, value, effect in effects(network.corrected.vector)
            if not value.startswith(("0.00 mm", "0 ppm"))
        ]
        headers = ("Corrected", "Value", f"Effect at {REACH_M:g} m")
        parts.insert(0, table(headers, rows, (1,), "Taken out of all readings"))
    return [*_stated(survey, network), *parts]


def _stated(survey: Survey, network: Network) -> list[Markup]:
    """What the capture files state of the instrument, and were freed of at import."""
    found = np.zeros(3) if network.corrected is None else network.corrected.vector
    stations: dict[str, list[str]] = {}
    for capture in survey.captures:
        errors = stated_errors(capture)
        rest = np.array([errors.zero_m, errors.eccentricity_m, errors.angle_scale]) - found
        rest[np.abs(rest) < ROUNDING] = 0.0
        if phrases := told(InstrumentErrors(*rest.tolist())):
            stations.setdefault(", ".join(phrases), []).append(capture.station)
    return [
        paragraph(f"Given in the capture files and taken out, {', '.join(names)}: {text}.")
        for text, names in stations.items()
    ]


def _sketches(survey: Survey, network: Network) -> list[Markup]:
    levels = sorted({capture.level for capture in survey.captures})
    return [_sketch(survey, network, level) for level in levels]


def _sketch(survey: Survey, network: Network, level: int) -> Markup:
    t = network.ties
    on_level = np.array([capture.level == level for capture in survey.captures])
    drawn = on_level[t.from_station]
    ends = np.full((len(t), 2, 2), np.nan)
    ends[:, 0] = network.xy_m[t.from_station]
    for i in range(len(t)):
        if t.to_station[i] >= 0:
            ends[i, 1] = network.xy_m[t.to_station[i]]
        elif t.to_target[i] >= 0:
            ends[i, 1] = network.targets.xy_m[t.to_target[i]]
    drawn &= np.isfinite(ends).all(axis=(1, 2))
    picture = Sketch(np.vstack([network.xy_m[on_level], ends[drawn].reshape(-1, 2)]))
    is_target = np.array([kind in (TieKind.TARGET, TieKind.SURFACE) for kind in t.kind], dtype=bool)
    used = t.used.astype(bool)
    picture.lines(ends[drawn & used & is_target], 'stroke="#8a949b" stroke-width="1"')
    picture.lines(ends[drawn & used & ~is_target], 'stroke="#3b6e8f" stroke-width="2"')
    picture.lines(ends[drawn & ~used], 'stroke="#9a3412" stroke-width="1" stroke-dasharray="4 3"')
    exaggeration = _exaggeration(network, picture)
    for i in np.flatnonzero(on_level):
        block = network.block(int(i))[:2, :2]
        if np.isfinite(block).all() and block.trace() > 0:
            outline = ellipse_outline(network.xy_m[i], block, ELLIPSE_FACTOR * exaggeration)
            picture.outline(outline, 'fill="#3b6e8f" fill-opacity=".15" stroke="#3b6e8f"')
    picture.dots(network.xy_m[on_level], 3.5, 'fill="#1d2328"')
    names = [name for name, there in zip(network.station, on_level) if there]
    picture.labels(network.xy_m[on_level], names)
    return picture.svg(
        f"Level {level}: stations, sightings (grey), overlap ties (blue), ties not used (dashed); "
        f"95 % error ellipses drawn {exaggeration:.0f} times too large"
    )


def _exaggeration(network: Network, picture: Sketch) -> float:
    """A round factor that makes the largest ellipse some 25 pixels."""
    sigma = network.sigma()[:, :2]
    largest = np.nanmax(sigma) if np.isfinite(sigma).any() else 0.0
    if largest <= 0:
        return 1.0
    wanted = max(25.0 / (ELLIPSE_FACTOR * largest * picture.scale), 1.0)
    power = 10.0 ** np.floor(np.log10(wanted))
    return float(power * max(step for step in (1, 2, 5) if step * power <= wanted))
