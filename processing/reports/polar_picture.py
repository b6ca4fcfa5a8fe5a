# SPDX-License-Identifier: GPL-2.0-or-later
"""A small picture of one capture, as SVG for a report."""

from __future__ import annotations

import numpy as np

from ..angles import Floats, turn, unit
from ..captures.model import Capture, Flag, Kind
from .flag_marks import INK, MARKS, SOFT
from .html import Markup, text

SIZE = 3000
"""Tenths of a pixel: whole numbers keep the pictures of a long report small."""

MARGIN = 190
RIM = 60
MARK = "#1f5f8b"
GRID = "#d5dade"
_MEASURED = (Flag.DUPLICATE, Flag.PASSER_BY, Flag.TILTED, Flag.MOVED, Flag.CLUTTER, Flag.RETAKEN)
"""Not used, but at a place where something was: the frame holds them."""
_FRAMED = [int(flag) for flag in (*_MEASURED, Flag.USABLE)]
_WIDE = 1_000_000  # more than a picture is high


def polar_picture(capture: Capture) -> Markup:
    """The readings of a capture around the instrument: usable ones dark, flagged ones by
    `flag_marks`, short strokes at the rim where nothing came back, sighted targets as squares,
    rings at round distances. Up is magnetic north with a compass, else the zero direction."""
    orientation = float(np.radians(np.nan_to_num(capture.magnetic_azimuth_deg)))
    xy = turn(capture.xy_m, orientation)
    shown = np.isfinite(xy[:, 0])
    usable = capture.usable & shown
    framed = shown & np.isin(capture.flag, _FRAMED)
    basis = xy[framed] if framed.any() else xy[shown]
    low = np.min(basis, axis=0, initial=-0.5)
    high = np.max(basis, axis=0, initial=0.5)
    scale = (SIZE - 2 * MARGIN) / float(np.max(high - low))
    middle = (low + high) / 2

    def placed(points: Floats) -> Floats:
        return np.asarray((points - middle) * [scale, -scale] + SIZE / 2)

    at = placed(xy)
    inside = shown & np.all((at >= RIM) & (at <= SIZE - RIM), axis=1)
    ring = capture.kind != Kind.TARGET
    x, y = placed(np.zeros(2))
    dx, dy = 170.0 * unit(orientation) * [1, -1]
    parts = [
        *_rings(x, y, scale),
        _lost(capture, orientation, np.array([x, y])),
        _north(capture),
        *(
            _marks(at[inside & (capture.flag == flag)], flag)
            for flag in Flag
            if flag not in (Flag.USABLE, Flag.NO_RETURN)
        ),
        _dots(at[inside & usable & ring], INK, 17),
        f'<path d="M{x:.0f} {y:.0f}l{dx:.0f} {dy:.0f}" stroke="{MARK}" stroke-width="14"/>',
        f'<circle cx="{x:.0f}" cy="{y:.0f}" r="32" fill="#fff" stroke="{MARK}" stroke-width="15"/>',
        *_targets(capture, at, inside & usable & ~ring),
    ]
    label = f"Readings of station {capture.station}"
    outside = int((shown & ~inside).sum())
    svg = (
        f'<svg viewBox="0 0 {SIZE} {SIZE}" width="240" height="240" role="img" '
        f'aria-label="{text(label)}" fill="none" font-size="115" font-family="inherit">'
        f'<rect x="5" y="5" width="{SIZE - 10}" height="{SIZE - 10}" stroke="{GRID}" '
        f'stroke-width="10"/>{"".join(parts)}</svg>'
    )
    beyond = {0: "", 1: "One flagged reading lies beyond."}.get(
        outside, f"{outside} flagged readings lie beyond."
    )
    caption = f"<figcaption>{beyond}</figcaption>" if beyond else ""
    return Markup(f"<figure>{svg}{caption}</figure>")


def _spots(xy: Floats, every: int) -> tuple[list[int], list[int]]:
    """Points ``(n, 2)`` as whole numbers; those on one spot are one."""
    whole = np.round(xy / every).astype(np.int64) * every
    # A pair as one number: sorted and made unique much faster than rows.
    x, y = np.divmod(np.unique(whole[:, 0] * _WIDE + whole[:, 1]), _WIDE)
    return x.tolist(), y.tolist()


def _dots(xy: Floats, colour: str, width: int) -> str:
    """One path of round dots.

    A dot is a stroke with round ends and hardly any length: some viewers draw none without."""
    if not len(xy):
        return ""
    x, y = _spots(xy, 4)
    # Each from the end of the one before: small numbers.
    dx = np.diff(x, prepend=1) - 1
    dy = np.diff(y, prepend=0)
    path = ("m%d %dh1" * len(x)) % tuple(np.stack([dx, dy], axis=-1).ravel().tolist())
    return f'<path d="M0 0{path}" stroke="{colour}" stroke-width="{width}" stroke-linecap="round"/>'


