# SPDX-License-Identifier: GPL-2.0-or-later
"""A total station's file beside laser captures, from text to a georeferenced plan."""

import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE / "captures"), str(HERE / "stations")]

from landxml_files import Shot, Stand, cg_point, landxml  # noqa: E402
from roomtie.processing.angles import turn  # noqa: E402
from roomtie.processing.captures.flags import flag_readings  # noqa: E402
from roomtie.processing.captures.landxml import read_landxml  # noqa: E402
from roomtie.processing.captures.model import Survey  # noqa: E402
from roomtie.processing.chain import draw_plans, tie_stations  # noqa: E402
from roomtie.processing.site.fit import fit_site  # noqa: E402
from roomtie.processing.site.grid import grid_at  # noqa: E402
from roomtie.processing.site.known_points import control_of_known  # noqa: E402
from roomtie.processing.stations.model import Status, TieKind  # noqa: E402
from roomtie.processing.stations.network_options import NetworkOptions  # noqa: E402
from surveyed import POSES, TARGETS, local, survey  # noqa: E402

CRS, HEIGHT_M = "EPSG:25832", 300.0
ORIGIN_M, ROTATION = np.array([544_600.0, 5_338_700.0]), np.radians(37.0)
PLACE = grid_at(CRS, 9.6, 48.2, HEIGHT_M)
TS = {"TS1": np.array([3.0, 2.6, 0.3]), "TS2": np.array([5.5, 2.5, 1.0])}
SIGHTED = {"TS1": ("T1", "T2", "T3", "T5"), "TS2": ("T3", "T4", "T5", "T6")}


def on_the_grid(plan_xy):
    return ORIGIN_M + PLACE.scale * turn(np.asarray(plan_xy, dtype=float), ROTATION)


def shots_of(pose, names, rng):
    """Both faces of each target, by an instrument with errors: collimation 0.01 deg, index 0.005
    deg, noise of 5 seconds, 0.3 mm of pointing and 1 mm of distance."""
    for name in names:
        angle, distance = local(pose, TARGETS[name])
        zenith = rng.uniform(75, 105)
        slope = distance / np.sin(np.radians(zenith))
        for direct in (True, False):
            side = 0.01 / np.sin(np.radians(zenith)) * (1 if direct else -1)
            pointing = np.hypot(5 / 3600, np.degrees(0.0003 / distance))
            circle = angle + side + pointing * rng.standard_normal() + (0 if direct else 180)
            z = zenith + 0.005 + pointing * rng.standard_normal()
            yield Shot(
                name,
                circle % 360,
                z if direct else 360 - z + 0.01,
                slope + 0.001 * rng.standard_normal(),
                direct,
            )


@pytest.fixture(scope="module")
def job():
    """The laser captures fall apart into two rooms and a lone one; the total station sights targets
    of both and stands, with its first set-up, on a known point; T4 is the other one."""
    rng = np.random.default_rng(4)
    stands = [
        Stand(
            name,
            name,
            tuple(shots_of(pose, SIGHTED[name], rng)),
            point="P" if name == "TS1" else "",
        )
        for name, pose in TS.items()
    ]
    points = ""
    for name, xy in (("P", TS["TS1"][:2]), ("T4", TARGETS["T4"])):
        east, north = on_the_grid(xy)
        points += f"\n{cg_point(name, north, east)}"
    text = landxml(
        stands,
        angular="decimal dd.mm.ss",
        points=points,
        head='<CoordinateSystem name="grid" epsgCode="25832"/>',
    )
    # Twelve digits of a northing of millions of metres are a hundredth of a millimetre.
    total = read_landxml(text.encode(), name="ts.xml")
    laser = survey(readings=1000)
    both = flag_readings(
        Survey((*laser.captures, *total.captures), known_points=total.known_points)
    )
    return SimpleNamespace(
        total=flag_readings(total),
        laser=tie_stations(flag_readings(laser), NetworkOptions()),
        tied=tie_stations(both, NetworkOptions()),
    )


def test_the_total_station_ties_what_the_captures_do_not(job):
    assert set(job.laser.network.network.tolist()) == {1, 2}
    network = job.tied.network
    assert set(network.network.tolist()) == {1}
    assert set(network.status) == {Status.ADJUSTED}
    own = [network.station[s].startswith("TS") for s in network.ties.from_station]
    assert {k for k, o in zip(network.ties.kind, own) if o} == {TieKind.TARGET}
    assert network.ties.used.all()


def test_the_instruments_errors_are_found(job):
    sentences = [r.sentence for r in job.total.captures[0].remarks if r.check == "two faces"]
    assert len(sentences) == 1
    assert "collimation +0.01" in sentences[0] and "index error +0.00" in sentences[0]


def test_its_known_points_georeference_the_plan(job):
    network = job.tied.network
    control, told = control_of_known(job.tied.survey.known_points, network, CRS)
    assert set(control.name) == {"TS1", "T4"}
    assert "are control." in told[0]
    (fit,) = fit_site(job.tied.survey, network, target_crs=CRS, control=control, height_m=HEIGHT_M)
    assert fit.decides_rotation == "control points (2 used)"
    poses = np.vstack([POSES, [*TS.values()]])
    apart = fit.to_target(network.xy_m) - on_the_grid(poses[:, :2])
    # Sightings of 1 to 2 mm each, over a base of 6 m.
    assert np.hypot(*apart.T).max() < 0.005
    turned = network.orientation_rad + fit.rotation_rad - poses[:, 2] - ROTATION
    assert np.degrees(np.abs((turned + np.pi) % (2 * np.pi) - np.pi)).max() < 0.06


def test_rooms_are_built_beside_captures_without_a_ring(job):
    (plan,) = draw_plans(job.tied, (50,)).plans
    # The storey's three rooms, from their corners: 4.8 x 2.8, 4.8 x 3 + 4.1 x 1, 4 x 5 + 2.5 x 0.6.
    assert sorted(plan.rooms.area_m2) == pytest.approx([13.44, 18.5, 21.5], abs=0.1)
    assert {"TS1", "TS2"} <= {name for names in plan.rooms.stations for name in names}


def test_a_total_station_alone_makes_a_network_and_no_walls(job):
    tied = tie_stations(job.total, NetworkOptions())
    assert set(tied.network.status) == {Status.ADJUSTED}
    base = np.hypot(*(tied.network.xy_m[1] - tied.network.xy_m[0]))
    # Two common targets 1.1 m apart, 1 m off the line between the set-ups.
    assert base == pytest.approx(np.hypot(*(TS["TS2"] - TS["TS1"])[:2]), abs=0.005)
    (plan,) = draw_plans(tied, (50,)).plans
    assert len(plan.walls) == len(plan.rooms) == len(plan.openings.opening) == 0
