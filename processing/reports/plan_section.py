# SPDX-License-Identifier: GPL-2.0-or-later
"""The plan in a report: its sketch, rooms and areas, openings, walls."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..walls.model import Plan, WallFaces
from .html import Markup
from .rooms_section import openings_section_html, rooms_section_html
from .sketch import Sketch
from .walls_section import walls_section_html


def plan_section_html(plans: Sequence[Plan], measured: WallFaces | None = None) -> Markup:
    """HTML sections on rooms, openings and walls; the rooms of the finest plot scale. `measured`
    are the faces before they were drawn."""
    if not plans:
        return Markup("")
    finest = plans[0]
    drawn = [(plan.walls, plan.moved_m) for plan in plans]
    return Markup(
        "\n".join(
            [
                rooms_section_html(finest.rooms, *_sketches(finest)),
                openings_section_html(finest.rooms, finest.openings),
                walls_section_html(drawn, finest.bounding, measured),
            ]
        )
    )


def _sketches(plan: Plan) -> list[Markup]:
    return [_sketch(plan, int(level)) for level in np.unique(plan.walls.level)]


def _sketch(plan: Plan, level: int) -> Markup:
    here = plan.walls.level == level
    walls = plan.walls.drawn_m[here & plan.bounding]
    others = plan.walls.drawn_m[here & ~plan.bounding]
    picture = Sketch((walls if len(walls) else others).reshape(-1, 2))
    chosen = np.flatnonzero(plan.rooms.level == level)
    for i in chosen:
        outer = np.asarray(plan.rooms.polygon[i].exterior.coords)
        picture.outline(outer, 'fill="#eef3ea" stroke="none"')
    picture.lines(others, 'stroke="#aab2b8" stroke-width=".8"')
    picture.lines(walls, 'stroke="#1d2328" stroke-width="1.6"')
    for i in np.flatnonzero(plan.openings.level == level):
        dash = "" if plan.openings.kind[i] == "doorway" else ' stroke-dasharray="3 3"'
        ends = np.asarray(plan.openings.line[i].coords)[[0, -1]]
        picture.lines(ends[None], f'stroke="#b45309" stroke-width="1.6"{dash}')
    places = np.array([plan.rooms.polygon[i].representative_point().coords[0] for i in chosen])
    words = [f"{plan.rooms.name[i]}, {plan.rooms.area_m2[i]:.1f} m²" for i in chosen]
    picture.labels(places.reshape(-1, 2), words, 'text-anchor="middle"')
    return picture.svg(
        f"Level {level} at 1:{plan.walls.plot_scale}, plan north up; faces that bound no room "
        "(furniture, seen through glass) are grey, unseen stretches dashed"
    )