def _marks(xy: Floats, flag: Flag) -> str:
    mark = MARKS[flag]
    if not mark.cross or not len(xy):
        return _dots(xy, mark.colour, 30)
    x, y = _spots(xy, 4)
    path = "".join(f"M{u - 18} {v - 18}l36 36m0-36l-36 36" for u, v in zip(x, y))
    return f'<path d="{path}" stroke="{mark.colour}" stroke-width="10"/>'


def _lost(capture: Capture, orientation: float, start: Floats) -> str:
    """Strokes just inside the frame in the directions from which nothing came back."""
    lost = (capture.flag == Flag.NO_RETURN) & (capture.kind == Kind.RING)
    if not lost.any():
        return ""
    # Half a degree is a pixel and a half there.
    azimuth = np.unique(np.round(2.0 * (capture.angle_deg[lost] + np.degrees(orientation))) % 720)
    way = unit(np.radians(azimuth / 2.0)) * [1, -1]
    with np.errstate(divide="ignore"):
        far = np.where(way > 0, SIZE - RIM - start, start - RIM) / np.abs(way)
    end = start + far.min(axis=1)[:, None] * way
    path = "".join(
        f"M{x:.0f} {y:.0f}l{-60 * dx:.0f} {-60 * dy:.0f}" for (x, y), (dx, dy) in zip(end, way)
    )
    return f'<path d="{path}" stroke="{SOFT}" stroke-width="12"/>'


def _rings(x: float, y: float, scale: float) -> list[str]:
    """Circles at round distances about the instrument, with their radius in metres."""
    far = max(np.hypot(u - x, v - y) for u in (0, SIZE) for v in (0, SIZE)) / scale
    reach = max(x, y, SIZE - x, SIZE - y) / scale
    least = reach / 3.2
    power = 10.0 ** np.floor(np.log10(least))
    step = power * next(number for number in (1.0, 2.0, 5.0, 10.0) if number * power >= least)
    parts = []
    for number in range(1, int(far / step) + 1):
        radius = number * step * scale
        parts.append(
            f'<circle cx="{x:.0f}" cy="{y:.0f}" r="{radius:.0f}" stroke="{GRID}" stroke-width="8"/>'
        )
        # Where it meets the vertical or the horizontal through the instrument, if in the frame.
        spots = [(x, y + radius), (x, y - radius), (x + radius, y), (x - radius, y)]
        there = [(u, v) for u, v in spots if 150 < u < SIZE - 150 and 330 < v < SIZE - 90]
        if there:
            u, v = there[0]
            word = f"{number * step:g} m"
            wide = 62 * len(word) + 20
            parts.append(
                f'<rect x="{u - wide / 2:.0f}" y="{v - 62:.0f}" width="{wide}" height="124" '
                f'fill="#fff"/><text x="{u:.0f}" y="{v + 40:.0f}" text-anchor="middle" '
                f'fill="#5d676f">{word}</text>'
            )
    return parts


def _targets(capture: Capture, at: Floats, which: np.ndarray) -> list[str]:
    """Squares with names, each name where it covers no other."""
    first: dict[str, Floats] = {}
    for index in np.flatnonzero(which):
        first.setdefault(str(capture.target[index]), at[index])
    parts = []
    taken: list[tuple[float, float, float, float]] = []
    for name, (x, y) in first.items():
        short = name if len(name) <= 14 else f"{name[:13]}…"
        wide = 74.0 * len(short)
        spots = [
            (x + 50, y - 25),
            (x + 50, y + 105),
            (x - 50 - wide, y - 25),
            (x - wide / 2, y - 70),
        ]
        boxes = [
            (left, base - 90, left + wide, base)
            for left, base in spots
            if left > 20 and left + wide < SIZE - 20 and 300 < base < SIZE - 20
        ]
        free = [box for box in boxes if not any(_overlap(box, other) for other in taken)]
        box = (free or boxes or [(x + 50, y - 115, x + 50 + wide, y - 25)])[0]
        taken.append(box)
        parts.append(
            f'<rect x="{x - 30:.0f}" y="{y - 30:.0f}" width="60" height="60" fill="#fff" '
            f'stroke="{MARK}" stroke-width="15"/><text x="{box[0]:.0f}" y="{box[3]:.0f}" '
            f'fill="{MARK}">{text(short)}</text>'
        )
    return parts


def _overlap(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _north(capture: Capture) -> str:
    word = "magnetic north" if capture.has_compass else "zero direction"
    wide = 250 + 60 * len(word)
    return (
        f'<rect x="10" y="10" width="{wide}" height="270" fill="#fff"/>'
        f'<path d="M100 240v-150m-35 50l35-50l35 50" stroke="{INK}" stroke-width="12"/>'
        f'<text x="165" y="200" fill="{INK}">{word}</text>'
    )
