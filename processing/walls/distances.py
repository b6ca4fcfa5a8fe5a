# SPDX-License-Identifier: GPL-2.0-or-later
"""Distances on the plan between walls, corners and targets, with their standard errors.

A reference is the name of a wall (``W012``), of a target (``T3``), or of a corner, the two walls
that meet there with a stroke between them (``W012/W013``). On site nobody knows the walls' names: a
wall may be named by a target it carries (``wall T3``), a corner by those of its two walls
(``corner T3 T4``). Distances are as a tape is held: between
two walls square to the second from the middle of what they face each other, from a point square to
a wall, between two points straight.

Errors are propagated to first order (Ghilani, *Adjustment Computations*, 5th ed., ch. 6) through
the walls' own errors and the covariance of the stations that saw them (`rooms_errors`), so that
what two walls of a room share through their station does not count. Targets count as independent of
the walls.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..angles import Floats
from ..errors import SurveyError
from ..stations.model import Network
from .model import WallFaces
from .rooms_errors import FaceErrors

STEEPEST = np.sin(np.radians(15.0))
"""Walls further from parallel than this have no one distance; walls closer to parallel have no
corner."""

CORNER = "/"

CARRIES_M = 0.10
"""A target nearer to a wall than this is on it: targets have a thickness, and drawn walls move
within the tolerance of the plot scale."""


@dataclass(frozen=True, eq=False)
class PlanDistance:
    """A distance and its standard error (m), and the two ends ``(2, 2)`` it was taken between."""

    length_m: float
    sigma_m: float
    ends_m: Floats


@dataclass(frozen=True, eq=False)
class _Spot:
    """A point ``(2,)`` of the plan, how it moves with the walls' parameters ``(2, 2W)``, and the
    covariance ``(2, 2)`` it has of its own."""

    point: Floats
    moves: Floats
    covariance: Floats
    network: int


class Distances:
    """Distances on one plan: its walls at one plot scale and the targets of its network."""

    def __init__(self, walls: WallFaces, errors: FaceErrors, network: Network) -> None:
        self._walls, self._errors, self._network = walls, errors, network
        self._wall = {name: k for k, name in enumerate(walls.wall)}
        self._target = {name: k for k, name in enumerate(network.targets.name)}

    def between(self, first: str, second: str) -> PlanDistance:
        """The distance between two references.

        Raises SurveyError for a name that is no wall, corner or target, for things that nothing
        ties to each other, walls that are not parallel, and corners of walls that are.
        """
        a, b = self._thing(first), self._thing(second)
        if self._group(a) != self._group(b):
            raise SurveyError(
                f"{first} and {second} lie in parts of the plan that nothing ties to each other: "
                "the plan tells no distance between them."
            )
        if isinstance(a, int):
            if isinstance(b, int):
                return self._to_wall(self._facing(a, b, first, second), b)
            found = self._to_wall(b, a)
            return PlanDistance(found.length_m, found.sigma_m, found.ends_m[::-1])
        return self._to_wall(a, b) if isinstance(b, int) else self._straight(a, b, first, second)

    def group_of(self, reference: str) -> int:
        """The connected group in which a reference lies; SurveyError as in `between`."""
        return self._group(self._thing(reference))

    def level_of(self, reference: str) -> int | None:
        """The storey of a wall or corner, None for a target alone; SurveyError as in `between`."""
        walls = self._meant(reference.strip())
        return int(self._walls.level[walls[0]]) if walls else None

    def _group(self, thing: int | _Spot) -> int:
        return int(self._walls.network[thing]) if isinstance(thing, int) else thing.network

    def _thing(self, reference: str) -> int | _Spot:
        """A wall's number, or the spot of a target or corner."""
        name = reference.strip()
        walls = self._meant(name)
        if len(walls) == 2:
            return self._corner(*walls, name)
        if walls:
            return walls[0]
        t, targets = self._target[name], self._network.targets
        still = np.zeros((2, 2 * len(self._walls)))
        return _Spot(targets.xy_m[t], still, targets.covariance_m2[t], int(targets.network[t]))

    def _meant(self, name: str) -> tuple[()] | tuple[int] | tuple[int, int]:
        """The wall that a reference means, or the two of a corner; none for a target."""
        if name in self._wall:
            return (self._wall[name],)
        if name in self._target:
            return ()
        parts = [part.strip() for part in name.split(CORNER)]
        if len(parts) == 2 and all(part in self._wall for part in parts):
            return self._wall[parts[0]], self._wall[parts[1]]
        word, _, rest = name.partition(" ")
        rest = rest.strip()
        if word.lower() == "wall" and rest in self._target:
            return (self._carrying(rest),)
        if word.lower() == "corner":
            # names of targets may have blanks in them
            for at in (k for k, letter in enumerate(rest) if letter.isspace()):
                first, second = rest[:at].strip(), rest[at:].strip()
                if first in self._target and second in self._target:
                    return self._carrying(first), self._carrying(second)
        raise SurveyError(
            f"{name!r} is no wall, corner or target of the plan; expected a name such "
            f"as {self._example()}."
        )

    def _carrying(self, target: str) -> int:
        """The wall that carries a target: of its group, the one whose drawn stretch is nearest."""
        walls, t = self._walls, self._target[target]
        apart = self._network.targets.xy_m[t] - walls.centre_m
        across = np.abs(np.einsum("ij,ij->i", apart, walls.normal))
        along = np.einsum("ij,ij->i", apart, walls.direction)
        ends = np.einsum("wij,wj->wi", walls.drawn_m - walls.centre_m[:, None], walls.direction)
        beyond = np.maximum(ends.min(axis=1) - along, along - ends.max(axis=1)).clip(0.0)
        away = np.hypot(across, beyond)
        away[walls.network != self._network.targets.network[t]] = np.inf
        nearest = int(np.argmin(away)) if len(away) else -1
        if nearest < 0 or away[nearest] > CARRIES_M:
            least = away.min(initial=np.inf)
            found = f"the nearest lies {least:.2f} m away" if least < np.inf else "it has none"
            raise SurveyError(
                f"Target {target} is on no wall of its part of the plan ({found}); expected a "
                "target on a wall."
            )
        return nearest

    def _example(self) -> str:
        walls = self._walls.wall
        names = [*walls[:1], *(f"{a}{CORNER}{b}" for a, b in zip(walls[:1], walls[1:2]))]
        return ", ".join([*names, *self._network.targets.name[:1]]) or "W001"

    def _shift(self, wall: int, point: Floats) -> Floats:
        """How far the wall moves along its normal at a point, by the walls' parameters."""
        row = np.zeros(2 * len(self._walls))
        row[2 * wall] = 1.0
        row[2 * wall + 1] = (point - self._walls.centre_m[wall]) @ self._walls.direction[wall]
        return row

    def _corner(self, i: int, j: int, name: str) -> _Spot:
        walls = self._walls
        normals = walls.normal[[i, j]]
        if abs(np.linalg.det(normals)) < STEEPEST:
            angle = np.degrees(np.arcsin(min(1.0, abs(float(np.linalg.det(normals))))))
            raise SurveyError(
                f"{name}: the walls are {angle:.1f} deg from parallel and make no corner; expected "
                "two walls that meet."
            )
        if walls.network[i] != walls.network[j]:
            raise SurveyError(f"{name}: nothing ties the two walls to each other.")
        inverse = np.linalg.inv(normals)
        point = inverse @ np.einsum("ij,ij->i", normals, walls.centre_m[[i, j]])
        shifts = np.stack([self._shift(i, point), self._shift(j, point)])
        moves = np.asarray(inverse @ shifts, dtype=float)
        return _Spot(point, moves, np.zeros((2, 2)), int(walls.network[i]))

    def _facing(self, i: int, j: int, first: str, second: str) -> _Spot:
        """The point of a wall from which its distance to another is taken: the middle of the
        stretch along which the two lie side by side."""
        walls = self._walls
        if i == j:
            raise SurveyError(f"{first} and {second} are one wall; expected two.")
        slant = abs(float(walls.normal[i] @ walls.direction[j]))
        if slant > STEEPEST:
            angle = np.degrees(np.arcsin(min(1.0, slant)))
            raise SurveyError(
                f"{first} and {second} are {angle:.1f} deg from parallel: no one distance lies "
                "between them; expected parallel walls, or a corner."
            )
        own = np.sort((walls.drawn_m[i] - walls.centre_m[i]) @ walls.direction[i])
        other = np.sort((walls.drawn_m[j] - walls.centre_m[i]) @ walls.direction[i])
        low, high = max(own[0], other[0]), min(own[1], other[1])
        # Walls past each other: the point nearest to the other.
        along = 0.5 * (low + high)
        along = float(np.clip(along, own[0], own[1]))
        point = walls.centre_m[i] + along * walls.direction[i]
        moves = walls.normal[i][:, None] * self._shift(i, point)
        return _Spot(point, moves, np.zeros((2, 2)), int(walls.network[i]))

    def _to_wall(self, a: _Spot, j: int) -> PlanDistance:
        normal = self._walls.normal[j]
        height = float((a.point - self._walls.centre_m[j]) @ normal)
        foot = a.point - height * normal
        side = 1.0 if height >= 0.0 else -1.0
        weights = side * (normal @ a.moves - self._shift(j, foot))
        variance = self._errors.variance(weights) + float(normal @ a.covariance @ normal)
        return PlanDistance(abs(height), float(np.sqrt(variance)), np.stack([a.point, foot]))

    def _straight(self, a: _Spot, b: _Spot, first: str, second: str) -> PlanDistance:
        way = b.point - a.point
        length = float(np.hypot(*way))
        if length < 1e-6:
            raise SurveyError(f"{first} and {second} are one place; expected two.")
        ahead = way / length
        weights = ahead @ (b.moves - a.moves)
        own = float(ahead @ (a.covariance + b.covariance) @ ahead)
        sigma = float(np.sqrt(self._errors.variance(weights) + own))
        return PlanDistance(length, sigma, np.stack([a.point, b.point]))
