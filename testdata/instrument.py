# SPDX-License-Identifier: GPL-2.0-or-later
"""A rotating laser instrument, simulated: rays against segments, then what makes readings real.

Range and angle noise, the beam's width at edges, glass, grazing incidence, lost returns, stray
returns and a passer-by. Each ring reading keeps the cause of its value, which the truth records.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from building import Floats, Storey
from numpy.random import Generator
from numpy.typing import NDArray

Ints = NDArray[np.int64]

READINGS = 1600
RANGE_SIGMA_M = 0.002
ANGLE_SIGMA_RAD = np.radians(0.03)
BEAM_HALF_WIDTH_RAD = 0.0012
LONGEST_M = 30.0
STRAY_SHARE = 0.010
LOST_SHARE = 0.004
GRAZING_DEG = 78.0
MIXED_STEP_M = 0.03
THROUGH_GLASS = 0.16
MIRRORED = 0.12

# What a beam can meet (`Scene.made_of`).
WALL, FURNITURE, GLASS, OUTSIDE, PERSON = range(5)
# Why a reading is what it is; one letter a reading in the truth.
CAUSES = {
    "w": "a wall face",
    "f": "furniture",
    "x": "a wall outside the building, seen through an open door",
    "t": "something seen through glass",
    "r": "a reflection in glass",
    "m": "mixed: the beam met two surfaces",
    "p": "a passer-by",
    "s": "a stray return",
    ".": "no return",
}


@dataclass(frozen=True)
class Scene:
    """Segments ``(S, 2, 2)`` that a horizontal beam can meet and what each is made of ``(S,)``."""

    segments: Floats
    made_of: Ints

    def __post_init__(self) -> None:
        if self.segments.shape != (len(self.made_of), 2, 2):
            raise ValueError(f"segments {self.segments.shape} for {len(self.made_of)} materials")

    def only(self, *materials: int) -> Scene:
        keep = np.isin(self.made_of, materials)
        return Scene(self.segments[keep], self.made_of[keep])

    def without(self, *materials: int) -> Scene:
        keep = ~np.isin(self.made_of, materials)
        return Scene(self.segments[keep], self.made_of[keep])

    def cast(self, origin: Floats, direction: Floats) -> tuple[Floats, Ints]:
        """First hits of rays from ``origin (..., 2)`` along unit ``direction (n, 2)``: distances
        ``(n,)``, infinite for none, and segment numbers ``(n,)``, -1 for none.

        Solves origin + t direction = start + u side for every pair by cross products.
        """
        start, side = self.segments[:, 0], self.segments[:, 1] - self.segments[:, 0]
        to_start = start - np.broadcast_to(origin, direction.shape)[:, None, :]
        across = direction[:, None, 0] * side[:, 1] - direction[:, None, 1] * side[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            t = (to_start[..., 0] * side[:, 1] - to_start[..., 1] * side[:, 0]) / across
            u = (
                to_start[..., 0] * direction[:, None, 1] - to_start[..., 1] * direction[:, None, 0]
            ) / across
        t[~((t > 1e-6) & (u >= 0.0) & (u <= 1.0))] = np.inf
        nearest = np.argmin(t, axis=1)
        distance = t[np.arange(len(t)), nearest]
        return distance, np.where(np.isfinite(distance), nearest, -1)

    def normals(self) -> Floats:
        """Unit normals ``(S, 2)``, to the right of start to end."""
        side = self.segments[:, 1] - self.segments[:, 0]
        return np.stack([side[:, 1], -side[:, 0]], axis=1) / np.hypot(*side.T)[:, None]


@dataclass(frozen=True)
class Ring:
    """One turn: instrument angles ``(n,)`` in degrees, distances ``(n,)`` in metres (NaN: no
    return) and a letter of `CAUSES` for each."""

    angle_deg: Floats
    distance_m: Floats
    cause: str


def scene_of(storey: Storey) -> Scene:
    """Everything of a storey at instrument height."""
    furniture = [np.asarray(f.polygon.exterior.coords) for f in storey.furniture]
    parts = {
        WALL: storey.faces(),
        FURNITURE: np.concatenate([np.stack([c[:-1], c[1:]], axis=1) for c in furniture]),
        GLASS: np.array([w.pane for w in storey.windows]),
        OUTSIDE: np.array(storey.outside),
    }
    made_of = np.concatenate([np.full(len(part), kind) for kind, part in parts.items()])
    return Scene(np.concatenate(list(parts.values())), made_of)


def with_person(scene: Scene, x: float, y: float) -> Scene:
    """The scene with somebody standing in it: an octagon 0.45 m wide."""
    turn = np.radians(np.arange(8) * 45.0 + 10.0)
    ring = np.stack([x + 0.225 * np.sin(turn), y + 0.225 * np.cos(turn)], axis=1)
    segments = np.stack([ring, np.roll(ring, -1, 0)], axis=1)
    return Scene(
        np.concatenate([scene.segments, segments]),
        np.concatenate([scene.made_of, np.full(8, PERSON)]),
    )


def directions(azimuth_rad: Floats) -> Floats:
    """Unit vectors ``(n, 2)`` of azimuths clockwise from +y."""
    return np.stack([np.sin(azimuth_rad), np.cos(azimuth_rad)], axis=-1)


def ring(scene: Scene, at: Floats, orientation_deg: float, rng: Generator) -> Ring:
    """One turn of readings from a point ``at (2,)``; the zero direction has the azimuth
    ``orientation_deg`` in the scene's axes."""
    angle_deg = np.arange(READINGS) * 360.0 / READINGS
    azimuth = np.radians(angle_deg + orientation_deg) + rng.normal(0, ANGLE_SIGMA_RAD, READINGS)
    distance, segment = scene.cast(at, directions(azimuth))
    cause = np.array(["w", "f", "t", "x", "p", "."])[
        np.where(segment < 0, 5, scene.made_of[segment])
    ]

    _blend_at_edges(scene, at, azimuth, distance, cause, rng)
    _pass_glass(scene, at, azimuth, distance, segment, cause, rng)

    incidence = np.degrees(np.arccos(np.abs(_cosine(scene, segment, azimuth))))
    fading = np.clip((incidence - GRAZING_DEG) / (90.0 - GRAZING_DEG), 0.0, 1.0)
    lost = rng.random(READINGS) < LOST_SHARE + 0.85 * fading**2
    stray = rng.random(READINGS) < STRAY_SHARE
    stray_m = rng.uniform(0.05, 9.0, READINGS)
    noise = rng.normal(0, RANGE_SIGMA_M, READINGS)
    lost |= ~np.isfinite(distance) | (distance > LONGEST_M)

    distance = np.where(stray, stray_m, np.where(lost, np.nan, distance + noise))
    cause[lost] = "."
    cause[stray] = "s"
    return Ring(angle_deg, distance, "".join(cause))


