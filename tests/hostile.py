# SPDX-License-Identifier: GPL-2.0-or-later
"""Names that mean something to HTML, SQL, the host's expressions, a path, a format or a drawing;
and what a page must not hold."""

from __future__ import annotations

from html.parser import HTMLParser

NAMES = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "x'); DROP TABLE stations; --",
    "' OR '1'='1",
    '"; DELETE FROM rooms; "',
    "[% env('HOME') %]",
    "%s %d {0} {name} ${HOME} `id`",
    "../../../outside",
    "/etc/outside",
    "C:\\outside\\..\\x",
    "=HYPERLINK(1)",
    "a^J%%d\\U+0041",
    "&lt;b&gt; &amp;",
    "\u202eabc",
    "x" * 300,
)

ELEMENTS = frozenset(
    """
    html head meta title style body h1 h2 h3 h4 p ul ol li table caption thead tbody
    tr th td div section figure figcaption span a b strong em i code br hr details
    summary nav dl dt dd sup sub small svg g path polyline polygon line circle
    ellipse rect text tspan defs clippath pattern use marker symbol
    """.split()  # noqa: SIM905 - read as the list it is
)


class Page(HTMLParser):
    """What a browser would make of a page: its elements, its text, and what could act."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: set[str] = set()
        self.acting: list[str] = []
        self.text = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.add(tag)
        for name, value in attrs:
            target = (value or "").strip().lower()
            acts = name.startswith("on") or name in ("src", "srcdoc", "formaction")
            leads = name in ("href", "xlink:href", "action") and (
                ":" in target.split("/")[0] or target.startswith("//")
            )
            if acts or leads:
                self.acting.append(f"{tag} {name}={value}")

    def handle_data(self, data: str) -> None:
        self.text += data


def check_page(text: str) -> Page:
    """The page, which has no element of a foreign kind and nothing that acts or loads."""
    page = Page(text)
    assert page.elements <= ELEMENTS, page.elements - ELEMENTS
    assert page.acting == []
    return page
