# SPDX-License-Identifier: GPL-2.0-or-later
"""Pictures of plans over their readings: a bare and a furnished simulated building, a real flat.

    OMP_NUM_THREADS=1 python tests/benchmarks/pictures_of_plans.py FOLDER [flat-six-stations]

writes `plan-bare.png`, `plan-furnished.png` and, with the folder of the real captures,
`plan-real-flat.png`: all captures where their stations were taped (`taped_positions.json` beside
them). Needs matplotlib. Run it from anywhere but the checkout's top.
"""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import plans  # makes the package and the simulators importable
from matplotlib.figure import Figure
from PIL import Image
from roomtie.processing.captures.noise import with_noise
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.chain import Tied, draw_plans, fit_all_faces, tie_stations
from roomtie.processing.stations.network_options import NetworkOptions
from simulated_buildings import simulated_building
from simulated_rooms import network_of

BARE, FURNISHED = 1020, 1018
READING, ROOM, WALL, OTHER = "#c2410c", "#dbe7d3", "#1d2328", "#9aa4ab"
OPENING = {"doorway": "#b45309", "window": "#0369a1", "unseen": "#a21caf"}
DOTS = 90
TAPED_M, TAPED_RAD = 0.05, np.radians(1.0)
"""Positions taped by hand, to a few centimetres; orientations kept by eye."""


def as_taped(survey, folder):
    """The survey with its stations where they were taped."""
    rows = json.loads((folder / "taped_positions.json").read_text())["stations"]
    of = {row["station"]: row for row in rows}
    at = np.array([(of[name]["x"], of[name]["y"]) for name in survey.names])
    turned = np.radians([of[name]["orientation_deg"] for name in survey.names])
    sigma = np.tile([TAPED_M, TAPED_M, TAPED_RAD], len(survey))
    survey = with_noise(survey)
    network = network_of(survey, at, turned, np.diag(sigma**2))
    return Tied(survey, fit_all_faces(survey), network)


def picture(tied, title, path, network_number=None):
    """Draw the largest connected group (or the one of a number) of a survey."""
    network, (plan,) = tied.network, draw_plans(tied, (50,)).plans
    number = network_number or int(np.bincount(network.network).argmax())
    figure = Figure(figsize=(10.5, 5.6), dpi=DOTS)
    axes = figure.add_axes([0.01, 0.07, 0.98, 0.86])
    of_group = [p for p, at in zip(plan.rooms.polygon, plan.rooms.network) if at == number]
    shown = [np.asarray(p.exterior.coords) for p in of_group]
    shown = np.concatenate([*shown, network.xy_m[network.network == number]])
    upright = np.ptp(shown, axis=0)[1] > np.ptp(shown, axis=0)[0]

    def lay(points):
        """Points as drawn: long storeys lie across the picture."""
        return points[..., ::-1] * [1.0, -1.0] if upright else points

    rooms, openings, walls = plan.rooms, plan.openings, plan.walls
    for k in np.flatnonzero(rooms.network == number):
        shell = np.asarray(rooms.polygon[k].exterior.coords)
        axes.fill(*lay(shell).T, color=ROOM, linewidth=0, zorder=1)
        for hole in rooms.polygon[k].interiors:
            axes.fill(*lay(np.asarray(hole.coords)).T, color="white", linewidth=0, zorder=1)
        place = rooms.polygon[k].representative_point()
        axes.text(
            *lay(np.array([place.x, place.y])), f"{rooms.name[k]}\n{rooms.area_m2[k]:.1f} m²",
            ha="center", va="center", fontsize=7, color="#334155", zorder=5,
        )  # fmt: skip
    for i in np.flatnonzero(network.network == number):
        capture = tied.survey.captures[i]
        xy = network.to_plan(i, capture.xy_m[capture.usable_ring])
        axes.plot(*lay(xy).T, ".", color=READING, markersize=1.6, markeredgewidth=0, zorder=2)
    for bounding, colour, width in ((False, OTHER, 1.0), (True, WALL, 1.6)):
        of = (walls.network == number) & (plan.bounding == bounding)
        for ends in walls.drawn_m[of]:
            axes.plot(*lay(ends).T, color=colour, linewidth=width, zorder=3)
    for k in np.flatnonzero(openings.network == number):
        line = np.asarray(openings.line[k].coords)
        dash = ":" if openings.kind[k] == "unseen" else "-"
        axes.plot(*lay(line).T, dash, color=OPENING[openings.kind[k]], linewidth=2.0, zorder=4)
    at = network.xy_m[network.network == number]
    axes.plot(*lay(at).T, "^", color="black", markersize=4, zorder=6)
    low, high = lay(shown).min(axis=0) - 0.8, lay(shown).max(axis=0) + 0.8
    axes.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]), aspect="equal")
    axes.axis("off")
    figure.text(0.5, 0.955, title, ha="center", fontsize=10)
    figure.text(
        0.5, 0.02,
        "readings dotted; walls black, what bounds no room grey; doorways orange, windows blue, "
        "unseen stretches purple; stations triangles",
        ha="center", fontsize=7.5, color="#475569",
    )  # fmt: skip
    figure.savefig(path)
    Image.open(path).convert("RGB").quantize(48).save(path, optimize=True)
    print(path, Path(path).stat().st_size // 1024, "KB", len(rooms), "rooms")


def simulated(seed):
    """A simulated building as an import would hand it on, through the whole chain."""
    survey, _ = simulated_building(seed)
    worth = plans.noise_in(survey.captures)
    captures = tuple(plans.check_capture(c, own) for c, own in zip(survey.captures, worth))
    return tie_stations(replace(survey, captures=captures), NetworkOptions())


def main(folder, real=None):
    folder = Path(folder)
    picture(simulated(BARE), "A simulated storey, bare", folder / "plan-bare.png")
    picture(simulated(FURNISHED), "A simulated storey, furnished", folder / "plan-furnished.png")
    if real is not None:
        tied = as_taped(import_captures(Path(real)), Path(real))
        picture(tied, "A real flat, a hobby instrument", folder / "plan-real-flat.png")


if __name__ == "__main__":
    main(*sys.argv[1:])
