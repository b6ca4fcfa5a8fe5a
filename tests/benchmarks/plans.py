# SPDX-License-Identifier: GPL-2.0-or-later
"""How plans of whole furnished buildings come out: rooms, areas, doorways, lengths, faces, time.

    OMP_NUM_THREADS=1 python tests/benchmarks/plans.py FIRST COUNT [chain] [20|50|100|200]

prints a line a building and the figures over all; seeds from 1000 on are for reporting. The
stations are where they stood but for half a millimetre and 0.005 degrees, which the covariance
states, so that walls and rooms alone are judged; with `chain` they come from the whole chain, and
each connected group is laid over the truth. Run it from anywhere but the checkout's top, whose
`processing` would shadow the host's.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import shapely

HERE = Path(__file__).resolve().parent
TESTS = HERE.parent
sys.path[:0] = [
    str(HERE),
    str(TESTS),
    *(str(TESTS / name) for name in ("stations", "captures", "walls")),
]

import conftest  # noqa: E402, F401  (loads the package under its name)
from roomtie.processing.angles import wrap_half  # noqa: E402
from roomtie.processing.captures.checks import check_capture  # noqa: E402
from roomtie.processing.captures.faces import fit_faces  # noqa: E402
from roomtie.processing.captures.noise import noise_in  # noqa: E402
from roomtie.processing.chain import tie_stations  # noqa: E402
from roomtie.processing.stations.connect_frames import between, fitted, moved  # noqa: E402
from roomtie.processing.stations.network_options import NetworkOptions  # noqa: E402
from roomtie.processing.walls.distances import Distances  # noqa: E402
from roomtie.processing.walls.faces import find_walls  # noqa: E402
from roomtie.processing.walls.plot_scales import TOLERANCE_M, draw_walls  # noqa: E402
from roomtie.processing.walls.rooms import build_rooms  # noqa: E402
from roomtie.processing.walls.rooms_errors import face_errors  # noqa: E402
from roomtie.processing.walls.squaring import Square  # noqa: E402
from simulated_buildings import simulated_building  # noqa: E402
from simulated_rays import Surface  # noqa: E402
from simulated_rooms import network_of  # noqa: E402

SIGMA_M, SIGMA_RAD = 0.0005, np.radians(0.005)
FOUND_IOU = 0.5
"""A room is found when a drawn one and it share this part of their union, as detections are
commonly judged; how well it is drawn, the areas say."""
DOOR_M = 0.15
IN_A_ROOM_M = 0.05
"""A room that goes nowhere further beyond the true ones is one of them, or a part."""
ONE_FACE_M, ONE_FACE_RAD = 0.010, np.radians(1.5)
FEWEST = 12
"""A true face with so many readings from one station should be found."""


@dataclass
class Figures:
    """What one building, or several, came to; areas in m2, widths and lengths in m; pairs are of
    error and stated standard error."""

    rooms: int = 0
    found: int = 0
    extra: int = 0
    shared: int = 0
    again: int = 0
    relative: list = field(default_factory=list)
    areas: list = field(default_factory=list)
    perimeters: list = field(default_factory=list)
    widths: list = field(default_factory=list)
    lengths: list = field(default_factory=list)
    doors: int = 0
    met: int = 0
    drawn: int = 0
    right: int = 0
    glazed: int = 0
    true_faces: int = 0
    faces: int = 0
    missed: int = 0
    offsets: list = field(default_factory=list)
    turns: list = field(default_factory=list)
    captures: int = 0
    readings: int = 0
    seconds: dict = field(
        default_factory=lambda: dict.fromkeys(("faces", "walls", "draw", "rooms"), 0.0)
    )
    notes: list = field(default_factory=list)

    def add(self, other: Figures) -> None:
        for name, value in vars(other).items():
            if name == "seconds":
                for part, seconds in value.items():
                    self.seconds[part] += seconds
            else:
                setattr(self, name, getattr(self, name) + value)


def judge(seed: int, chain: bool = False, scale: int = 50, **kwargs) -> Figures:
    """Draw a simulated building and hold the plan against the truth."""
    survey, truth = simulated_building(seed, **kwargs)
    worth = noise_in(survey.captures)
    captures = tuple(check_capture(c, own) for c, own in zip(survey.captures, worth))
    survey = replace(survey, captures=captures)
    figures = Figures(captures=len(survey), readings=sum(len(c) for c in survey.captures))
    plan = Drawing(survey, truth, chain, scale, figures, seed)
    judge_rooms(plan, figures)
    judge_doors(plan, figures)
    judge_faces(plan, figures)
    judge_lengths(plan, figures)
    return figures


class Drawing:
    """A plan of a building, and what is true, in the frame of the plan."""

    def __init__(self, survey, truth, chain, scale, figures, seed):
        self.truth = truth
        if chain:
            tied = tie_stations(survey, NetworkOptions())
            survey, network = tied.survey, tied.network
        else:
            rng = np.random.default_rng([17, seed])
            count = len(survey)
            sigma = np.tile([SIGMA_M, SIGMA_M, SIGMA_RAD], count)
            pose = truth.pose + (sigma * rng.standard_normal(3 * count)).reshape(-1, 3)
            network = network_of(survey, pose[:, :2], pose[:, 2], np.diag(sigma**2))
        self.network = network
        seconds = figures.seconds
        self.faces = timed(seconds, "faces", lambda: [fit_faces(c) for c in survey.captures])
        self.measured, self.survey = timed(
            seconds, "walls", lambda: find_walls(survey, self.faces, network)
        )
        self.walls = timed(
            seconds,
            "draw",
            lambda: draw_walls(
                self.measured,
                plot_scale=scale,
                tolerance_m=TOLERANCE_M[scale],
                square=Square.WHERE_READINGS_ALLOW,
            ),
        )
        self.rooms, self.openings = timed(
            seconds, "rooms", lambda: build_rooms(survey, network, self.walls)
        )
        self.chain = chain
        self.motions = {
            int(group): self._motion(network.network == group)
            for group in np.unique(network.network)
        }

    def _motion(self, of):
        """The motion from the truth to a group of stations in the plan."""
        if not self.chain:
            return np.zeros(3)
        network, pose = self.network, self.truth.pose
        if of.sum() == 1:
            turn = float(wrap_half(network.orientation_rad[of] - pose[of, 2])[0])
            at = moved(np.array([0.0, 0.0, turn]), pose[of, :2])
            return np.append((network.xy_m[of] - at)[0], turn)
        return fitted(pose[of, :2], network.xy_m[of], np.ones(int(of.sum())))

    def place(self, shape, group):
        """A true shape in the plan's frame."""
        motion = self.motions[int(group)]
        placed = shapely.transform(shape, lambda xy: moved(motion, xy))
        return largest(shapely.set_precision(placed, 1e-6))

    def true_rooms(self):
        """True rooms ``(polygon, group)`` in the plan: free space without a wall between them is
        one; of each, the group of stations that stand in it."""
        storey = self.truth.storeys[0]
        niches = shapely.union_all(storey.niches)
        spaces = [largest(shapely.make_valid(room)) for room in storey.rooms if room.area > 0.5]
        # A window in a notch clears the notch; its reveal in the wall is not counted.
        spaces = [room.union(niches.intersection(room.convex_hull)) for room in spaces]
        joined = shapely.get_parts(shapely.union_all(spaces))
        result = []
        for room in joined:
            at = shapely.contains_xy(room, *self.truth.pose[:, :2].T)
            if at.any():
                groups = self.network.network[at]
                result.append((self.place(room, groups[0]), int(groups[0])))
        return result

    def shared_rooms(self):
        """Whether the stations in each of the true rooms belong to several groups, so that none of
        these saw all that was seen of it."""
        network, pose = self.network.network, self.truth.pose
        return [
            len(np.unique(network[shapely.contains_xy(self.back(room, group), *pose[:, :2].T)])) > 1
            for room, group in self.true_rooms()
        ]

    def back(self, shape, group):
        """A shape of the plan in the frame of the truth."""
        inverse = between(self.motions[int(group)], np.zeros(3))
        return shapely.transform(shape, lambda xy: moved(inverse, xy))


