# SPDX-License-Identifier: GPL-2.0-or-later
"""The catalogues of the translations hold every text, and no translation loses a part of one."""

import string

import pytest
from roomtie.plugin import gather_texts

CATALOGUES = gather_texts.CATALOGUES


@pytest.mark.parametrize("language", sorted(gather_texts.FORMS))
def test_the_catalogues_are_up_to_date_and_whole(language, tmp_path):
    path = CATALOGUES / f"roomtie_{language}.ts"
    again = tmp_path / path.name
    missing = gather_texts.write(again, language, gather_texts.gather(), gather_texts.read(path))
    assert again.read_bytes() == path.read_bytes(), "run plugin/gather_texts.py"
    assert missing == []


@pytest.mark.parametrize("language", ["de", "it"])
def test_no_translation_loses_a_place_or_an_ellipsis(language):
    path = CATALOGUES / f"roomtie_{language}.ts"
    for text, forms in gather_texts.read(path).items():
        for form in forms:
            assert _places(form) == _places(text), text
            assert form.endswith("…") == text.endswith("…"), text
            assert form.count("\n\n") == text.count("\n\n"), text


def _places(text):
    return sorted(
        name or "" for _, name, _, _ in string.Formatter().parse(text) if name is not None
    )
