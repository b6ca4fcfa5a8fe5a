# SPDX-License-Identifier: GPL-2.0-or-later
"""The shared frame of the reports: well-formed, self-contained, escaped."""

from html.parser import HTMLParser

from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.reports.html import (
    Markup,
    bullets,
    facts,
    page,
    paragraph,
    section,
    table,
    text,
)

VOID = {"meta", "br", "hr", "img", "link"}


class Outline(HTMLParser):
    """Collects the text, and checks that every element is closed in order."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.words, self.tags = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


def outline(html: str) -> Outline:
    parser = Outline()
    parser.feed(html)
    parser.close()
    assert not parser.open
    return parser


@given(st.text())
def test_any_text_comes_back_as_it_was_and_makes_no_element(value):
    parser = outline(f"<p>{text(value)}</p>")
    assert "".join(parser.words).replace("\r", "") == value.replace("\r", "")
    assert parser.tags == ["p"]


def test_markup_is_not_escaped_twice():
    assert text(Markup("<b>1</b>")) == "<b>1</b>"
    assert text("<b>") == "&lt;b&gt;"
    assert text(None) == ""


def test_a_table_without_rows_is_nothing():
    assert table(["Station", "Readings"], [], caption="Stations") == ""


def test_table_escapes_cells_and_sets_numbers_right():
    html = table(["Station", "Readings"], [["<S1>", 12], [Markup("<i>S2</i>"), None]], numeric={1})
    assert "&lt;S1&gt;" in html
    assert "<i>S2</i>" in html
    assert html.count("class=number") == 3
    outline(html)


def test_page_is_complete_and_loads_nothing():
    body = section("Part", paragraph("a < b", "lead"), bullets(["x"]), facts([("k", "v&w")]))
    html = page("Title & more", body)
    parser = outline(html)
    assert html.startswith("<!DOCTYPE html>")
    assert "<title>Title &amp; more</title>" in html
    assert not {"link", "script", "img"} & set(parser.tags)
    assert "url(" not in html
    assert "http" not in html


def test_empty_list_is_nothing():
    assert bullets([]) == ""
