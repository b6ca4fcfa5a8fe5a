# SPDX-License-Identifier: GPL-2.0-or-later
"""What the tables of stations, ties and rooms say, in words and numbers."""

from __future__ import annotations

from typing import Any

from qgis.PyQt.QtCore import QLocale

from ..processing.layers.schema import HOLD, LEAVE_OUT
from .review_table import Row, TableColumn
from .translation import tr

NOT_KNOWN = "–"


def number(value: Any, decimals: int) -> str:
    """A number as the user's language writes it."""
    return NOT_KNOWN if value is None else QLocale().toString(float(value), "f", decimals)


def _size(name: str):
    return lambda row: None if row.get(name) is None else abs(float(row[name]))


def _number(title: str, tip: str, name: str, decimals: int, signed: bool = False) -> TableColumn:
    sort = (lambda row: row.get(name)) if signed else _size(name)
    return TableColumn(title, tip, lambda row: number(row.get(name), decimals), sort, right=True)


def _word(title: str, tip: str, name: str, words: dict[str, str] | None = None) -> TableColumn:
    def text(row: Row) -> str:
        value = str(row.get(name) or "")
        return (words or {}).get(value, value)

    return TableColumn(title, tip, text, lambda row: text(row).casefold())


def status_words() -> dict[str, str]:
    return {
        "as recorded": tr("as recorded"),
        "held": tr("held"),
        "adjusted": tr("adjusted"),
        "unconnected": tr("unconnected"),
    }


def kind_words() -> dict[str, str]:
    return {
        "target": tr("target"),
        "surface": tr("surface"),
        "overlap": tr("overlap"),
        "compass": tr("compass"),
        "geotag": tr("geotag"),
    }


def _choice(words: tuple[tuple[Any, str], ...], tip: str) -> TableColumn:
    texts = dict(words)
    return TableColumn(
        tr("Choice"),
        tip,
        lambda row: texts.get(row.get("choice") or None, str(row.get("choice"))),
        lambda row: str(row.get("choice") or ""),
        "choice",
        words,
    )


def _used(row: Row) -> str:
    return f"{row.get('used') or 0}/{row.get('readings') or 0}"


def _flags(row: Row) -> str:
    flags = row.get("_flags")
    if flags is None:
        return "…"
    ordered = sorted(flags.items(), key=lambda item: (-item[1], item[0]))
    return ", ".join(f"{count} {flag}" for flag, count in ordered)


def station_columns() -> list[TableColumn]:
    """Stations; `_flags`, `_residual_mm` and `_standardised` come from readings and ties."""
    return [
        TableColumn(
            tr("Station"),
            tr("Name of the station"),
            lambda row: str(row["station"]),
            lambda row: str(row["station"]).casefold(),
        ),
        _word(tr("Status"), tr("What the adjustment made of it"), "status", status_words()),
        _choice(
            ((None, tr("as found")), (HOLD, tr("hold")), (LEAVE_OUT, tr("leave out"))),
            tr("What you decided: it counts when you readjust"),
        ),
        TableColumn(
            tr("Used"),
            tr("Readings used, of all"),
            _used,
            lambda row: (row.get("used") or 0) / max(row.get("readings") or 0, 1),
            right=True,
        ),
        _number(
            tr("Largest mm"),
            tr("Largest residual of a reading from its wall, in mm"),
            "_residual_mm",
            1,
        ),
        _number(
            tr("Largest w"),
            tr("Largest standardised residual of the ties in use; beyond 3.29 it is suspect"),
            "_standardised",
            1,
        ),
        _number(tr("σ x mm"), tr("Standard error in x (1 sigma)"), "sigma_x_mm", 1),
        _number(tr("σ y mm"), tr("Standard error in y (1 sigma)"), "sigma_y_mm", 1),
        _number(
            tr("σ dir °"),
            tr("Standard error of the orientation (1 sigma)"),
            "sigma_orientation_deg",
            3,
        ),
        TableColumn(
            tr("Flags"),
            tr("Readings that are not used, by what speaks against them"),
            _flags,
            lambda row: sum((row.get("_flags") or {}).values()),
        ),
        _word(tr("Proposal"), tr("What the adjustment proposes, and why"), "proposal"),
        _number(tr("Level"), tr("Storey, 0 = ground"), "level", 0, signed=True),
    ]


def _far_end(row: Row) -> str:
    end, kind = row.get("to_station"), str(row.get("kind") or "")
    if end and end == row.get("_of"):
        end = row.get("from_station")
    words = kind_words().get(kind, kind)
    return f"{words} {end}" if end else words


def tie_sentence(row: Row) -> str:
    """What a tie is and what is said of it, whole."""
    return f"{row.get('tie')}: {_says(row)}"


def _says(row: Row) -> str:
    if row.get("used"):
        return str(row.get("reason") or "") or tr("used")
    return str(row.get("reason") or "") or tr("not used")


def tie_columns() -> list[TableColumn]:
    """The ties of the station `_of`."""
    return [
        TableColumn(
            tr("Tie"), tr("Kind, and to what"), _far_end, lambda row: _far_end(row).casefold()
        ),
        TableColumn(
            tr("Used"),
            tr("Whether the adjustment used it"),
            lambda row: tr("yes") if row.get("used") else tr("no"),
            lambda row: not row.get("used"),
        ),
        _number(tr("Off mm"), tr("Residual of the position"), "residual_mm", 1),
        _number(tr("Off °"), tr("Residual of the direction"), "residual_deg", 3),
        _number("w", tr("Standardised residual; beyond 3.29 it is suspect"), "standardised", 1),
        _choice(
            ((None, tr("as found")), (LEAVE_OUT, tr("leave out"))),
            tr("What you decided: it counts when you readjust"),
        ),
        TableColumn(
            tr("σ ×"),
            tr("Factor on the tie's standard errors; empty for 1"),
            lambda row: "" if row.get("sigma_factor") is None else number(row["sigma_factor"], 2),
            lambda row: row.get("sigma_factor") or 1.0,
            "sigma_factor",
            right=True,
        ),
        TableColumn(
            tr("What it says"),
            tr("Why it is not used, or what to look at"),
            _says,
            lambda row: _says(row).casefold(),
        ),
    ]


def room_columns() -> list[TableColumn]:
    """Rooms at the finest plot scale."""
    return [
        TableColumn(
            tr("Name"),
            tr("Name of the room; change it with F2"),
            lambda row: str(row.get("name") or ""),
            lambda row: str(row.get("name") or "").casefold(),
            "name",
        ),
        _number(tr("m²"), tr("Area"), "area_m2", 2),
        _number(tr("σ m²"), tr("Standard error of the area (1 sigma)"), "sigma_area_m2", 2),
        TableColumn(
            tr("Seen"),
            tr("Share of the boundary that readings back"),
            lambda row: NOT_KNOWN if row.get("seen_share") is None else f"{row['seen_share']:.0%}",
            _size("seen_share"),
            right=True,
        ),
        _word(tr("Stations"), tr("Stations that stand in the room"), "stations"),
        _number(tr("Level"), tr("Storey, 0 = ground"), "level", 0, signed=True),
    ]
