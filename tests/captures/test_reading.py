# SPDX-License-Identifier: GPL-2.0-or-later
"""Files and folders of captures."""

import hashlib
import json

import numpy as np
import pytest
from reading_only import read_captures
from roomtie.processing.captures.model import Flag, Kind
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.progress import Progress

HEADER = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"
BODY = HEADER + "angle,distance\n1,2\n3,4\n"


def put(folder, **files):
    for name, content in files.items():
        path = folder / name.replace("__", ".")
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return folder


def test_a_folder_is_read_in_the_order_of_names(tmp_path):
    bodies = {name: BODY + f"5,{number}\n" for number, name in enumerate("abc", start=1)}
    put(tmp_path, b__csv=bodies["b"], a__txt=bodies["a"], c__csv=bodies["c"])
    survey = read_captures(tmp_path)
    assert survey.names == ("a", "b", "c")
    assert [capture.capture_file for capture in survey.captures] == ["a.txt", "b.csv", "c.csv"]
    assert survey.digests == {
        name: hashlib.sha256(bodies[name[0]].encode()).hexdigest()
        for name in ("a.txt", "b.csv", "c.csv")
    }
    assert survey.warnings == ()


def test_a_file_is_chosen_by_content_not_by_name(tmp_path):
    put(tmp_path, room__dat=BODY)
    assert read_captures(tmp_path / "room.dat").names == ("room",)
    assert read_captures(str(tmp_path)).names == ("room",)


def test_what_holds_no_capture_is_passed_over_and_named(tmp_path):
    put(
        tmp_path,
        a__csv=BODY,
        control__csv="name,east,north\nP1,1,2\n",
        README__md="# Data\n\nSome words.\n",
        truth__json=json.dumps({"stations": [], "walls": []}),
        photo__jpg=b"\xff\xd8\xff\x00\x10",
        __DS_Store=b"\x00\x01",
    )
    (tmp_path / "sub").mkdir()
    survey = read_captures(tmp_path)
    assert survey.names == ("a",)
    assert survey.warnings == (
        "Passed over, as they hold no captures: README.md, control.csv, photo.jpg, truth.json.",
    )
    assert list(survey.digests) == ["a.csv"]


@pytest.mark.parametrize(("content", "word"), [(b"", "empty"), (b"\x00\x01\x02", "binary")])
def test_an_empty_or_binary_capture_file_is_an_error(tmp_path, content, word):
    put(tmp_path, a__csv=BODY, b__csv=content)
    with pytest.raises(SurveyError, match=f"b.csv: the file is {word}"):
        read_captures(tmp_path)
    survey = read_captures(tmp_path, skip_unreadable=True)
    assert survey.names == ("a",)
    assert word in survey.skipped[0]


def test_a_station_name_used_twice_names_both_files(tmp_path):
    put(tmp_path, a__csv="# station: X\n" + BODY, b__csv="# station: X\n" + BODY + "5,6\n")
    with pytest.raises(SurveyError, match=r"b\.csv.*'X' is used before, in a\.csv"):
        read_captures(tmp_path)
    survey = read_captures(tmp_path, skip_unreadable=True)
    assert [capture.capture_file for capture in survey.captures] == ["a.csv"]
    assert "'X' is used before" in survey.skipped[0]


def test_a_station_name_used_twice_in_one_file_names_lines(tmp_path):
    put(tmp_path, a__csv=BODY + BODY)
    with pytest.raises(SurveyError, match=r"a\.csv, readings from line 11: .* line 5"):
        read_captures(tmp_path)


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ({}, r"found nothing, expected files of .* or capture text"),
        ({"notes__md": "words"}, r"found notes\.md, expected files of .* or capture text"),
    ],
)
def test_a_folder_without_captures_is_an_error(tmp_path, files, words):
    with pytest.raises(SurveyError, match=words):
        read_captures(put(tmp_path, **files))


def test_a_missing_path_is_an_error(tmp_path):
    with pytest.raises(SurveyError, match="there is no such file or folder"):
        read_captures(tmp_path / "nowhere")


def test_a_file_of_another_kind_is_an_error(tmp_path):
    put(tmp_path, plan__json='{"type": "FeatureCollection"}', notes__txt="some words\n")
    with pytest.raises(SurveyError, match=r"plan\.json: the file holds no captures; expected"):
        read_captures(tmp_path / "plan.json")
    with pytest.raises(SurveyError, match=r"notes\.txt, line 1: found 'some words'; expected"):
        read_captures(tmp_path / "notes.txt")


def test_nothing_left_after_skipping_is_an_error(tmp_path):
    put(tmp_path, a__csv="# station: A\nangle,distance\n1,2\n")
    with pytest.raises(SurveyError, match=r"no capture could be read .*angle_unit"):
        read_captures(tmp_path, skip_unreadable=True)


def test_parameters_reach_the_reader(tmp_path):
    put(tmp_path, a__csv="angle,distance\n100,5\n")
    survey = read_captures(
        tmp_path, angle_unit="gon", distance_unit="cm", rotation="counterclockwise"
    )
    assert survey.captures[0].angle_deg.tolist() == [-90.0]
    assert survey.captures[0].distance_m.tolist() == [0.05]


def test_progress_runs_from_nought_to_one_and_cancel_is_noticed(tmp_path):
    put(tmp_path, a__csv=BODY, b__csv=BODY + "5,6\n")
    seen = []
    import_captures(tmp_path, progress=Progress(moved=seen.append))
    assert seen == sorted(seen)
    assert 0.0 <= seen[0] < seen[-1] <= 1.0
    with pytest.raises(Cancelled):
        import_captures(tmp_path, progress=Progress(cancelled=lambda: len(seen) > 0))


def test_import_flags_what_cannot_be_used(tmp_path):
    put(tmp_path, a__csv=HEADER + "angle,distance\n1,0.10\n2,2\n3,\n4,12\n")
    (capture,) = import_captures(tmp_path, max_distance_m=10).captures
    assert capture.flag.tolist() == [Flag.TOO_NEAR, Flag.USABLE, Flag.NO_RETURN, Flag.TOO_FAR]
    (capture,) = import_captures(tmp_path, min_distance_m=0.05).captures
    assert capture.flag.tolist() == [Flag.USABLE, Flag.USABLE, Flag.NO_RETURN, Flag.USABLE]


# Real data


@pytest.mark.parametrize(
    ("name", "captures", "readings"),
    [("flat-six-stations", 6, 400), ("office-floor-scans", 102, 361)],
)
def test_real_captures_are_read_whole(shared_data, name, captures, readings):
    survey = read_captures(shared_data(name))
    assert len(survey) == captures
    assert {len(capture) for capture in survey.captures} == {readings}
    assert len(survey.digests) == captures
    assert not survey.skipped


def test_duplex_captures_have_their_headers_and_targets(shared_data):
    survey = read_captures(shared_data("duplex-level-1"))
    assert survey.names == tuple(f"S{number:02}" for number in range(1, 11))
    first = survey.captures[0]
    assert (first.kind == Kind.RING).sum() == 1600
    assert first.magnetic_azimuth_deg == 319.4
    assert first.captured_at.isoformat() == "2026-03-18T09:00:00+00:00"
    assert first.target[first.kind == Kind.TARGET].tolist() == [f"T{k}" for k in range(1, 9)]
    assert np.isnan(first.distance_m).sum() == 100
