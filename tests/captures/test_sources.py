# SPDX-License-Identifier: GPL-2.0-or-later
"""Folders that hold anything: every bad thing gets one sentence, the good captures are read."""

import os
import socket
import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reading_only import read_captures
from roomtie.processing.captures import sources
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.captures.sources import printable
from roomtie.processing.errors import SurveyError

HEADER = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\nangle,distance\n"
GOOD = HEADER + "1,2\n3,4\n"
GIGABYTE = 2**30
NOBODY = 65534

needs_links = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes on this system")


def sparse(path, head=b"", size=2 * GIGABYTE):
    with path.open("wb") as stream:
        stream.write(head)
        stream.truncate(size)


def pipe(path):
    os.mkfifo(path)


def listening(path):
    with socket.socket(socket.AF_UNIX) as server:
        # The name of a socket is limited to some 100 bytes, that of a test's folder is longer.
        before = os.getcwd()
        os.chdir(path.parent)
        try:
            server.bind(path.name)
        finally:
            os.chdir(before)


def circle(path):
    other = path.with_name("other.csv")
    path.symlink_to(other)
    other.symlink_to(path)


FAULTS = {
    "sparse without a head": (
        sparse,
        r"bad\.csv: the file has 2,048 MiB or more; expected at most",
    ),
    "sparse with a head": (
        lambda path: sparse(path, GOOD.encode()),
        r"bad\.csv: the file has 2,048 MiB or more; expected at most 64 MiB\. Cut it",
    ),
    "binary": (lambda path: path.write_bytes(bytes(range(256))), r"bad\.csv: the file is binary"),
    "empty": (lambda path: path.write_bytes(b""), r"bad\.csv: the file is empty"),
    "link to nowhere": (
        lambda path: path.symlink_to("nothing-there"),
        r"bad\.csv: the link leads nowhere; expected a file\.",
    ),
    "links in a circle": (circle, r"bad\.csv: the file cannot be read \(Too many levels"),
    "pipe": (pipe, r"bad\.csv: this is a pipe; expected a file\."),
    "socket": (listening, r"bad\.csv: this is a socket; expected a file\."),
    "device": (
        lambda path: path.symlink_to("/dev/zero"),
        r"bad\.csv: this is a device; expected a file\.",
    ),
    "cut off in the header": (
        lambda path: path.write_text(GOOD[:40]),
        r"bad\.csv, line 1: the header is followed by no readings",
    ),
    "cut off in a row": (
        lambda path: path.write_text(GOOD + "5"),
        r"bad\.csv, line 7: the file ends within",
    ),
    "the same content": (
        lambda path: path.write_text(HEADER + "9,9\n"),
        r"good\.csv: the file has the same content as bad\.csv; expected each capture once\.",
    ),
}


@needs_links
@pytest.mark.parametrize("fault", FAULTS)
def test_a_bad_file_ends_the_job_with_its_sentence_or_is_left_out(tmp_path, fault):
    make, sentence = FAULTS[fault]
    (tmp_path / "a.csv").write_text(GOOD)
    make(tmp_path / "bad.csv")
    (tmp_path / "good.csv").write_text(HEADER + "9,9\n")
    with pytest.raises(SurveyError, match=f"^{sentence}"):
        read_captures(tmp_path)
    survey = read_captures(tmp_path, skip_unreadable=True)
    left = {"the same content": {"a", "bad"}, "cut off in a row": {"a", "bad", "good"}}
    assert set(survey.names) == left.get(fault, {"a", "good"})
    assert len(survey.skipped) == (2 if fault == "links in a circle" else 1)
    assert "\n" not in survey.skipped[0]


@needs_links
@pytest.mark.parametrize("make", [pipe, listening, lambda path: path.symlink_to("/dev/zero")])
def test_what_is_not_meant_as_a_capture_is_passed_over(tmp_path, make):
    (tmp_path / "a.csv").write_text(GOOD)
    make(tmp_path / "thing")
    (warning,) = read_captures(tmp_path).warnings
    assert warning == "Passed over, as they hold no captures: thing."


def test_a_large_file_that_is_no_capture_is_passed_over_unread(tmp_path):
    (tmp_path / "a.csv").write_text(GOOD)
    sparse(tmp_path / "film.mp4", b"\0\0\0 ftyp")
    assert read_captures(tmp_path).names == ("a",)


def test_sub_folders_and_hidden_files_are_not_entered(tmp_path):
    (tmp_path / "a.csv").write_text(GOOD)
    (tmp_path / ".b.csv").write_text("no capture")
    (tmp_path / "more.csv").mkdir()
    (tmp_path / "itself").symlink_to(tmp_path)
    survey = read_captures(tmp_path)
    assert (survey.names, survey.warnings) == (("a",), ())


@needs_links
@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("none.csv", r"none\.csv: there is no such file or folder"),
        ("pipe.csv", r"pipe\.csv: this is a pipe; expected a file"),
        ("round.csv", r"round\.csv: the file cannot be read \(Too many"),
        ("astray.csv", r"astray\.csv: the link leads nowhere"),
        ("large.csv", r"large\.csv: no capture could be read|large\.csv: the file has 2,048 MiB"),
    ],
)
def test_a_bad_file_that_the_user_named_is_an_error_even_when_skipping(tmp_path, name, sentence):
    pipe(tmp_path / "pipe.csv")
    (tmp_path / "round.csv").symlink_to(tmp_path / "round.csv")
    (tmp_path / "astray.csv").symlink_to(tmp_path / "nothing-there")
    sparse(tmp_path / "large.csv")
    for skip in (False, True):
        with pytest.raises(SurveyError, match=sentence):
            read_captures(tmp_path / name, skip_unreadable=skip)


