# SPDX-License-Identifier: GPL-2.0-or-later
"""Connections to things that may go before their listener, or stay after it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import Any


class Connections:
    """Signals that a part of the window listens to, to be let go of all together."""

    def __init__(self) -> None:
        self._made: list[tuple[Any, Callable]] = []

    def add(self, signal: Any, slot: Callable) -> None:
        """Connect a bound signal."""
        signal.connect(slot)
        self._made.append((signal, slot))

    def clear(self) -> None:
        """Disconnect all; those of things that have gone are gone already."""
        for signal, slot in self._made:
            with suppress(RuntimeError, TypeError):
                signal.disconnect(slot)
        self._made.clear()
