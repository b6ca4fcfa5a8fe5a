# SPDX-License-Identifier: GPL-2.0-or-later
"""A small picture of one capture, as SVG for a report."""

from __future__ import annotations

import numpy as np

from ..angles import Floats, turn
from ..captures.model import Capture, Flag, Kind
from .html import Markup, text

SIZE = 300.0
MARGIN = 14.0
INK, MUTED, MARK = "#1d2328", "#c98b6b", "#1f5f8b"
_WIDE = 1_000_000  # more tenths than a picture is high
_BARS_M = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0)


def _dots(xy: Floats, colour: str, width: float) -> str:
    """Points ``(n, 2)`` in picture units as one path of dots; dots on one spot are one.

    A dot is a stroke with round ends and hardly any length: some viewers draw none without."""
    if not len(xy):
        return ""
    # Tenths as whole numbers, a pair as one: sorted and made text much faster than rows of floats.
    tenths = np.round(xy * 10.0).astype(np.int64)
    x, y = np.divmod(np.unique(tenths[:, 0] * _WIDE + tenths[:, 1]), _WIDE)
    spots = np.stack([x, y], axis=-1) / 10.0
    path = ("M%g %gh.01" * len(spots)) % tuple(spots.ravel().tolist())
    return f'<path d="{path}" stroke="{colour}" stroke-width="{width}" stroke-linecap="round"/>'


def polar_picture(capture: Capture) -> Markup:
    """The readings of a capture around the instrument: usable ones dark, flagged ones muted,
    sighted targets as squares. Up is magnetic north with a compass, else the zero direction."""
    orientation = np.radians(np.nan_to_num(capture.magnetic_azimuth_deg))
    xy = turn(capture.xy_m, float(orientation))
    shown = np.isfinite(xy[:, 0])
    usable = capture.usable & shown
    basis = xy[usable] if usable.any() else xy[shown]
    low = np.min(basis, axis=0, initial=-0.5)
    high = np.max(basis, axis=0, initial=0.5)
    scale = (SIZE - 2 * MARGIN) / float(np.max(high - low))
    middle = (low + high) / 2

    def placed(points: Floats) -> Floats:
        return (points - middle) * [scale, -scale] + SIZE / 2

    at = placed(xy)
    inside = shown & np.all((at >= 0) & (at <= SIZE), axis=1)
    ring = capture.kind != Kind.TARGET
    flagged = inside & ~capture.usable
    outside = int((shown & ~inside).sum())
    x, y = placed(np.zeros(2))
    zero = placed(turn(np.array([0.0, 1.0]), float(orientation))) - (x, y)
    dx, dy = 16.0 * zero / np.hypot(*zero)

    parts = [
        _dots(at[flagged], MUTED, 2.2),
        _dots(at[inside & usable & ring], INK, 1.6),
        f'<path d="M{x:.1f} {y:.1f}l{dx:.1f} {dy:.1f}" stroke="{MARK}" stroke-width="1.2"/>',
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="#fff" stroke="{MARK}" stroke-width="1.4"/>',
        *_targets(capture, at, inside & usable & ~ring),
        _bar(scale),
        _north(capture),
    ]
    label = f"Readings of station {capture.station}"
    svg = (
        f'<svg viewBox="0 0 {SIZE:g} {SIZE:g}" width="{SIZE:g}" height="{SIZE:g}" role="img" '
        f'aria-label="{text(label)}" fill="none" font-size="9" font-family="inherit">'
        f'<rect x=".5" y=".5" width="{SIZE - 1:g}" height="{SIZE - 1:g}" stroke="#d5dade"/>'
        f"{''.join(parts)}</svg>"
    )
    beyond = {0: "", 1: " One flagged reading lies outside the picture."}.get(
        outside, f" {outside} flagged readings lie outside the picture."
    )
    no_return = int((capture.flag == Flag.NO_RETURN).sum())
    caption = (
        f"{int(capture.usable.sum())} usable, {len(capture) - int(capture.usable.sum())} flagged "
        f"({no_return} without return).{beyond}"
    )
    return Markup(f"<figure>{svg}<figcaption>{text(caption)}</figcaption></figure>")


def _targets(capture: Capture, at: Floats, which: np.ndarray) -> list[str]:
    names: dict[str, Floats] = {}
    for index in np.flatnonzero(which):
        names.setdefault(str(capture.target[index]), at[index])
    parts = []
    for name, (x, y) in names.items():
        side, anchor = (-5, "end") if x > SIZE - 30 else (5, "start")
        parts.append(
            f'<rect x="{x - 2.5:.1f}" y="{y - 2.5:.1f}" width="5" height="5" fill="#fff" '
            f'stroke="{MARK}"/><text x="{x + side:.1f}" y="{y - 3:.1f}" text-anchor="{anchor}" '
            f'fill="{MARK}">{text(name)}</text>'
        )
    return parts


def _bar(scale: float) -> str:
    """A scale bar of a round length, about a quarter of the picture."""
    length = min(_BARS_M, key=lambda metres: abs(metres * scale - SIZE / 4))
    right = SIZE - 8 - length * scale
    return (
        f'<path d="M{right:.1f} {SIZE - 8:g}h{length * scale:.1f}" stroke="{INK}" '
        f'stroke-width="1.2"/><text x="{SIZE - 8:g}" y="{SIZE - 12:g}" text-anchor="end" '
        f'fill="{INK}">{length:g} m</text>'
    )


def _north(capture: Capture) -> str:
    word = "magnetic north" if capture.has_compass else "zero direction"
    return (
        f'<path d="M10 22v-14m-3 4l3-4l3 4" stroke="{INK}"/>'
        f'<text x="17" y="17" fill="{INK}">{word}</text>'
    )
