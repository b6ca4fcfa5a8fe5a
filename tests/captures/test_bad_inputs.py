# SPDX-License-Identifier: GPL-2.0-or-later
"""The page of help about odd files says what the code says, and the good files beside them are
imported where skipping is asked for."""

import os

import bad_inputs
import pytest
from bad_inputs import GOOD, MARK, PAGE, READ, REMARKED, groups, table

pytestmark = pytest.mark.skipif(
    os.name != "posix", reason="links, pipes and file names as on the machines that make the page"
)


def test_the_page_says_what_the_code_says(tmp_path):
    page = PAGE.read_text(encoding="utf-8").split(MARK)[1].splitlines()
    # Line by line, so that a difference is shown by the line.
    assert page == table(tmp_path).splitlines(), f"run {bad_inputs.__file__}"


REFUSED = [
    case for title, cases in groups().items() for case in cases if title not in (READ, REMARKED)
]
IN_FILES = [case for case in REFUSED if case.path in case.files and not case.denied]


def test_every_refusal_is_one_sentence(tmp_path):
    for place, case in enumerate(REFUSED):
        folder = tmp_path / str(place)
        folder.mkdir()
        survey, said = case.said(folder)
        assert survey is None, case.what
        assert len(said) == 1
        assert said[0].isprintable()
        assert said[0].endswith((".", "?"))


def test_good_captures_beside_bad_files_are_imported(tmp_path):
    for place, case in enumerate(IN_FILES):
        folder = tmp_path / str(place)
        folder.mkdir()
        case.put(folder)
        (folder / "the good one.csv").write_text(GOOD + "359,2.5\n")
        case.path, case.rules = "", {**case.rules, "skip_unreadable": True}
        survey, said = case.said(folder)
        good = survey.captures[survey.index("the good one")]
        assert len(good) == 41, case.what
        assert any(name in sentence for name in case.files for sentence in said), case.what