def largest(shape):
    return max(shapely.get_parts(shape), key=shapely.area)


def timed(seconds, part, work):
    begin = time.process_time()
    result = work()
    seconds[part] += time.process_time() - begin
    return result


def judge_rooms(plan, figures):
    rooms = plan.rooms
    free = set(range(len(rooms)))
    for (true, group), shared in zip(plan.true_rooms(), plan.shared_rooms()):
        if shared:
            figures.shared += 1
            continue
        figures.rooms += 1
        shares = {
            k: true.intersection(rooms.polygon[k]).area / true.union(rooms.polygon[k]).area
            for k in free
            if rooms.network[k] == group
        }
        best = max(shares, key=shares.get, default=None)
        x, y = true.representative_point().coords[0]
        if best is None or shares[best] < FOUND_IOU:
            figures.notes.append(f"no room of {true.area:.1f} m2 at {x:.1f} {y:.1f}")
            continue
        free.discard(best)
        figures.found += 1
        error = rooms.area_m2[best] - true.area
        figures.relative.append(error / true.area)
        figures.areas.append((error, rooms.sigma_area_m2[best]))
        longer = rooms.perimeter_m[best] - true.length
        figures.perimeters.append((longer, rooms.sigma_perimeter_m[best]))
        if abs(error) > 0.03 * true.area:
            figures.notes.append(f"area {100 * error / true.area:+.1f} % at {x:.1f} {y:.1f}")
    # of a room that several groups see each draws its own, as far as it saw it
    whole = shapely.union_all([plan.back(room, group) for room, group in plan.true_rooms()])
    inner = whole.buffer(IN_A_ROOM_M)
    again = {k for k in free if inner.contains(plan.back(rooms.polygon[k], rooms.network[k]))}
    figures.again += len(again)
    free -= again
    figures.extra += len(free)
    figures.notes += [
        f"extra {rooms.area_m2[k]:.1f} m2 at {rooms.polygon[k].centroid.x:.1f} "
        f"{rooms.polygon[k].centroid.y:.1f}"
        for k in sorted(free)
    ]


