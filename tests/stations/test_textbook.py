# SPDX-License-Identifier: GPL-2.0-or-later
"""Textbook networks: C. D. Ghilani, Adjustment Computations, 5th ed., examples 14.5, 15.5, 16.1 and
16.2, as adjusted by GNU Gama 2.18 after F. Krumm, Geodetic Network Adjustment Examples (2020).

Gama's files are read where they lie beside the checkout; some of their figures stand here as well,
so that a clone without them is checked too.
"""

import xml.etree.ElementTree as ET

import numpy as np
import pytest
from roomtie.processing.stations.adjustment import adjust
from roomtie.processing.stations.blunders import snoop
from roomtie.processing.stations.observations import (
    Angles,
    Azimuths,
    Distances,
    Observations,
    Unknowns,
)
from roomtie.processing.stations.statistics import statistics_of

GAMA = "{http://www.gnu.org/software/gama/gama-local}"
RESULT = "{http://www.gnu.org/software/gama/gama-local-adjustment}"
CC = np.pi / 2_000_000  # a hundredth of a hundredth of a gon
SECOND = np.pi / 648_000
EXAMPLES = {  # and the number of steps after which Gama stopped
    "Ghilani14_5_Distance_fix": 2,
    "Ghilani15_5_Angle_fix": 2,
    "Ghilani16_1_Traverse": 2,
    "Ghilani16_2_DistanceAngleAzimuth_fix": 1,
}


def angle(text):
    """An angle of Gama's: d-m-s, or gon."""
    if "-" in text:
        degrees, minutes, seconds = (float(part) for part in text.split("-"))
        return np.radians(degrees + minutes / 60 + seconds / 3600), SECOND
    return float(text) * np.pi / 200, CC


def read_network(path):
    """Unknowns, observations, and for each of Gama's observations its row.

    The axes are east, north and angles run clockwise (``axes-xy="en" angles="left-handed"``), as
    here; standard errors are in mm for distances and in arc seconds or cc for angles.
    """
    root = ET.parse(path).getroot()  # noqa: S314
    network = root.find(f"{GAMA}network")
    assert network.attrib["axes-xy"] == "en" and network.attrib["angles"] == "left-handed"
    points = network.findall(f".//{GAMA}point")
    names = [p.attrib["id"] for p in points]
    unknowns = Unknowns(
        point=tuple(names),
        point_xy_m=np.array([[float(p.attrib["x"]), float(p.attrib["y"])] for p in points]),
        point_held=np.array([["fix" in p.attrib] * 2 for p in points]),
    )
    found = {"distance": [], "angle": [], "azimuth": []}
    for element in network.findall(f".//{GAMA}obs/*"):
        kind = element.tag.removeprefix(GAMA)
        a = element.attrib
        at, sigma = names.index(a["from"]), float(a["stdev"])
        if kind == "distance":
            found[kind].append((at, names.index(a["to"]), float(a["val"]), sigma / 1000))
        elif kind == "angle":
            value, unit = angle(a["val"])
            ends = names.index(a["bs"]), names.index(a["fs"])
            found[kind].append((at, *ends, value, sigma * unit))
        else:
            value, unit = angle(a["val"])
            found[kind].append((at, names.index(a["to"]), value, sigma * unit))
    columns = {kind: list(zip(*rows)) for kind, rows in found.items()}
    observations = Observations(
        distances=Distances(*columns["distance"]) if found["distance"] else Distances(),
        angles=Angles(*columns["angle"]) if found["angle"] else Angles(),
        azimuths=Azimuths(*columns["azimuth"]) if found["azimuth"] else Azimuths(),
    )
    return unknowns, observations, float(network.find(f"{GAMA}parameters").attrib["sigma-apr"])


