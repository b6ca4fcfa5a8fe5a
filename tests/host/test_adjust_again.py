# SPDX-License-Identifier: GPL-2.0-or-later
"""Results of Adjust stations, edited by a person, as the input of the next run."""

import pytest
from qgis.core import QgsFeatureRequest, QgsProcessingException, edit

SINKS = dict.fromkeys(
    ("ADJUSTED_STATIONS", "ADJUSTED_READINGS", "TIES", "TARGETS", "NETWORK_COVARIANCE"), "memory:"
)


def run(stations, readings, **more):
    import processing

    inputs = {"STATIONS": stations, "READINGS": readings}
    return processing.run("roomtie:adjuststations", {**inputs, **SINKS, **more})


@pytest.fixture(scope="module")
def recorded(roomtie, example_survey):
    import processing

    return processing.run(
        "roomtie:importcaptures",
        {"INPUT": str(example_survey / "captures"), "STATIONS": "memory:", "READINGS": "memory:"},
    )


@pytest.fixture(scope="module")
def first(recorded):
    return run(recorded["STATIONS"], recorded["READINGS"])


def again(result, decided=None, ties=None, **more):
    """The next run, after the fields of some stations and ties were set."""
    stations, earlier = copy(result["ADJUSTED_STATIONS"]), copy(result["TIES"])
    for layer, key, values in ((stations, "station", decided), (earlier, "tie", ties)):
        with edit(layer):
            for feature in layer.getFeatures():
                for field, value in (values or {}).get(feature[key], {}).items():
                    layer.changeAttributeValue(
                        feature.id(), layer.fields().lookupField(field), value
                    )
    inputs = {"EARLIER_TIES": earlier, "EARLIER_COVARIANCE": result["NETWORK_COVARIANCE"]}
    return run(stations, result["ADJUSTED_READINGS"], **{**inputs, **more})


def copy(layer):
    return layer.materialize(QgsFeatureRequest())


def table(layer, key, *names):
    return {f[key]: tuple(f[n] for n in names) for f in layer.getFeatures()}


POSE = ("x_m", "y_m", "orientation_deg")


def test_nothing_changes_where_nothing_was_decided(first):
    found = again(first)
    a, b = (table(r["ADJUSTED_STATIONS"], "station", *POSE) for r in (first, found))
    assert a.keys() == b.keys()
    for name in a:
        assert b[name] == pytest.approx(a[name], abs=2e-3)
    assert found["UNCONNECTED_STATIONS"] == first["UNCONNECTED_STATIONS"]


def test_a_station_left_out_and_others_held(first):
    poses = table(first["ADJUSTED_STATIONS"], "station", *POSE)
    names = list(poses)
    out, kept = names[-1], names[:3]
    decided = {out: {"choice": "leave out"}, **{name: {"choice": "hold"} for name in kept}}
    found = again(first, decided)
    after = table(found["ADJUSTED_STATIONS"], "station", *POSE, "status", "choice")
    assert after[out][3:] == ("unconnected", "leave out")
    for name in kept:
        assert after[name][:3] == pytest.approx(poses[name], abs=1e-12)
        assert after[name][3:] == ("held", "hold")
    # And back again: the choices go on with the layer, until a person takes them out.
    back = again(found, {out: {"choice": None}})
    assert table(back["ADJUSTED_STATIONS"], "station", "status")[out] == ("adjusted",)


def test_ties_left_out_and_re_weighted(first):
    ties = table(first["TIES"], "tie", "kind", "used")
    names = [name for name, (kind, used) in ties.items() if kind == "overlap" and used]
    found = again(first, ties={names[0]: {"choice": "leave out"}, names[1]: {"sigma_factor": 2.0}})
    after = table(found["TIES"], "tie", "used", "reason", "choice", "sigma_factor")
    assert after[names[0]][:3] == (False, "taken out by a person", "leave out")
    assert after[names[1]][0] is True and after[names[1]][3] == 2.0


@pytest.mark.parametrize(
    ("decided", "ties", "message"),
    [
        ({"choice": "drop"}, {}, "Layer stations, station .*: choice is 'drop', expected hold, "),
        ({}, {"choice": "hold"}, "Layer ties, tie .*: choice is 'hold', expected leave out or"),
        ({}, {"sigma_factor": 0.0}, r"Layer ties, tie .*: sigma_factor is 0\.0, expected a number"),
    ],
)
def test_choices_that_are_none_are_refused(first, decided, ties, message):
    station = next(iter(table(first["ADJUSTED_STATIONS"], "station", "status")))
    tie = next(iter(table(first["TIES"], "tie", "kind")))
    with pytest.raises(QgsProcessingException, match=message):
        again(first, {station: decided}, {tie: ties})


def test_all_can_be_searched_anew(first):
    found = again(first, START=0)
    a, b = (table(r["ADJUSTED_STATIONS"], "station", *POSE) for r in (first, found))
    for name in a:
        assert b[name] == pytest.approx(a[name], abs=2e-3)


def test_layers_without_the_fields_do(first):
    stations = copy(first["ADJUSTED_STATIONS"])
    with edit(stations):
        fields = stations.fields()
        stations.deleteAttributes([fields.lookupField(n) for n in ("choice", "proposal")])
    found = run(stations, first["ADJUSTED_READINGS"])
    assert found["UNCONNECTED_STATIONS"] == first["UNCONNECTED_STATIONS"]
