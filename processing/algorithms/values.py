# SPDX-License-Identifier: GPL-2.0-or-later
"""Values of the host's fields as Python, and JSON, have them."""

from __future__ import annotations

from typing import Any

from qgis.core import NULL
from qgis.PyQt.QtCore import QDate, QDateTime, Qt, QTime


def plain(value: Any) -> bool | int | float | str | None:
    """A field's value: dates and times as ISO 8601, what JSON has no form of as text, None for a
    missing one."""
    if value is None or value == NULL:
        return None
    if isinstance(value, (QDate, QDateTime, QTime)):
        return value.toString(Qt.DateFormat.ISODateWithMs) if value.isValid() else None
    return value if isinstance(value, (bool, int, float, str)) else str(value)


def identifier(value: Any) -> str:
    """An identifier as text, a whole number without decimals; empty for a missing one."""
    from ..layers.maintained.session import as_id

    known = plain(value)
    return "" if known is None else as_id(str(known))