def _cosine(scene: Scene, segment: Ints, azimuth: Floats) -> Floats:
    normal = scene.normals()[segment]
    cosine = np.clip(np.sum(normal * directions(azimuth), axis=1), -1.0, 1.0)
    return np.where(segment < 0, 1.0, cosine)


def _blend_at_edges(
    scene: Scene, at: Floats, azimuth: Floats, distance: Floats, cause: NDArray, rng: Generator
) -> None:
    """Where the beam's two sides fall on surfaces at different distances the instrument returns
    the nearer, the farther or, more often, something between."""
    sides = [
        scene.cast(at, directions(azimuth + turn))[0]
        for turn in (-BEAM_HALF_WIDTH_RAD, BEAM_HALF_WIDTH_RAD)
    ]
    near, far = np.minimum(*sides), np.maximum(*sides)
    # A slanting surface also differs from side to side: only a jump is an edge.
    slope = np.abs(_turned_step(scene, at, azimuth, distance))
    share, chosen = rng.random(READINGS), rng.random(READINGS)
    edge = np.isfinite(far) & (far - near > MIXED_STEP_M + slope) & (chosen < 0.6)
    distance[edge] = (near + share * (far - near))[edge]
    cause[edge] = "m"


def _turned_step(scene: Scene, at: Floats, azimuth: Floats, distance: Floats) -> Floats:
    """How much the beam's width alone changes the distance on the surface it meets ``(n,)``."""
    _, segment = scene.cast(at, directions(azimuth))
    cosine = np.maximum(np.abs(_cosine(scene, segment, azimuth)), 0.02)
    tangent = np.sqrt(1.0 - cosine**2) / cosine
    step = 2 * BEAM_HALF_WIDTH_RAD * distance * tangent
    return np.where(np.isfinite(step), 2.0 * step, 0.0)


def _pass_glass(
    scene: Scene,
    at: Floats,
    azimuth: Floats,
    distance: Floats,
    segment: Ints,
    cause: NDArray,
    rng: Generator,
) -> None:
    """Glass mostly gives nothing back; some beams go through it, some are mirrored."""
    luck = rng.random(READINGS)
    glass = (segment >= 0) & (scene.made_of[segment] == GLASS) & (cause != "m")
    opaque = scene.without(GLASS)
    through, _ = opaque.cast(at, directions(azimuth))

    heading = directions(azimuth)
    normal = scene.normals()[segment]
    pane = at + np.where(np.isfinite(distance), distance, 0.0)[:, None] * heading
    back = heading - 2 * np.sum(heading * normal, axis=1)[:, None] * normal
    beyond, _ = opaque.cast(pane + 1e-4 * back, back)

    distance_through = np.where(luck < THROUGH_GLASS, through, np.inf)
    mirrored = glass & (luck > 1.0 - MIRRORED)
    distance_mirrored = distance + beyond
    distance[glass] = np.where(mirrored, distance_mirrored, distance_through)[glass]
    cause[mirrored] = "r"


def sight(
    station: Floats, orientation_deg: float, point: Floats, rise_m: Floats, rng: Generator
) -> tuple[Floats, Floats, Floats]:
    """Sightings of points ``(n, 2)`` that lie ``rise_m (n,)`` above the instrument: instrument
    angles and zenith angles in degrees, slope distances in metres, each with noise."""
    offset = point - station
    flat = np.hypot(offset[:, 0], offset[:, 1])
    slope = np.hypot(flat, rise_m)
    noise = rng.normal(size=(len(point), 3)) * (ANGLE_SIGMA_RAD, ANGLE_SIGMA_RAD, RANGE_SIGMA_M)
    angle = np.arctan2(offset[:, 0], offset[:, 1]) + noise[:, 0]
    zenith = np.arctan2(flat, rise_m) + np.where(rise_m == 0, 0.0, noise[:, 1])
    return (
        (np.degrees(angle) - orientation_deg) % 360.0,
        np.degrees(zenith),
        slope + noise[:, 2],
    )
