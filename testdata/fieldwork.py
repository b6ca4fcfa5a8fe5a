# SPDX-License-Identifier: GPL-2.0-or-later
"""The surveyor's plan of work: set-ups, which pairs are tied by targets, and where targets go."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from building import STOREYS, XY, Floats, Storey, wing
from instrument import WALL, Scene, scene_of

INSTRUMENT_HEIGHT_M = 1.2
STOREY_HEIGHT_M = 3.3

# Station: level, point in the building's axes. Every room but the store has one.
STATIONS: dict[str, tuple[int, XY]] = {
    "S01": (0, (2.62, 5.15)),
    "S02": (0, (6.23, 5.22)),
    "S03": (0, (5.32, 7.83)),
    "S04": (0, (9.58, 5.36)),
    "S05": (0, (8.15, 7.25)),
    "S06": (0, (12.52, 5.19)),
    "S07": (0, (11.62, 7.55)),
    "S08": (0, (9.42, 2.37)),
    "S09": (0, (15.43, 5.47)),
    "S10": (0, (13.87, 2.64)),
    "S11": (0, wing(1.75, 1.60)),
    "S12": (0, wing(2.45, 4.85)),
    "S13": (0, (1.88, 7.04)),
    "S14": (1, (2.31, 6.78)),
    "S15": (1, (4.36, 5.31)),
    "S16": (1, (2.86, 2.41)),
    "S17": (1, (6.17, 8.03)),
    "S18": (1, (7.56, 4.78)),
}

# Pairs that sight common targets; the kitchenette (S03), the toilets (S07) and the archive (S18)
# are tied through what their captures have in common alone.
TARGET_PAIRS = (
    ("S01", "S02"),
    ("S01", "S13"),
    ("S02", "S04"),
    ("S04", "S05"),
    ("S04", "S06"),
    ("S04", "S08"),
    ("S06", "S09"),
    ("S08", "S10"),
    ("S09", "S10"),
    ("S09", "S11"),
    ("S11", "S12"),
    ("S14", "S15"),
    ("S15", "S16"),
    ("S15", "S17"),
)
OVERLAP_PAIRS = (("S02", "S03"), ("S06", "S07"), ("S15", "S18"))

# Target: point, height above the ground floor, stations that sight it. The stair pair hangs on
# the walls of the open well, seen upwards from below and downwards from above.
STAIR_TARGETS = {"T1": ((0.40, 8.05), 2.90), "T2": ((1.72, 10.00), 2.95)}
STAIR_STATIONS = ("S13", "S14")
# Control: a point on the yard wall before the entrance and one on the reading room's end wall.
CONTROL = {
    "C1": ((2.93, -3.00), ("S01",)),
    "C2": ((17.60, 5.28), ("S01", "S06", "S09")),
}

BUMPED, BUMP_SHIFT, BUMP_TURN_DEG = "S08", (0.045, -0.040), 1.5
BENT, BENT_DEG = "S05", 25.0
PASSER_BY = {"S10": (13.05, 3.62)}

CLEAR_M = 0.25  # from a target to the end of its face: room for the readings around it
BESIDE_M = 0.35  # no two targets nearer than this
APART_WEIGHT, FAR_APART_M, THIRD_APART_M, WORTHLESS = 1.2, 4.0, 0.6, -2.0
NEAREST_M, FARTHEST_M, STEEPEST_DEG = 0.7, 6.5, 70.0


@dataclass
class Target:
    """A marked point on a wall face and the stations that sight it."""

    name: str
    xy: Floats
    along: Floats
    height_m: float
    role: str = "tie"
    stations: list[str] = field(default_factory=list)


def plan_of_work() -> list[Target]:
    """Targets for the stair, the control points and every pair of `TARGET_PAIRS`."""
    scenes = {storey.level: scene_of(storey) for storey in STOREYS}
    targets = [
        _fixed(STOREYS[0], name, xy, height, "tie", STAIR_STATIONS)
        for name, (xy, height) in STAIR_TARGETS.items()
    ]
    targets += [
        _fixed(STOREYS[0], name, xy, INSTRUMENT_HEIGHT_M, "control", stations)
        for name, (xy, stations) in CONTROL.items()
    ]
    placed = len(STAIR_TARGETS)
    for pair in TARGET_PAIRS:
        level = STATIONS[pair[0]][0]
        height = level * STOREY_HEIGHT_M + INSTRUMENT_HEIGHT_M
        standing = [t for t in targets if t.height_m == height]
        one, two = (np.array(STATIONS[s][1]) for s in pair)
        for xy, along in _common_points(scenes[level], one, two, [t.xy for t in standing]):
            again = next((t for t in standing if np.allclose(t.xy, xy)), None)
            if again is None:
                placed += 1
                targets.append(Target(f"T{placed}", xy, along, height, stations=list(pair)))
            else:
                again.stations += [s for s in pair if s not in again.stations]
    return targets


def visible(scene: Scene, station: Floats, points: Floats) -> np.ndarray:
    """Which points ``(n, 2)`` on surfaces a station sees ``(n,)``."""
    offset = points - station
    distance = np.hypot(offset[:, 0], offset[:, 1])
    hit, _ = scene.cast(station, offset / distance[:, None])
    return np.abs(hit - distance) < 1e-5


def _fixed(
    storey: Storey, name: str, xy: XY, height: float, role: str, stations: tuple[str, ...]
) -> Target:
    segments = np.concatenate([storey.faces(), np.array(storey.outside)])
    side = segments[:, 1] - segments[:, 0]
    length = np.hypot(*side.T)
    along = side / length[:, None]
    offset = np.array(xy) - segments[:, 0]
    position = np.sum(offset * along, axis=1)
    across = np.abs(offset[:, 0] * along[:, 1] - offset[:, 1] * along[:, 0])
    across[(position < 0) | (position > length)] = np.inf
    face = int(np.argmin(across))
    if across[face] > 1e-6:
        raise ValueError(f"target {name} at {xy} lies on no wall face of level {storey.level}")
    return Target(name, np.array(xy, dtype=float), along[face], height, role, list(stations))


def _common_points(
    scene: Scene, one: Floats, two: Floats, standing: list[Floats]
) -> list[tuple[Floats, Floats]]:
    """The points on wall faces that both stations see best: 1 to 4 m away, square to the beam, far
    apart from each other; two, and a third where there is a place for one. A target that hangs
    already is used again, and no other is hung beside it."""
    walls = scene.only(WALL).segments
    side = walls[:, 1] - walls[:, 0]
    length = np.hypot(*side.T)
    steps = [np.arange(CLEAR_M, max(size - CLEAR_M, 0.0), 0.07) for size in length]
    face = np.repeat(np.arange(len(walls)), [len(s) for s in steps])
    along = (side / length[:, None])[face]
    points = np.round(walls[face, 0] + np.concatenate(steps)[:, None] * along, 9)
    normal = np.stack([along[:, 1], -along[:, 0]], axis=1)

    cost = np.zeros(len(points))
    for station in (one, two):
        offset = station - points
        distance = np.hypot(*offset.T)
        incidence = np.degrees(np.arccos(np.clip(np.sum(offset * normal, 1) / distance, -1, 1)))
        seen = visible(scene, station, points)
        for shift in (-0.15, 0.15):
            seen &= visible(scene, station, points + shift * along)
        good = seen & (distance > NEAREST_M) & (distance < FARTHEST_M) & (incidence < STEEPEST_DEG)
        cost += 3 * np.maximum(1.0 - distance, 0) + np.maximum(distance - 4.0, 0)
        cost += (incidence / 60.0) ** 2 + np.where(good, 0.0, np.inf)
    for xy in standing:
        near = np.hypot(*(points - xy).T)
        cost += np.where(near < 1e-6, -0.6, np.where(near < BESIDE_M, np.inf, 0.0))
    best = np.argsort(cost, kind="stable")
    best = best[np.isfinite(cost[best])][:400]
    if len(best) < 2:
        raise ValueError(f"stations at {one} and {two} see no two common targets")
    first, second = np.triu_indices(len(best), 1)
    pairs = np.stack([best[first], best[second]], axis=1)
    apart = np.hypot(*(points[pairs[:, 0]] - points[pairs[:, 1]]).T)
    worth = APART_WEIGHT * np.minimum(apart, FAR_APART_M) - cost[pairs[:, 0]] - cost[pairs[:, 1]]
    chosen = list(pairs[int(np.argmax(worth))])
    from_chosen = np.min([np.hypot(*(points[best] - points[i]).T) for i in chosen], axis=0)
    worth_third = APART_WEIGHT * np.minimum(from_chosen, FAR_APART_M) - cost[best]
    worth_third[from_chosen < THIRD_APART_M] = -np.inf
    third = int(np.argmax(worth_third))
    if worth_third[third] > WORTHLESS:
        chosen.append(best[third])
    return [(points[i], along[i]) for i in sorted(chosen)]


def around(target: Target, count: int, rng: np.random.Generator) -> Floats:
    """Points ``(count, 2)`` on the face that carries a target, within 0.15 m of it."""
    return target.xy + np.sort(rng.uniform(-0.15, 0.15, count))[:, None] * target.along
