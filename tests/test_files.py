# SPDX-License-Identifier: GPL-2.0-or-later
import pytest
from roomtie.processing.errors import SurveyError
from roomtie.processing.files import all_or_nothing


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_all_files_appear_together(tmp_path):
    with all_or_nothing() as draft:
        draft(tmp_path / "a.html").write_text("a")
        draft(tmp_path / "new" / "b.json").write_text("b")
        assert not (tmp_path / "a.html").exists()
    assert names(tmp_path) == ["a.html", "new"]
    assert (tmp_path / "new" / "b.json").read_text() == "b"


def test_a_failure_leaves_what_was_there(tmp_path):
    (tmp_path / "a.html").write_text("old")
    with pytest.raises(RuntimeError, match="later"), all_or_nothing() as draft:
        draft(tmp_path / "a.html").write_text("new")
        draft(tmp_path / "b.gpkg").write_text("new")
        (tmp_path / (draft(tmp_path / "b.gpkg").name + "-wal")).write_text("companion")
        raise RuntimeError("later")
    assert names(tmp_path) == ["a.html"]
    assert (tmp_path / "a.html").read_text() == "old"


def test_a_draft_that_was_not_written_fails_all(tmp_path):
    with (
        pytest.raises(SurveyError, match=r"b\.json: nothing was written"),
        all_or_nothing() as draft,
    ):
        draft(tmp_path / "a.html").write_text("a")
        draft(tmp_path / "b.json")
    assert names(tmp_path) == []


def test_a_place_that_cannot_be_written_is_named(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(SurveyError, match=r"file.*could not be written"), all_or_nothing() as draft:
        draft(tmp_path / "file" / "a.html").write_text("a")


def test_the_place_is_named_and_not_its_draft(tmp_path):
    with pytest.raises(SurveyError, match=r"/a\.html: could not be written"):  # noqa: SIM117
        with all_or_nothing() as draft:
            draft(tmp_path / "a.html").mkdir()
            draft(tmp_path / "a.html").write_text("a")
