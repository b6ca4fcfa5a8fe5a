# SPDX-License-Identifier: GPL-2.0-or-later
"""Small drawings for reports: plan coordinates into inline SVG."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from ..angles import Floats
from .html import Markup, text

MARGIN = 26.0


class Sketch:
    """An SVG drawing in plan coordinates (metres, y up), fitted to a width in pixels."""

    def __init__(self, extent: Floats, width: float = 760.0, height: float = 520.0) -> None:
        """`extent (n, 2)`: points that must be inside."""
        inside = extent[np.isfinite(extent).all(axis=1)]
        low = inside.min(axis=0) if len(inside) else np.zeros(2)
        high = inside.max(axis=0) if len(inside) else np.ones(2)
        size = np.maximum(high - low, 1.0)
        self.scale = float(min((width - 2 * MARGIN) / size[0], (height - 2 * MARGIN) / size[1]))
        self.low = low
        self.width = 2 * MARGIN + self.scale * float(size[0])
        self.height = 2 * MARGIN + self.scale * float(size[1])
        self.parts: list[str] = []

    def at(self, xy: Floats) -> Floats:
        """Pixels ``(..., 2)`` of plan points ``(..., 2)``."""
        pixels = MARGIN + (np.asarray(xy, dtype=float) - self.low) * self.scale
        pixels[..., 1] = self.height - pixels[..., 1]
        return pixels

    def lines(self, ends: Floats, style: str) -> None:
        """Two-point lines ``(n, 2, 2)`` in one path."""
        if len(ends):
            path = "".join(
                f"M{a[0]:.1f} {a[1]:.1f}L{b[0]:.1f} {b[1]:.1f}" for a, b in self.at(ends)
            )
            self.parts.append(f'<path d="{path}" fill="none" {style}/>')

    def outline(self, xy: Floats, style: str) -> None:
        """A closed outline ``(n, 2)``."""
        path = "L".join(f"{x:.1f} {y:.1f}" for x, y in self.at(xy))
        self.parts.append(f'<path d="M{path}Z" {style}/>')

    def dots(self, xy: Floats, radius: float, style: str) -> None:
        """Round marks ``(n, 2)``."""
        self.parts.extend(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius}" {style}/>'
            for x, y in self.at(xy)
            if np.isfinite(x)
        )

    def squares(self, xy: Floats, radius: float, style: str) -> None:
        """Square marks ``(n, 2)``."""
        self.parts.extend(
            f'<rect x="{x - radius:.1f}" y="{y - radius:.1f}" width="{2 * radius:.1f}" '
            f'height="{2 * radius:.1f}" {style}/>'
            for x, y in self.at(xy)
            if np.isfinite(x)
        )

    def triangles(self, xy: Floats, radius: float, style: str) -> None:
        """Triangular marks ``(n, 2)``."""
        self.parts.extend(
            f'<path d="M{x:.1f} {y - radius:.1f}l{radius:.1f} {1.7 * radius:.1f}'
            f'h{-2 * radius:.1f}Z" {style}/>'
            for x, y in self.at(xy)
            if np.isfinite(x)
        )

    def scale_bar(self) -> None:
        """A bar of a round length at the lower left, with its length in metres."""
        power = 10.0 ** np.floor(np.log10(0.25 * self.width / self.scale))
        steps = [step * power for step in (1, 2, 5) if step * power * self.scale < 0.3 * self.width]
        length = float(max(steps))
        y = self.height - 8.0
        x = MARGIN + self.scale * length
        self.parts.append(
            f'<path d="M{MARGIN} {y - 4:.1f}v4H{x:.1f}v-4" fill="none" stroke="#1d2328"/>'
            f'<text x="{x + 5:.1f}" y="{y:.1f}">{length:g} m</text>'
        )

    def north_arrow(self) -> None:
        """An arrow to plan north at the upper right."""
        x = self.width - 12.0
        self.parts.append(
            f'<path d="M{x:.1f} 34V8l-4 9M{x:.1f} 8l4 9" fill="none" stroke="#1d2328"/>'
            f'<text x="{x:.1f}" y="46" text-anchor="middle">N</text>'
        )

    def labels(self, xy: Floats, words: Sequence[object], style: str = "") -> None:
        """Words beside points ``(n, 2)``."""
        self.parts.extend(
            f'<text x="{x + 6:.1f}" y="{y - 6:.1f}" {style}>{text(word)}</text>'
            for (x, y), word in zip(self.at(xy), words)
            if np.isfinite(x)
        )

    def svg(self, title: str) -> Markup:
        """The drawing as a figure with its title."""
        head = (
            f'<svg viewBox="0 0 {self.width:.0f} {self.height:.0f}" width="{self.width:.0f}" '
            f'role="img" font-family="inherit" font-size="11">'
        )
        return Markup(
            f"<figure>{head}<title>{text(title)}</title>{''.join(self.parts)}</svg>"
            f"<figcaption>{text(title)}</figcaption></figure>"
        )


def rings_of(shape: Any) -> list[Floats]:
    """The outer rings ``(n, 2)`` of the polygons in a shape."""
    return [
        shapely.get_coordinates(part.exterior)
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon"
    ]


def ellipse_outline(xy: Floats, covariance: Floats, factor: float, steps: int = 40) -> Floats:
    """Outline ``(steps, 2)`` of an error ellipse about a point: `factor` times the standard
    ellipse of a covariance ``(2, 2)`` (2.448 for 95 %)."""
    values, vectors = np.linalg.eigh(covariance)
    t = np.linspace(0.0, 2 * np.pi, steps, endpoint=False)
    axes = factor * np.sqrt(np.maximum(values, 0.0))
    return xy + (np.column_stack([np.cos(t), np.sin(t)]) * axes) @ vectors.T