def read_result(path):
    """Adjusted coordinates by name, covariance (m2), standard deviations, and by observation in the
    order distances, angles, azimuths: adjusted value, its sigma, Qvv, f, std-residual (SI)."""
    root = ET.parse(path).getroot()  # noqa: S314

    def text(where):
        return root.find(".//" + "/".join(RESULT + part for part in where.split("/"))).text

    points = root.findall(f".//{RESULT}adjusted/{RESULT}point")
    xy = {
        p.find(f"{RESULT}id").text: [float(p.find(f"{RESULT}{axis}").text) for axis in "xy"]
        for p in points
    }
    size = int(text("cov-mat/dim"))
    upper = np.zeros((size, size))
    upper[np.triu_indices(size)] = [
        float(value.text) for value in root.findall(f".//{RESULT}cov-mat/{RESULT}flt")
    ]
    covariance = (upper + upper.T - np.diag(np.diag(upper))) * 1e-6
    rows = []
    for kind, unit, sigma_unit in (
        ("distance", 1.0, 1e-3),
        ("angle", np.pi / 200, CC),
        ("azimuth", np.pi / 200, CC),
    ):
        for element in root.findall(f".//{RESULT}observations/{RESULT}{kind}"):

            def number(name, element=element):
                found = element.find(f"{RESULT}{name}")
                return np.nan if found is None else float(found.text)

            rows.append(
                (
                    number("adj") * unit,
                    number("stdev") * sigma_unit,
                    number("qrr") * sigma_unit**2,
                    number("f"),
                    number("std-residual"),
                    number("err-obs") * sigma_unit,
                )
            )
    return {
        "xy": xy,
        "covariance": covariance,
        "freedom": int(text("project-equations/degrees-of-freedom")),
        "sum": float(text("project-equations/sum-of-squares")),
        "aposteriori": float(text("standard-deviation/aposteriori")),
        "lower": float(text("standard-deviation/lower")),
        "upper": float(text("standard-deviation/upper")),
        "rows": np.array(rows).T,
    }


def observed_and_sigma(observations):
    d, a, z = observations.distances, observations.angles, observations.azimuths
    return (
        np.concatenate([d.distance_m, a.angle_rad, z.azimuth_rad]),
        np.concatenate([d.sigma_m, a.sigma_rad, z.sigma_rad]),
    )


@pytest.mark.parametrize("example", EXAMPLES)
def test_agrees_with_gama_to_the_printed_digits(shared_data, example):
    """At the iteration at which Gama stops (its test is on the linearisation error of the adjusted
    observations) everything must agree to the digits printed; covariances and what follows from
    them belong to the linearisation before the last step."""
    folder = shared_data("adjustment")
    unknowns, observations, apriori = read_network(folder / f"{example}.gkf")
    expected = read_result(folder / f"{example}.xml")
    steps = EXAMPLES[example]
    last = adjust(unknowns, observations, max_iterations=0)
    for _ in range(steps):  # plain Gauss-Newton steps, the equations linearised anew for each
        linearised = last
        last = adjust(unknowns, observations, start=last.unknowns, max_iterations=1)
    statistics = statistics_of(linearised)
    moving = list(expected["xy"])
    at = [unknowns.place(name) for name in moving]

    # Printed to 1e-13 m and better; 1e-9 m is the rounding of coordinates of 2 400 000 m.
    assert last.unknowns.place_xy_m()[at] == pytest.approx(
        np.array(list(expected["xy"].values())), abs=1e-9
    )
    # Eight significant digits.
    assert last.degrees_of_freedom == expected["freedom"]
    assert last.sum_of_squares * apriori**2 == pytest.approx(expected["sum"], rel=2e-7)
    posterior = np.sqrt(last.sum_of_squares / last.degrees_of_freedom)
    assert posterior * apriori == pytest.approx(expected["aposteriori"], rel=1e-7)
    columns = (unknowns.place_column(at)[:, None] + [0, 1]).ravel()
    covariance = linearised.covariance(columns) * posterior**2
    # Gama works in a left-handed frame here: its y is ours with the other sign.
    mirror = np.where(np.arange(len(columns)) % 2, -1.0, 1.0)
    assert covariance * np.outer(mirror, mirror) == pytest.approx(expected["covariance"], rel=2e-7)

    value, sigma, qrr, f, standardised, error = expected["rows"]
    observed, apriori_sigma = observed_and_sigma(observations)
    # Gama's residuals are those of the linearised equations, 0.1 micrometre off in example 16.2.
    assert last.residual == pytest.approx(value - observed, abs=1e-7)
    redundancy = statistics.redundancy
    assert posterior * apriori_sigma * np.sqrt(np.maximum(1 - redundancy, 0)) == pytest.approx(
        sigma, rel=1e-6
    )
    # Three decimals: cofactors of residuals in mm2 and cc2 for a unit weight of sigma-apr ...
    unit = np.where(np.arange(len(qrr)) < len(observations.distances), 1e-3, CC)
    assert redundancy * (apriori_sigma / apriori / unit) ** 2 == pytest.approx(
        qrr / unit**2, abs=6e-4
    )
    # ... 100 (1 - sigma of the adjusted over sigma of the observed) ...
    assert 100 * (1 - np.sqrt(1 - redundancy)) == pytest.approx(f, abs=6e-4)
    # ... and standardised residuals, scaled a posteriori; none is printed for the azimuth, which
    # alone gives the direction.
    controlled = ~np.isnan(standardised)
    assert (statistics.detectable < np.inf).tolist() == controlled.tolist()
    w = (last.residual / apriori_sigma)[controlled] / np.sqrt(redundancy[controlled])
    assert np.abs(w) / posterior == pytest.approx(standardised[controlled], abs=6e-4)
    # What must be in a reading to be found with 80 % (Baarda: delta0 = 4.13 for 0.1 %), from Gama's
    # own shares of control; its three decimals are 2e-5 of a redundancy of 0.5.
    share = 1 - (1 - f / 100) ** 2
    sure = share > 0.1
    detectable = 4.1316 * apriori_sigma[sure] / np.sqrt(share[sure])
    assert statistics.detectable[sure] == pytest.approx(detectable, rel=3e-4)
    # The error that the residual points to, v / r, in mm and cc; not printed for small residuals.
    printed = ~np.isnan(error)
    pointed = (last.residual / unit)[printed] / redundancy[printed]
    assert pointed == pytest.approx((error / unit)[printed], abs=1e-3)