def judge_doors(plan, figures):
    openings = plan.openings
    storey = plan.truth.storeys[0]
    near = [(room, group) for room, group in plan.true_rooms()]
    drawn = [k for k in range(len(openings)) if openings.kind[k] == "doorway"]
    middle = {k: openings.line[k].interpolate(0.5, normalized=True) for k in drawn}
    figures.drawn += len(drawn)
    used, judged = set(), []
    glass = shapely.linestrings(storey.segments[storey.surface == Surface.GLASS])
    panes = glass[shapely.length(glass) > 0.5]
    open_ = [n for n in storey.niches if not shapely.intersects(panes, n).any()]
    for door in (*storey.doors, *open_):
        groups = {g for room, g in near for p in [plan.place(door, g)] if room.intersects(p)}
        judged.append((door, groups))
        touching = sum(room.intersects(plan.place(door, g)) for room, g in near)
        if touching < 2 or len(groups) != 1:
            # no station behind it, or of another group: a doorway all the same
            places = [plan.place(door, g).buffer(DOOR_M) for g in groups or plan.motions]
            apart = {k for k in drawn if any(at.contains(middle[k]) for at in places)} - used
            used |= apart
            figures.drawn -= len(apart)
            continue
        figures.doors += 1
        at = plan.place(door, groups.pop())
        fits = [k for k in drawn if k not in used and at.buffer(DOOR_M).contains(middle[k])]
        if not fits:
            x, y = at.centroid.coords[0]
            figures.notes.append(f"no doorway at {x:.1f} {y:.1f}")
            continue
        figures.met += 1
        corners = np.asarray(door.exterior.coords)
        width = float(np.hypot(*(corners[2] - corners[1])))
        best = min(fits, key=lambda k: abs(openings.width_m[k] - width))
        used.add(best)
        figures.right += 1
        figures.widths.append((openings.width_m[best] - width, openings.sigma_width_m[best]))
    # stations of another group that look at a doorway from afar draw it as well
    again = {
        k
        for k in set(drawn) - used
        for g in [int(openings.network[k])]
        for door, groups in judged
        if g not in groups and plan.place(door, g).buffer(DOOR_M).contains(middle[k])
    }
    figures.drawn -= len(again)
    used |= again
    glazed = [plan.place(n, g) for n in storey.niches for g in plan.motions]
    for k in set(drawn) - used:
        pane = any(n.buffer(DOOR_M).contains(middle[k]) for n in glazed)
        figures.glazed += pane
        figures.notes.append(
            f"{'glazed' if pane else 'wrong'} doorway {openings.width_m[k]:.2f} at "
            f"{middle[k].x:.1f} {middle[k].y:.1f}"
        )


