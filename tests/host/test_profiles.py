# SPDX-License-Identifier: GPL-2.0-or-later
"""Unmarked text files through the PROFILE parameter, and the profiles in the host's settings."""

import json
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from qgis.core import QgsProcessingException, QgsSettings

sys.path.append(str(Path(__file__).resolve().parents[1] / "captures"))
from profiles import described, kept, ring_text


@pytest.fixture
def store(qgis_app):
    from roomtie.processing.algorithms.profile_store import KEY, ProfileStore

    QgsSettings().remove(KEY)
    yield ProfileStore()
    QgsSettings().remove(KEY)


def text_of(profile):
    from roomtie.processing.captures.profile_json import profile_to_json

    return profile_to_json(profile)


@pytest.fixture
def hall(tmp_path):
    path = tmp_path / "in" / "hall.txt"
    path.parent.mkdir()
    path.write_bytes(ring_text())
    return path


def imported(run, path, **parameters):
    result = run("importcaptures", INPUT=str(path), READINGS="memory:", STATIONS=None, **parameters)
    return [
        (f["station"], f["angle_deg"], f["distance_m"]) for f in result["READINGS"].getFeatures()
    ]


def check_hall(readings):
    assert len(readings) == 200
    assert readings[0] == ("hall", 0.0, 1.5)
    assert readings[50][1:] == (pytest.approx(-90.0), 2.0)


def test_profiles_are_kept_renamed_and_deleted(store):
    from roomtie.processing.errors import SurveyError

    assert store.all() == {}
    profile = kept(ring_text(), name="Büro ‘ä’ %2F = a")
    store.keep(profile)
    store.keep(described(name="b"))
    assert store.names() == ["b", profile.name]
    assert store.all()[profile.name] == profile
    store.keep(described(name="b", distance_unit="cm"))
    assert store.all()["b"].distance_unit == "cm"
    store.rename("b", "c")
    assert store.names() == [profile.name, "c"]
    with pytest.raises(SurveyError, match="used by another profile"):
        store.rename("c", profile.name)
    with pytest.raises(SurveyError, match="without slashes"):
        store.rename("c", "a/b")
    with pytest.raises(SurveyError, match="no profile 'b'"):
        store.rename("b", "d")
    store.delete("c")
    store.delete("c")
    assert store.names() == [profile.name]


@pytest.mark.parametrize("value", ["{", "3", "[3]", "[[[[", '[{"schema": 1}]', 7])
def test_damaged_settings_hide_no_good_profile_and_are_not_lost(store, value):
    from roomtie.processing.algorithms.profile_store import KEY

    QgsSettings().setValue(KEY, value)
    assert store.all() == {}
    store.keep(described(name="a"))
    assert store.names() == ["a"]
    if value == '[{"schema": 1}]':
        assert {"schema": 1} in json.loads(QgsSettings().value(KEY))


def test_an_unmarked_file_says_how_to_describe_it(run, store, hall):
    with pytest.raises(
        QgsProcessingException, match=r"hall\.txt: an unmarked text file.*Describe a text file"
    ):
        imported(run, hall)
    with pytest.raises(QgsProcessingException, match=r"hall\.txt: an unmarked text file"):
        imported(run, hall.parent)


def test_a_kept_profile_is_taken_for_the_file_that_looks_the_same(run, store, hall):
    store.keep(kept(ring_text(count=400, half=(3000.0, 1000.0)), name="head"))
    check_hall(imported(run, hall))
    check_hall(imported(run, hall.parent))


def test_a_name_a_file_and_json_are_taken_as_the_parameter(run, store, hall, tmp_path):
    profile = described(name="by hand")
    store.keep(profile)
    file = tmp_path / "by hand.json"
    file.write_text(text_of(profile), encoding="utf-8")
    for value in ("by hand", str(file), text_of(profile)):
        check_hall(imported(run, hall, PROFILE=value))
    (hall.parent / "read me.txt").write_text("Measured on Monday; see below.")
    check_hall(imported(run, hall.parent, PROFILE="by hand"))


def test_two_profiles_that_fit_are_asked_about(run, store, hall):
    a = kept(ring_text(), name="a")
    store.keep(a)
    store.keep(replace(a, name="b", rotation="clockwise"))
    with pytest.raises(QgsProcessingException, match="the profiles 'a' and 'b' fit this text file"):
        imported(run, hall)
    check_hall(imported(run, hall, PROFILE="a"))


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("nobody", "there is no profile 'nobody'; kept are: none"),
        ("/nowhere/x.json", "cannot be read"),
        ("{}", "but no profile"),
        ('{"schema": "roomtie-text-profile", "version": 9}', "schema version '9'"),
    ],
)
def test_a_bad_parameter_is_one_sentence(run, store, hall, value, said):
    with pytest.raises(QgsProcessingException, match=said):
        imported(run, hall, PROFILE=value)


def test_other_files_than_profiles_are_refused(run, store, hall, tmp_path):
    for name, content in (("a.json", b"\xff\xfe"), ("b.json", b"{" * 200_000)):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(QgsProcessingException, match=r"no JSON|larger than"):
            imported(run, hall, PROFILE=str(tmp_path / name))


def test_the_command_line_reads_by_a_file_and_by_a_kept_profile(host_process, hall, tmp_path):
    import pygeomag
    import shapely
    from qgis.PyQt.QtCore import QSettings
    from roomtie.processing.algorithms.profile_store import KEY

    home = tmp_path / "home"
    own = home / "profiles" / "default"
    (own / "python" / "plugins").mkdir(parents=True)
    (own / "python" / "plugins" / "roomtie").symlink_to(Path(__file__).resolve().parents[2])
    (own / "QGIS").mkdir()
    settings = QSettings(str(own / "QGIS" / "QGIS3.ini"), QSettings.Format.IniFormat)
    settings.setValue("PythonPlugins/roomtie", True)
    profile = kept(ring_text(), name="head")
    settings.setValue(KEY, json.dumps([json.loads(text_of(profile))]))
    settings.sync()
    file = tmp_path / "by file.json"
    file.write_text(text_of(described(name="by file")), encoding="utf-8")
    # The one may be the host's own, the other of the environment.
    packages = [Path(module.__file__).parents[1] for module in (pygeomag, shapely)]
    for arguments, name in (((), "head"), ((f"PROFILE={file}",), "by file")):
        result = host_process(
            home,
            *("run", "roomtie:importcaptures", "--", f"INPUT={hall}", *arguments),
            f"STATIONS={tmp_path / 'stations.gpkg'}",
            python_path=packages,
        )
        assert f"Read as the profile '{name}' says: hall.txt." in result.stdout