@pytest.mark.parametrize("example", EXAMPLES)
def test_converges_to_what_gama_approaches(shared_data, example):
    """At the optimum, to the linearisation error that Gama leaves: 0.1 micrometre, and 0.2 % of the
    covariances, which it takes at the approximate coordinates in example 16.2."""
    folder = shared_data("adjustment")
    unknowns, observations, apriori = read_network(folder / f"{example}.gkf")
    expected = read_result(folder / f"{example}.xml")
    result = adjust(unknowns, observations)
    statistics = statistics_of(result)
    assert result.converged
    at = [unknowns.place(name) for name in expected["xy"]]
    assert result.unknowns.place_xy_m()[at] == pytest.approx(
        np.array(list(expected["xy"].values())), abs=1e-7
    )
    posterior = np.sqrt(statistics.reference_variance)
    assert posterior * apriori == pytest.approx(expected["aposteriori"], rel=1e-6)
    columns = (unknowns.place_column(at)[:, None] + [0, 1]).ravel()
    assert np.diag(result.covariance(columns)) * posterior**2 == pytest.approx(
        np.diag(expected["covariance"]), rel=2e-3
    )
    controlled = ~np.isnan(expected["rows"][4])
    assert np.abs(statistics.standardised[controlled]) / posterior == pytest.approx(
        expected["rows"][4][controlled], abs=1e-3
    )
    # The bounds of the ratio of standard deviations, three decimals.
    assert np.sqrt(statistics.lower_bound) == pytest.approx(expected["lower"], abs=6e-4)
    assert np.sqrt(statistics.upper_bound) == pytest.approx(expected["upper"], abs=6e-4)