def true_segments(plan, group):
    """The ends ``(K, 2, 2)`` and the normals' azimuths ``(K,)`` of the true walls."""
    storey = plan.truth.storeys[0]
    chosen = storey.segments[storey.surface == Surface.WALL]
    ends = moved(plan.motions[group], chosen)
    way = ends[:, 1] - ends[:, 0]
    return ends, np.arctan2(way[:, 1], -way[:, 0])


def true_of_faces(walls, ends, azimuth, members):
    """The true wall of each face (-1: none), by its direction and the place of its middle."""
    found = np.full(len(walls), -1, dtype=np.int64)
    lines = shapely.linestrings(ends)
    for w in members:
        span = walls.span_m[w].mean()
        middle = walls.centre_m[w] + span * walls.direction[w]
        turned = np.abs(wrap_half(2 * (walls.normal_rad[w] - azimuth))) / 2
        length = np.ptp(walls.span_m[w])
        away = shapely.distance(lines, shapely.Point(middle))
        limit = np.maximum(ONE_FACE_RAD, 0.01 / max(length, 0.05))
        away[turned > limit] = np.inf
        k = int(np.argmin(away))
        if away[k] < ONE_FACE_M:
            found[w] = k
    return found


def judge_faces(plan, figures):
    """True faces that some station saw well, and how many faces they became."""
    measured = plan.measured
    for group in plan.motions:
        members = np.flatnonzero(measured.network == group)
        if not len(members):
            continue
        ends, azimuth = true_segments(plan, group)
        lines = shapely.linestrings(ends)
        tree = shapely.STRtree(lines)
        seen = np.zeros(len(ends), dtype=np.int64)
        for i in np.flatnonzero(plan.network.network == group):
            capture = plan.survey.captures[i]
            xy = plan.network.to_plan(i, capture.xy_m[capture.usable_ring])
            _, at = tree.query_nearest(shapely.points(xy), max_distance=0.01)
            seen = np.maximum(seen, np.bincount(at, minlength=len(ends)))
        true = true_of_faces(measured, ends, azimuth, members)
        met = np.bincount(true[true >= 0], minlength=len(ends))
        well = seen >= FEWEST
        figures.true_faces += int(well.sum())
        figures.missed += int((well & (met == 0)).sum())
        figures.faces += int(met[well].sum())
        for w in np.flatnonzero(true >= 0):
            a, b = ends[true[w]]
            if np.hypot(*(b - a)) < 0.8 or np.ptp(measured.span_m[w]) < 0.8:
                continue
            turn = float(wrap_half(2 * (measured.normal_rad[w] - azimuth[true[w]]))) / 2
            height = (measured.centre_m[w] - a) @ np.array([-(b - a)[1], (b - a)[0]])
            figures.offsets.append((height / np.hypot(*(b - a)), float(measured.sigma_offset_m[w])))
            figures.turns.append((turn, float(measured.sigma_normal_rad[w])))


def judge_lengths(plan, figures):
    """Distances between the walls of a room that face each other, against the true ones at the
    same place."""
    walls = plan.walls
    errors = face_errors(plan.survey, plan.network, walls)
    distances = Distances(walls, errors, plan.network)
    rng = np.random.default_rng(1)
    for room, group in plan.true_rooms():
        ends, azimuth = true_segments(plan, group)
        inside = shapely.distance(shapely.points(walls.drawn_m.mean(axis=1)), room.exterior) < 0.02
        long = np.ptp(walls.span_m, axis=1) > 0.5
        members = np.flatnonzero(inside & long & (walls.network == group))
        true = true_of_faces(walls, ends, azimuth, members)
        members = [int(w) for w in members if true[w] >= 0]
        pairs = [
            (i, j)
            for i in members
            for j in members
            if i < j and walls.normal[i] @ walls.normal[j] < -0.99
        ]
        for k in rng.permutation(len(pairs))[:4]:
            i, j = pairs[k]
            told = distances.between(walls.wall[i], walls.wall[j])
            foot, other = (on_line(told.ends_m[n], ends[true[w]]) for n, w in enumerate((i, j)))
            true_m = abs(float((other - foot) @ walls.normal[j]))
            figures.lengths.append((told.length_m - true_m, told.sigma_m))


