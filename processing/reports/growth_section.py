# SPDX-License-Identifier: GPL-2.0-or-later
"""What a plan that grew took over, what is new, and how far it moved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..captures.findings import listed
from ..stations.model import Status
from ..stations.moves import Moves
from ..walls.moves import RoomChanges, WallMoves
from .html import Markup, facts, paragraph, section, table
from .values import MM, figure

HARDLY_CHANCE = 3.0
"""A move of so many standard errors of the earlier plan is pointed out."""

HOW = (
    "Moves are those within the datum of the earlier plan, beside the standard errors (1 sigma) "
    "that it stated. New measurements improve what was known: most moves should be less than one "
    "standard error, and few more than two."
)

NO_SCALE = (
    "The two plans have no plot scale in common. How the walls moved is not told: what "
    "generalising moved would be taken for movement."
)


@dataclass(frozen=True, eq=False)
class Growth:
    """The name of the earlier plan; stations that are new, captures that were there already, and
    captures kept aside with the station that took their place; how stations and walls moved, and
    which rooms came and went."""

    earlier: str
    new: tuple[str, ...]
    known: tuple[str, ...]
    replaced: Mapping[str, str]
    moves: Moves
    walls: WallMoves | None
    rooms: RoomChanges | None


def growth_section_html(growth: Growth) -> Markup:
    """The section of the report."""
    moves = growth.moves
    held = [name for name, status in zip(moves.station, moves.status) if status is Status.HELD]
    pairs: list[tuple[object, object]] = [
        ("Earlier plan", growth.earlier),
        ("New stations", listed(growth.new, 12) or "none"),
        ("Measured again", listed(tuple(growth.replaced.values()), 12) or "none"),
        ("Held stations", listed(held, 12) or "none"),
    ]
    if growth.known:
        pairs.append(("Captures that were there already", listed(growth.known, 12)))
    if growth.rooms is not None:
        rooms = growth.rooms
        pairs += [
            ("Rooms that stay", len(rooms.kept)),
            ("New rooms", listed(rooms.new, 12) or "none"),
            ("Rooms that are gone", listed(rooms.gone, 12) or "none"),
        ]
    if growth.walls is not None:
        walls = growth.walls
        pairs += [
            ("Walls that stay", len(walls.wall)),
            ("New walls", len(walls.new)),
            ("Walls that are gone", listed(walls.gone, 12) or "none"),
        ]
    return section(
        "Since the earlier plan",
        facts(pairs),
        paragraph(HOW, "soft"),
        *_stations(moves),
        *_walls(growth.walls),
    )


def _stations(moves: Moves) -> list[Markup]:
    if not len(moves):
        return []
    rows = [
        (
            moves.station[i],
            moves.status[i].value,
            *(figure(float(v) * MM, 2) for v in moves.shift_m[i]),
            figure(float(np.degrees(moves.turn_rad[i])), 4),
            *(figure(float(v) * MM, 2) for v in moves.sigma[i, :2]),
            figure(float(np.degrees(moves.sigma[i, 2])), 4),
            figure(float(moves.standardised[i]), 1) + _mark(float(moves.standardised[i])),
        )
        for i in np.argsort(-moves.distance_m, kind="stable")
    ]
    headers = (
        *("Station", "Status", "x (mm)", "y (mm)", "turned (deg)"),
        *("σ x (mm)", "σ y (mm)", "σ (deg)", "largest / σ"),
    )
    return [table(headers, rows, range(2, 9), "How earlier stations moved")]


def _walls(walls: WallMoves | None) -> list[Markup]:
    if walls is None or not len(walls.wall):
        return []
    if not walls.plot_scale:
        return [paragraph(NO_SCALE)]
    order = np.argsort(-np.abs(walls.offset_m), kind="stable")
    share = np.abs(walls.offset_m) / np.where(walls.sigma_m > 0, walls.sigma_m, np.nan)
    rows = [
        (
            walls.wall[i],
            figure(float(walls.offset_m[i]) * MM, 2),
            figure(float(walls.sigma_m[i]) * MM, 2),
            figure(float(share[i]), 1) + _mark(float(share[i])),
        )
        for i in order[:20]
    ]
    median, largest = np.median(np.abs(walls.offset_m)), np.abs(walls.offset_m).max()
    return [
        paragraph(
            f"{len(walls.wall)} earlier walls, as drawn at 1:{walls.plot_scale}, moved across "
            f"themselves by {median * MM:.2f} mm (median) and {largest * MM:.2f} mm at most."
        ),
        table(
            ("Wall", "moved (mm)", "σ (mm)", "moved / σ"),
            rows,
            range(1, 4),
            "The walls that moved most (positive: to the free side)",
        ),
    ]


def _mark(share: float) -> str:
    return " !" if share > HARDLY_CHANCE else ""


def growth_json(growth: Growth) -> dict[str, Any]:
    """The same for programs."""
    moves, walls, rooms = growth.moves, growth.walls, growth.rooms
    return {
        "earlier": growth.earlier,
        "new_stations": list(growth.new),
        "known_captures": list(growth.known),
        "replaced_captures": dict(growth.replaced),
        "moved_stations": [
            {
                "station": moves.station[i],
                "status": moves.status[i].value,
                "x_mm": float(moves.shift_m[i, 0]) * MM,
                "y_mm": float(moves.shift_m[i, 1]) * MM,
                "orientation_deg": float(np.degrees(moves.turn_rad[i])),
                "sigma_x_mm": float(moves.sigma[i, 0]) * MM,
                "sigma_y_mm": float(moves.sigma[i, 1]) * MM,
                "sigma_orientation_deg": float(np.degrees(moves.sigma[i, 2])),
            }
            for i in range(len(moves))
        ],
        "moved_walls": [
            {"wall": name, "offset_mm": float(offset) * MM, "sigma_offset_mm": float(sigma) * MM}
            for name, offset, sigma in zip(walls.wall, walls.offset_m, walls.sigma_m)
        ]
        if walls is not None and walls.plot_scale
        else [],
        "new_rooms": list(rooms.new) if rooms is not None else [],
        "gone_rooms": list(rooms.gone) if rooms is not None else [],
    }