def quadrilateral(**added):
    """Ghilani, example 16.2: Q held, distances, angles and the azimuth Q-R."""
    names = ("Q", "R", "S", "T")
    d = [
        ("QR", 1640.016, 26.0),
        ("RS", 1320.001, 24.0),
        ("ST", 1579.123, 25.0),
        ("TQ", 1664.524, 26.0),
        ("QS", 2105.962, 29.0),
        ("RT", 2266.035, 30.0),
    ]
    # Backsight, instrument, foresight.
    a = [
        ("RQS", "38-48-50.7", 4.0),
        ("SQT", "47-46-12.4", 4.0),
        ("TQR", "273-24-56.5", 4.4),
        ("QRS", "269-57-33.4", 4.7),
        ("RST", "257-32-56.8", 4.7),
        ("STQ", "279-04-31.2", 4.5),
        ("SRT", "42-52-51.0", 4.3),
        ("SRQ", "90-02-26.7", 4.5),
        ("QSR", "51-08-45.0", 4.3),
        ("TSQ", "51-18-16.2", 4.0),
        ("RTS", "34-40-05.7", 4.0),
    ]
    a += added.get("angles", [])
    back, at, fore = ([names.index(ends[i]) for ends, _, _ in a] for i in range(3))
    value = np.array([angle(text)[0] for _, text, _ in a])
    value[added.get("row", 0)] += added.get("seconds", 0.0) * SECOND
    return (
        Unknowns(
            point=names,
            point_xy_m=np.array(
                [[1000.0, 1000.0], [1003.06, 2640.01], [2323.07, 2638.47], [2661.75, 1096.07]]
            ),
            point_held=np.array([[True, True]] + [[False, False]] * 3),
        ),
        Observations(
            distances=Distances(
                [names.index(ends[0]) for ends, _, _ in d],
                [names.index(ends[1]) for ends, _, _ in d],
                [value for _, value, _ in d],
                [sigma / 1000 for _, _, sigma in d],
            ),
            angles=Angles(at, back, fore, value, [sigma * SECOND for _, _, sigma in a]),
            azimuths=Azimuths([0], [1], [angle("0-6-24.5")[0]], [0.001 * SECOND]),
        ),
    )


def test_figures_of_example_16_2():
    """Gama's figures for the example (file Ghilani16_2_DistanceAngleAzimuth_fix.xml), coordinates
    after its one step."""
    unknowns, observations = quadrilateral()
    result = adjust(unknowns, observations, max_iterations=1)
    assert result.unknowns.point_xy_m[1:] == pytest.approx(
        np.array(
            [
                [1003.0571511050980, 2640.0050759878408],
                [2323.0626484624090, 2638.4742039682464],
                [2661.7386089225628, 1096.0867085219113],
            ]
        ),
        abs=1e-9,
    )
    result = adjust(unknowns, observations)
    statistics = statistics_of(result)
    assert result.degrees_of_freedom == 12
    assert np.sqrt(statistics.reference_variance) == pytest.approx(0.35261578, rel=1e-6)
    assert not statistics.passes  # sigmas were too pessimistic: the lower bound fails
    w = np.abs(statistics.standardised) / 0.35261578
    assert w[:6] == pytest.approx([1.161, 0.836, 1.448, 1.402, 0.458, 0.162], abs=1e-3)
    assert w[15] == pytest.approx(2.024, abs=1e-3)


def test_the_angle_left_out_of_example_16_2_is_a_blunder():
    """The book's angle Q-T-R, 46-15-02.0 with 4.0 seconds (value from memory)."""
    unknowns, observations = quadrilateral(angles=[("QTR", "46-15-02.0", 4.0)])
    result = snoop(unknowns, observations)
    assert [(r.kind, r.item, r.component) for r in result.rejected] == [("angles", 11, 0)]
    assert "|w|" in result.rejected[0].reason
    assert observations.describe(unknowns, 17) == "angle Q-T-R"
    clean = adjust(*quadrilateral())
    assert result.adjustment.unknowns.vector == pytest.approx(clean.unknowns.vector, abs=1e-9)


@pytest.mark.parametrize("row", range(11))
@pytest.mark.parametrize("seconds", [60.0, -60.0])
def test_a_minute_planted_in_any_angle_is_found(row, seconds):
    """Every angle of the network has a redundancy above 0.6."""
    result = snoop(*quadrilateral(row=row, seconds=seconds))
    assert [(r.kind, r.item) for r in result.rejected] == [("angles", row)]