def on_line(point, ends):
    way = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    return ends[0] + ((point - ends[0]) @ way) * way


def coverage(pairs):
    """The share of errors within 1.96 standard errors, and of pairs that state one."""
    rows = np.array(pairs, dtype=float).reshape(-1, 2)
    stated = np.isfinite(rows[:, 1])
    inside = np.abs(rows[stated, 0]) <= 1.96 * rows[stated, 1]
    return f"{100 * inside.mean():.1f} % of {stated.sum()} ({len(rows)} in all)"


def table(figures: Figures) -> str:
    """The figures over all buildings."""
    relative = 100 * np.abs(figures.relative)
    width = 1000 * np.abs([w for w, _ in figures.widths])
    length = 1000 * np.abs([w for w, _ in figures.lengths])
    offset = 1000 * np.abs([w for w, _ in figures.offsets])
    turn = np.degrees(np.abs([w for w, _ in figures.turns]))
    seconds, captures = figures.seconds, figures.captures

    def pair(values, unit):
        return f"{np.median(values):.3f}, {np.quantile(values, 0.95):.3f} {unit}"

    rows = [
        ("captures", captures),
        ("rooms with a station", figures.rooms),
        ("of these found", f"{100 * figures.found / figures.rooms:.1f} %"),
        ("rooms drawn that are none", figures.extra),
        ("  drawn by a second group, as far as seen", figures.again),
        ("rooms with stations of several groups, not judged", figures.shared),
        ("area error median, 95 %", pair(relative, "%")),
        ("coverage of 95 % intervals: areas", coverage(figures.areas)),
        (
            "  of areas within 1 % of the truth",
            coverage([a for a, r in zip(figures.areas, figures.relative) if abs(r) < 0.01]),
        ),
        ("coverage: perimeters", coverage(figures.perimeters)),
        (
            "  of perimeters of areas within 1 % of the truth",
            coverage([p for p, r in zip(figures.perimeters, figures.relative) if abs(r) < 0.01]),
        ),
        ("coverage: widths of doorways", coverage(figures.widths)),
        ("coverage: lengths from wall to wall", coverage(figures.lengths)),
        (
            "coverage: offsets, directions of faces",
            f"{coverage(figures.offsets)}; {coverage(figures.turns)}",
        ),
        ("width error median, 95 %", pair(width, "mm")),
        ("length error median, 95 %", pair(length, "mm")),
        ("face offset error median, 95 %", pair(offset, "mm")),
        ("face direction error median, 95 %", pair(turn, "deg")),
        ("doorways", figures.doors),
        ("recall", f"{100 * figures.met / figures.doors:.1f} %"),
        ("precision", f"{100 * figures.right / figures.drawn:.1f} % of {figures.drawn}"),
        ("  glazed doorways called doorways", figures.glazed),
        ("true faces seen well", figures.true_faces),
        ("of these missed", f"{100 * figures.missed / figures.true_faces:.1f} %"),
        ("faces a true face", f"{figures.faces / (figures.true_faces - figures.missed):.3f}"),
        *(
            (f"ms a capture: {part}", f"{1000 * spent / captures:.1f}")
            for part, spent in seconds.items()
        ),
    ]
    return "\n".join(f"{name:50s} {value}" for name, value in rows)


def main(first, count, *words):
    total = Figures()
    for seed in range(first, first + count):
        scale = next((int(word) for word in words if word.isdigit()), 50)
        one = judge(seed, chain="chain" in words, scale=scale)
        total.add(one)
        print(
            f"{seed}: {one.captures} captures, {one.found} of {one.rooms} rooms, "
            f"{one.met} of {one.doors} doorways, {one.drawn - one.right} wrong; "
            + "; ".join(one.notes),
            flush=True,
        )
    print(table(total))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), *sys.argv[3:])