# As root every file can be read: the refusal is put in the way of the opening.


def refuse(monkeypatch, name, error):
    real = os.open

    def opening(path, *rest, **more):
        if os.fspath(path).endswith(name):
            raise error
        return real(path, *rest, **more)

    monkeypatch.setattr(sources.os, "open", opening)


@pytest.mark.parametrize(
    ("error", "why"),
    [
        (PermissionError(13, "Permission denied"), r"Permission denied"),
        (FileNotFoundError(2, "No such file or directory"), r"No such file or directory"),
        (OSError(5, "Input/output error"), r"Input/output error"),
    ],
)
def test_a_file_that_cannot_be_opened_or_has_vanished(tmp_path, monkeypatch, error, why):
    (tmp_path / "a.csv").write_text(GOOD)
    (tmp_path / "b.dat").write_text(GOOD + "5,6\n")
    refuse(monkeypatch, "b.dat", error)
    with pytest.raises(SurveyError, match=rf"^b\.dat: the file cannot be read \({why}\)\.$"):
        read_captures(tmp_path)
    survey = read_captures(tmp_path, skip_unreadable=True)
    assert (survey.names, len(survey.skipped)) == (("a",), 1)


def test_a_folder_that_cannot_be_read_is_an_error(tmp_path, monkeypatch):
    def refused(path):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(sources.os, "scandir", refused)
    with pytest.raises(SurveyError, match=r"the folder cannot be read \(Permission denied\)"):
        read_captures(tmp_path, skip_unreadable=True)


@pytest.fixture
def as_anyone():
    """A folder, and for root the rights of nobody while it is read: root may read everything."""
    if not hasattr(os, "geteuid"):
        pytest.skip("no such rights on this system")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        was = os.geteuid()
        yield folder, lambda: os.seteuid(NOBODY if was == 0 else was)
        os.seteuid(was)
        folder.chmod(0o700)


def test_rights_are_told(as_anyone):
    folder, become_anyone = as_anyone
    (folder / "a.csv").write_text(GOOD)
    (folder / "b.csv").write_text(GOOD + "5,6\n")
    (folder / "b.csv").chmod(0)
    become_anyone()
    with pytest.raises(SurveyError, match=r"b\.csv: the file cannot be read \(Permission denied\)"):
        read_captures(folder)
    survey = read_captures(folder, skip_unreadable=True)
    assert (survey.names, len(survey.skipped)) == (("a",), 1)


def test_a_folder_without_rights_is_told(as_anyone):
    folder, become_anyone = as_anyone
    (folder / "a.csv").write_text(GOOD)
    folder.chmod(0)
    become_anyone()
    with pytest.raises(SurveyError, match=r"the folder cannot be read \(Permission denied\)"):
        read_captures(folder, skip_unreadable=True)
    with pytest.raises(SurveyError, match=r"a\.csv: the file cannot be read \(Permission denied\)"):
        read_captures(folder / "a.csv")


@needs_links
def test_a_pipe_put_in_a_files_place_does_not_wait(tmp_path, monkeypatch):
    (tmp_path / "a.csv").write_text(GOOD)
    (tmp_path / "b.csv").write_text(GOOD + "5,6\n")
    listed = sources.sources_in(tmp_path)
    (tmp_path / "b.csv").unlink()
    pipe(tmp_path / "b.csv")
    monkeypatch.setattr("roomtie.processing.captures.reading.sources_in", lambda *_: listed)
    survey = read_captures(tmp_path, skip_unreadable=True)
    assert survey.skipped == ("b.csv: this is a pipe; expected a file.",)


# Names

NAMES = [
    "a b.csv",
    'it\'s "quoted".csv',
    "line\nbreak.csv",
    "Küche – Raum 1.csv",
    "部屋.csv",
    "غرفة.csv",
    "room\u202ecsv.csv",
    "-rf.csv",
    "100%d.csv",
    "<b>&amp;.csv",
    os.fsdecode(b"caf\xe9.csv"),
]


@pytest.mark.skipif(os.name == "nt", reason="such names are not allowed there")
def test_any_name_is_read_and_can_be_written_down(tmp_path):
    for number, name in enumerate(NAMES):
        (tmp_path / name).write_text(GOOD + f"5,{number + 1}\n")
    survey = import_captures(tmp_path)
    assert len(survey) == len(NAMES)
    for capture in survey.captures:
        assert capture.capture_file.isprintable()
        assert capture.station.encode()
    assert "caf\\xe9.csv" in survey.digests
    assert "line\\nbreak.csv" in survey.digests
    assert "部屋" in survey.names


@pytest.mark.skipif(os.name == "nt", reason="such names are not allowed there")
def test_any_name_can_stand_in_a_sentence(tmp_path):
    for name in NAMES:
        (tmp_path / name).write_text("")
    (tmp_path / "zz.csv").write_text(GOOD)
    survey = import_captures(tmp_path, skip_unreadable=True)
    assert len(survey.skipped) == len(NAMES)
    for sentence in survey.skipped:
        assert sentence.isprintable()
        assert sentence.encode()


@given(st.binary(min_size=1, max_size=30).filter(lambda name: b"\0" not in name))
def test_every_name_becomes_text_on_one_line(name):
    text = printable(os.fsdecode(name))
    assert text.isprintable()
    assert text.encode("utf-8").decode() == text


@given(st.text(alphabet=st.characters(categories=["L", "N", "P"]), min_size=1))
def test_a_name_that_is_text_stays(name):
    assert printable(name) == name
