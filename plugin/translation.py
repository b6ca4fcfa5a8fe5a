# SPDX-License-Identifier: GPL-2.0-or-later
"""The plugin's texts in the language of the host."""

from __future__ import annotations

from pathlib import Path

from qgis.core import QgsApplication
from qgis.PyQt.QtCore import QCoreApplication, QTranslator

from ..processing import words
from ..processing.algorithms.translation import mark, tr

__all__ = ["install", "mark", "remove", "tr"]

CATALOGUES = Path(__file__).resolve().parent / "i18n"
PLAIN = "en"


def install(language: str = "", folder: Path = CATALOGUES) -> QTranslator | None:
    """Have the host ask the catalogue of its language (`de` for `de_AT` too); where there is none,
    that of English, which knows plurals. None in a checkout whose catalogues are not compiled."""
    wanted = language or QgsApplication.locale()
    for name in (wanted, wanted.split("_")[0], PLAIN):
        translator = QTranslator()
        if name and translator.load(str(folder / f"roomtie_{name}.qm")):
            QCoreApplication.installTranslator(translator)
            words.speak(tr)
            return translator
    return None


def remove(translator: QTranslator | None) -> None:
    """Have the host ask it no more."""
    if translator is not None:
        QCoreApplication.removeTranslator(translator)
        words.speak()
