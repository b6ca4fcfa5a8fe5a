# SPDX-License-Identifier: GPL-2.0-or-later
"""What is to be translated is found, translations stay, and the catalogues are up to date."""

import ast
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.plugin import gather_texts

ROOT = Path(gather_texts.__file__).resolve().parent.parent
CODE = """
ROOMS = LayerSchema("rooms", "Rooms", "Polygon", ())
TABLE = (("ONE", mark("First")), ("TWO", mark("Second")))

class A:
    TITLE = "Title"
    HELP = ("In two "
            "lines")

    def go(self, n, open_):
        tr("%n room(s)", n)
        tr("open" if open_ else "closed")
        return other("not for translation")
"""


@pytest.fixture
def checkout(tmp_path):
    (tmp_path / "plugin").mkdir()
    (tmp_path / "processing").mkdir()
    (tmp_path / "plugin" / "a.py").write_text(CODE)
    return tmp_path


def test_literals_marked_tables_and_titles_are_found(checkout):
    texts = gather_texts.gather(checkout)
    assert set(texts.plain) == {
        *("Rooms", "First", "Second", "Title", "In two lines", "%n room(s)", "open", "closed")
    }
    assert texts.counted == {"%n room(s)"}


def test_translations_stay_and_texts_that_are_no_more_go(checkout, tmp_path):
    texts = gather_texts.gather(checkout)
    path = tmp_path / "roomtie_de.ts"
    known = {"First": ["Erstes"], "gone": ["weg"], "%n room(s)": ["%n Raum", "%n Räume"]}
    missing = gather_texts.write(path, "de", texts, known)
    assert set(missing) == {"Rooms", "Second", "Title", "In two lines", "open", "closed"}
    read = gather_texts.read(path)
    assert read["First"] == ["Erstes"]
    assert read["%n room(s)"] == ["%n Raum", "%n Räume"]
    assert "gone" not in read
    before = path.read_bytes()
    gather_texts.write(path, "de", texts, read)
    assert path.read_bytes() == before


@given(
    st.dictionaries(
        st.text(st.characters(codec="utf-8", exclude_categories=["C"]), min_size=1),
        st.text(st.characters(codec="utf-8", exclude_categories=["C"]), min_size=1),
    )
)
def test_any_text_comes_back_from_a_catalogue(tmp_path_factory, known):
    path = tmp_path_factory.getbasetemp() / "any.ts"
    texts = gather_texts.Texts(dict.fromkeys(known))
    gather_texts.write(path, "it", texts, {text: [word] for text, word in known.items()})
    assert gather_texts.read(path) == {text: [word] for text, word in known.items()}


def test_everything_passed_to_tr_is_a_literal_or_comes_from_a_marked_table():
    """A text made at run time has no translation: it must be put together from translated ones."""
    for folder in ("plugin", "processing"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if (
                    isinstance(node, ast.Call)
                    and isinstance(node.func, ast.Name)
                    and node.func.id in ("tr", "mark")
                    and node.args
                ):
                    kinds = (ast.Constant, ast.Name, ast.Attribute, ast.Subscript, ast.IfExp)
                    assert isinstance(node.args[0], kinds), f"{path.name}:{node.lineno}"
