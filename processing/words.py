# SPDX-License-Identifier: GPL-2.0-or-later
"""The words of what a client is handed, in the language of the host.

Pure stages write a plan's sheets and notes and know no host. They ask here; the host says how it
translates (`speak`), and without one the words stay as they are in the code.
"""

from __future__ import annotations

from collections.abc import Callable


def _as_written(text: str) -> str:
    return text


_translate: Callable[[str], str] = _as_written


def speak(translate: Callable[[str], str] = _as_written) -> None:
    """Have words translated so; without an argument, not at all."""
    global _translate
    _translate = translate


def word(text: str, **values: object) -> str:
    """A text in the host's language, with values in its ``{places}``."""
    return _translate(text).format(**values)
