# SPDX-License-Identifier: GPL-2.0-or-later
"""Folders and files that need a profile: what is read, and what is said."""

from dataclasses import replace

import pytest
from profiles import described, kept, ring_text
from reading_only import read_captures
from roomtie.processing.errors import SurveyError

MARKED = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\nangle,distance\n0,2\n90,3\n"
NAMED = "angle,distance\n" + "\n".join(f"{i},{2 + i % 3}.5" for i in range(360))


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "b.txt").write_bytes(ring_text())
    (tmp_path / "a.csv").write_text(MARKED)
    (tmp_path / "read me.txt").write_text("Measured on Monday; see below.")
    return tmp_path


def test_unmarked_files_beside_captures_are_passed_over_and_named(folder):
    survey = read_captures(folder)
    assert survey.names == ("a",)
    (words,) = [w for w in survey.warnings if "do not say what their columns are" in w]
    assert "b.txt" in words
    assert "Describe a text file" in words
    assert "read me.txt" not in words


def test_a_kept_profile_that_fits_is_used_and_it_is_said(folder):
    survey = read_captures(folder, profiles=[kept(ring_text(count=300), name="head")])
    assert survey.names == ("a", "b")
    assert "Read as the profile 'head' says: b.txt." in survey.warnings
    assert survey.captures[1].other["profile"] == "head"


def test_a_profile_that_was_asked_for_reads_what_has_its_numbers(folder):
    survey = read_captures(folder, profile=described())
    assert survey.names == ("a", "b")
    (folder / "control.txt").write_text("P1 east 12.5\nP2 west 13.5\n")
    assert read_captures(folder, profile=described()).names == ("a", "b")


def test_two_profiles_that_fit_stop_the_import_unless_skipped(folder):
    a = kept(ring_text(), name="a")
    both = [a, replace(a, name="b", rotation="clockwise")]
    with pytest.raises(SurveyError, match=r"b\.txt: the profiles 'a' and 'b' fit this text file"):
        read_captures(folder, profiles=both)
    survey = read_captures(folder, profiles=both, skip_unreadable=True)
    assert survey.names == ("a",)
    assert "equally well" in survey.skipped[0]


def test_the_nearest_profile_is_named_with_what_sets_it_apart(folder):
    data = ring_text()
    profiles = [
        kept(data, name="gon"),
        described(name="without a look"),
        kept(data.replace(b"Dist", b"Range"), name="other names"),
    ]
    path = folder / "c.txt"
    path.write_bytes(ring_text(turn=360.0))
    with pytest.raises(SurveyError) as error:
        read_captures(path, profiles=profiles)
    assert "the nearest profile, 'gon', does not fit: the angles run from" in str(error.value)
    assert str(error.value).startswith("c.txt: an unmarked text file")


def test_a_profile_that_does_not_fit_the_file_asked_for_is_said(folder):
    with pytest.raises(SurveyError, match="the profile 'levelled head, gon' does not fit this"):
        read_captures(folder / "b.txt", profile=described(separator="tab"))


def test_column_names_alone_say_no_units_so_that_a_profile_helps(tmp_path):
    path = tmp_path / "n.csv"
    path.write_text(NAMED)
    with pytest.raises(SurveyError, match="angle_unit is missing"):
        read_captures(path)
    layout = {
        "columns": ("angle", "distance"),
        "angle_unit": "deg",
        "distance_unit": "ft",
        "separator": "comma",
        "decimal_comma": False,
        "skip_lines": 0,
    }
    profile = kept(NAMED.encode(), name="names", **layout)
    (capture,) = read_captures(path, profiles=[profile]).captures
    assert capture.distance_m[0] == pytest.approx(2.5 * 0.3048)
    # All three said by the user: no profile is needed, and none is taken.
    stated = {"angle_unit": "deg", "distance_unit": "m", "rotation": "clockwise"}
    (capture,) = read_captures(path, profiles=[profile], **stated).captures
    assert capture.distance_m[0] == 2.5


def test_a_file_that_says_what_it_is_is_read_by_no_profile(folder):
    profile = described(
        columns=("angle", "distance"), separator="comma", decimal_comma=False, skip_lines=3
    )
    (capture,) = read_captures(folder / "a.csv", profile=profile).captures
    assert capture.distance_m.tolist() == [2.0, 3.0]
    assert "profile" not in capture.other
