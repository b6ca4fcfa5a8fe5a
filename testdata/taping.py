# SPDX-License-Identifier: GPL-2.0-or-later
"""Check distances, taped between targets, walls and corners.

A reference is a target (``T7``), ``wall T7``: the face that carries the target, or
``corner T7 T8``: where the faces that carry two targets meet.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from building import Floats
from fieldwork import Target

TAPED = (
    ("T3", "T4"),
    ("corner T3 T4", "T5"),
    ("T8", "T11"),
    ("T11", "wall T12"),
    ("T13", "wall T16"),
    ("T14", "T13"),
    ("T16", "T17"),
    ("corner T18 T21", "corner T20 T21"),
    ("T20", "T18"),
    ("corner T18 T21", "T19"),
    ("T22", "wall T24"),
    ("T25", "T26"),
    ("T23", "T22"),
)
BLUNDER = ("T16", "T17")
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
        true = _distance(targets, from_ref, to_ref)
        sigma = 0.001 + 0.0003 * true
        blunder = (from_ref, to_ref) == BLUNDER
        read = true + rng.normal(0, sigma) + (BLUNDER_M if blunder else 0.0)
        rows.append(Taped(from_ref, to_ref, read, 1000 * sigma, true, blunder))
    return rows


def _distance(targets: Mapping[str, Target], from_ref: str, to_ref: str) -> float:
    start = _point(targets, from_ref)
    if not to_ref.startswith("wall "):
        return float(np.hypot(*(_point(targets, to_ref) - start)))
    face = targets[to_ref.split()[1]]
    offset = start - face.xy
    return float(abs(offset[0] * face.along[1] - offset[1] * face.along[0]))


def _point(targets: Mapping[str, Target], ref: str) -> Floats:
    if not ref.startswith("corner "):
        return targets[ref].xy
    one, two = (targets[name] for name in ref.split()[1:])
    steps = np.linalg.solve(np.stack([one.along, -two.along], axis=1), two.xy - one.xy)
    return one.xy + steps[0] * one.along
