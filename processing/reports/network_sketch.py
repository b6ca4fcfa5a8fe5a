# SPDX-License-Identifier: GPL-2.0-or-later
"""Sketches of a network, one a storey: stations, targets, ties and error ellipses."""

from __future__ import annotations

import numpy as np

from ..angles import Floats
from ..captures.model import Survey
from ..stations.model import Network, Status, TieKind
from ..stations.statistics import ELLIPSE_FACTOR
from .html import Markup
from .sketch import Sketch, ellipse_outline

LARGEST_ELLIPSE = 40.0
"""Pixels of the half axis of the largest ellipse."""

MOST_NAMED_TARGETS = 40


def sketches_html(survey: Survey, network: Network) -> list[Markup]:
    """A sketch of each storey, with a scale bar and plan north."""
    levels = sorted({capture.level for capture in survey.captures})
    return [_sketch(survey, network, level) for level in levels]


def _ends(network: Network) -> Floats:
    """Both ends ``(T, 2, 2)`` of the ties; NaN where a tie has no other end, or where one end is
    only sketched apart and the line would say nothing."""
    t = network.ties
    apart = np.array([s is Status.UNCONNECTED for s in network.status], dtype=bool)
    ends = np.full((len(t), 2, 2), np.nan)
    ends[:, 0] = network.xy_m[t.from_station]
    to_station, to_target = t.to_station >= 0, (t.to_station < 0) & (t.to_target >= 0)
    ends[to_station, 1] = network.xy_m[t.to_station[to_station]]
    ends[to_target, 1] = network.targets.xy_m[t.to_target[to_target]]
    other = np.where(to_station, t.to_station, t.from_station)
    ends[apart[t.from_station] | apart[other]] = np.nan
    return ends


def _sketch(survey: Survey, network: Network, level: int) -> Markup:
    t = network.ties
    on_level = np.array([capture.level == level for capture in survey.captures])
    ends = _ends(network)
    drawn = on_level[t.from_station] & np.isfinite(ends).all(axis=(1, 2))
    seen = np.unique(t.to_target[drawn & (t.to_target >= 0)])
    picture = Sketch(np.vstack([network.xy_m[on_level], ends[drawn].reshape(-1, 2)]))
    is_target = np.array([kind in (TieKind.TARGET, TieKind.SURFACE) for kind in t.kind], dtype=bool)
    used = t.used.astype(bool)
    picture.lines(ends[drawn & used & is_target], 'stroke="#8a949b" stroke-width="1"')
    picture.lines(ends[drawn & used & ~is_target], 'stroke="#3b6e8f" stroke-width="2"')
    picture.lines(ends[drawn & ~used], 'stroke="#9a3412" stroke-width="1.5" stroke-dasharray="5 3"')
    exaggeration = _exaggeration(network, picture, on_level)
    for i in np.flatnonzero(on_level):
        block = network.block(int(i))[:2, :2]
        if np.isfinite(block).all() and block.trace() > 0:
            outline = ellipse_outline(network.xy_m[i], block, ELLIPSE_FACTOR * exaggeration)
            picture.outline(outline, 'fill="#3b6e8f" fill-opacity=".15" stroke="#3b6e8f"')
    picture.triangles(network.targets.xy_m[seen], 4.0, 'fill="#fff" stroke="#5d676f"')
    if len(seen) <= MOST_NAMED_TARGETS:
        names = [network.targets.name[k] for k in seen]
        picture.labels(network.targets.xy_m[seen], names, 'fill="#5d676f" font-size="9"')
    _stations(network, on_level, picture)
    picture.scale_bar()
    picture.north_arrow()
    return picture.svg(
        f"Level {level}: stations (dots; held: squares; not connected: rings), targets "
        "(triangles), sightings (grey), overlap ties (blue), ties not used (dashed); "
        f"95 % error ellipses drawn {exaggeration:g} times too large; up is plan north"
    )


def _stations(network: Network, on_level: np.ndarray, picture: Sketch) -> None:
    styles = {
        Status.HELD: (picture.squares, 4.0, 'fill="#1d2328"'),
        Status.UNCONNECTED: (picture.dots, 4.0, 'fill="#fff" stroke="#9a3412" stroke-width="1.5"'),
    }
    usual = (picture.dots, 3.5, 'fill="#1d2328"')
    for i in np.flatnonzero(on_level):
        draw, size, style = styles.get(network.status[i], usual)
        draw(network.xy_m[i : i + 1], size, style)
    names = [name for name, there in zip(network.station, on_level) if there]
    picture.labels(network.xy_m[on_level], names)


def _exaggeration(network: Network, picture: Sketch, on_level: np.ndarray) -> float:
    """A round factor that makes the storey's largest ellipse as large as it may be."""
    sigma = network.sigma()[on_level, :2]
    largest = np.nanmax(sigma) if np.isfinite(sigma).any() else 0.0
    if largest <= 0:
        return 1.0
    wanted = max(LARGEST_ELLIPSE / (ELLIPSE_FACTOR * largest * picture.scale), 1.0)
    power = 10.0 ** np.floor(np.log10(wanted))
    return float(power * max(step for step in (1, 2, 5) if step * power <= wanted))
