# SPDX-License-Identifier: GPL-2.0-or-later
"""Check distances, taped between targets, walls and corners.

A reference is a target (``T7``), ``wall T7``: the face that carries the target, or
``corner T7 T8``: where the faces that carry two targets meet.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from building import STOREYS, Floats
from fieldwork import STOREY_HEIGHT_M, Target
from shapely.geometry import LineString, Point
from shapely.ops import unary_union

TAPED = (
    ("T4", "T5"),
    ("corner T4 T5", "T4"),
    ("T3", "T5"),
    ("T9", "T13"),
    ("T11", "wall T13"),
    ("T15", "T11"),
    ("T18", "wall T19"),
    ("T16", "T14"),
    ("T18", "T20"),
    ("corner T17 T20", "T16"),
    ("T24", "T23"),
    ("T25", "T26"),
    ("T33", "wall T30"),
    ("T31", "T32"),
)
BLUNDER = ("T18", "T20")
BLUNDER_M = 0.100  # a decimetre misread


@dataclass(frozen=True)
class Taped:
    from_ref: str
    to_ref: str
    taped_m: float
    sigma_mm: float
    true_m: float
    blunder: bool


def tape(targets: Mapping[str, Target], rng: np.random.Generator) -> list[Taped]:
    """The check distances as read: 1 mm and 0.3 mm per metre, read to the millimetre."""
    rows = []
    for from_ref, to_ref in TAPED:
        start, end = _ends(targets, from_ref, to_ref)
        _check_free(start, end, f"{from_ref} to {to_ref}", _level(targets, from_ref))
        true = float(np.hypot(*(end - start)))
        sigma = 0.001 + 0.0003 * true
        blunder = (from_ref, to_ref) == BLUNDER
        read = true + rng.normal(0, sigma) + (BLUNDER_M if blunder else 0.0)
        rows.append(Taped(from_ref, to_ref, read, 1000 * sigma, true, blunder))
    return rows


def _ends(targets: Mapping[str, Target], from_ref: str, to_ref: str) -> tuple[Floats, Floats]:
    """Where the tape is held; at a wall the foot of the perpendicular."""
    start = _point(targets, from_ref)
    if not to_ref.startswith("wall "):
        return start, _point(targets, to_ref)
    face = targets[to_ref.split()[1]]
    return start, face.xy + np.dot(start - face.xy, face.along) * face.along


def _level(targets: Mapping[str, Target], ref: str) -> int:
    return int(targets[ref.rsplit(maxsplit=1)[-1]].height_m // STOREY_HEIGHT_M)


def _check_free(start: Floats, end: Floats, what: str, level: int) -> None:
    """Nobody tapes through a wall; the tape may lie on one."""
    storey = STOREYS[level]
    bodies = unary_union([storey.solid, *(f.polygon for f in storey.furniture)]).buffer(-0.002)
    tape_line = LineString([start, end])
    if tape_line.intersects(bodies):
        raise ValueError(f"the tape from {what} runs through something solid")
    if not bodies.buffer(0.01).contains(Point(end)):
        raise ValueError(f"the tape from {what} ends in the air")


def _point(targets: Mapping[str, Target], ref: str) -> Floats:
    if not ref.startswith("corner "):
        return targets[ref].xy
    one, two = (targets[name] for name in ref.split()[1:])
    steps = np.linalg.solve(np.stack([one.along, -two.along], axis=1), two.xy - one.xy)
    return one.xy + steps[0] * one.along
