# SPDX-License-Identifier: GPL-2.0-or-later
"""The frame that every report shares: one page without outside parts, tables, escaping.

A report is opened from a folder, printed and mailed, so the page carries its style with it and
loads nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from html import escape

STYLE = """
:root { --ink: #1d2328; --soft: #5d676f; --rule: #d5dade; --wash: #f4f6f7; --mark: #9a3412; }
* { box-sizing: border-box; }
html { font: 15px/1.5 "Noto Sans", "Segoe UI", "Helvetica Neue", Arial, sans-serif;
  color: var(--ink); background: #fff; }
body { max-width: 68rem; margin: 0 auto; padding: 2.2rem 1.6rem 4rem; }
h1 { font-size: 1.75rem; line-height: 1.2; margin: 0 0 .4rem; font-weight: 600; }
h2 { font-size: 1.2rem; margin: 2.4rem 0 .6rem; padding-top: .7rem;
  border-top: 1px solid var(--rule); font-weight: 600; }
h3 { font-size: 1rem; margin: 1.4rem 0 .3rem; font-weight: 600; }
p, ul, dl { margin: .5rem 0; max-width: 46rem; }
ul { padding-left: 1.2rem; }
.lead { font-size: 1.06rem; }
.soft, caption, figcaption { color: var(--soft); font-size: .87rem; }
.advice { border-left: 3px solid var(--mark); padding-left: .7rem; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; margin: .7rem 0; font-size: .92rem; }
caption { text-align: left; padding-bottom: .3rem; }
th, td { padding: .3rem .8rem .3rem 0; text-align: left; vertical-align: top;
  border-bottom: 1px solid var(--rule); }
th { font-weight: 600; vertical-align: bottom; }
th + th, td + td { padding-left: .4rem; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; }
td.number, td.short { white-space: nowrap; }
dl.facts { display: grid; grid-template-columns: max-content 1fr; gap: .15rem 1.2rem; }
dl.facts dt { color: var(--soft); }
dl.facts dd { margin: 0; overflow-wrap: anywhere; }
figure { margin: .5rem 0; }
svg { max-width: 100%; height: auto; }
a { color: inherit; text-decoration-color: var(--rule); }
.good { border-left-color: #2f6f4f; }
.look { border-left-color: #c58a1d; }
.again { color: var(--mark); }
.mark { vertical-align: -1px; }
.station { display: inline-block; vertical-align: top; width: 31rem; max-width: 100%;
  margin: 0 .9rem .9rem 0; padding-top: .7rem; border-top: 1px solid var(--rule);
  font-size: .93rem; break-inside: avoid; overflow: hidden; }
.station h3 { margin: 0 0 .4rem; }
.station figure { float: left; width: 240px; margin: 0 1.1rem .4rem 0; }
.station .said { overflow: hidden; }
.station p { margin: 0 0 .5rem; }
.station .good { color: var(--soft); }
.station ul { clear: both; margin: 0; padding-top: .3rem; }
table.counts td { border: 0; padding: 0 .7rem 0 0; }
@media print {
  html { font-size: 10pt; }
  body { max-width: none; padding: 0; }
  h2, h3 { break-after: avoid; }
  tr, figure { break-inside: avoid; }
  .wide { overflow-x: visible; }
}
"""


class Markup(str):
    """Text that is HTML already and is not escaped again."""

    __slots__ = ()


def text(value: object) -> Markup:
    """A value as HTML text: escaped, unless it is `Markup` already; empty for None."""
    if isinstance(value, Markup):
        return value
    return Markup("" if value is None else escape(str(value)))


def page(title: str, body: str) -> str:
    """A complete page: the title as its heading, then the body (HTML), with the style inside."""
    return "".join(page_parts(title, [body]))


def page_parts(title: str, body: Iterable[str]) -> Iterator[str]:
    """The same in pieces, for pages too long to hold: the body's come as they are made."""
    heading = text(title)
    yield (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{heading}</title>\n<style>{STYLE}</style>\n</head>\n"
        f"<body>\n<h1>{heading}</h1>\n"
    )
    for part in body:
        yield part
        yield "\n"
    yield "</body>\n</html>\n"


def table(
    headers: Sequence[object],
    rows: Iterable[Sequence[object]],
    numeric: Collection[int] = (),
    caption: str = "",
) -> Markup:
    """A table; the columns whose indices are `numeric` are set flush right, without line breaks.

    Nothing when there are no rows: a heading over an empty table leaves the reader in doubt.
    Cells are escaped unless they are `Markup`; None is an empty cell.
    """

    def line(tag: str, cells: Sequence[object]) -> str:
        parts = (
            f"<{tag}{' class=number' if column in numeric else ''}>{text(cell)}</{tag}>"
            for column, cell in enumerate(cells)
        )
        return f"<tr>{''.join(parts)}</tr>"

    body = "\n".join(line("td", row) for row in rows)
    if not body:
        return Markup("")
    title = f"<caption>{text(caption)}</caption>" if caption else ""
    return Markup(
        f'<div class="wide"><table>{title}<thead>{line("th", headers)}</thead>\n'
        f"<tbody>{body}</tbody></table></div>"
    )


def bullets(items: Iterable[object]) -> Markup:
    """A list of sentences; nothing when there are none."""
    points = "\n".join(f"<li>{text(item)}</li>" for item in items)
    return Markup(f"<ul>{points}</ul>" if points else "")


def facts(pairs: Iterable[tuple[object, object]]) -> Markup:
    """Names and values, one pair a line."""
    lines = "\n".join(f"<dt>{text(name)}</dt><dd>{text(value)}</dd>" for name, value in pairs)
    return Markup(f'<dl class="facts">{lines}</dl>')


def paragraph(sentence: object, style: str = "") -> Markup:
    """A paragraph; `style` is one of the classes of the page (``lead``, ``soft``, ``advice``)."""
    kind = f' class="{style}"' if style else ""
    return Markup(f"<p{kind}>{text(sentence)}</p>")


def section(title: object, *parts: str) -> Markup:
    """A heading and what stands under it (HTML)."""
    return Markup("\n".join([f"<h2>{text(title)}</h2>", *parts]))
