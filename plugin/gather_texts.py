#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-2.0-or-later
"""Gathers what is to be translated: ``python3 plugin/gather_texts.py``.

Brings the catalogues ``plugin/i18n/roomtie_*.ts`` up to date with the code: new texts are added
without a translation, texts that are no more are dropped, translations stay. Tells for each
catalogue how many texts want a translation.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree

ROOT = Path(__file__).resolve().parent.parent
CATALOGUES = ROOT / "plugin" / "i18n"
CONTEXT = "Roomtie"
FORMS = {"de": 2, "it": 2, "en": 2}
"""How many forms a counted noun has."""

ASKING = ("tr", "mark", "word")
"""What texts are passed to: in windows, in tables, in what pure stages write for a client."""

ASKED_BY_NAME = {"TITLE", "HELP"}
"""Attributes of algorithms that the base class passes to `tr`."""


@dataclass
class Texts:
    """Texts found, in their order; those that are counted."""

    plain: dict[str, None] = field(default_factory=dict)
    counted: set[str] = field(default_factory=set)


def gather(root: Path = ROOT) -> Texts:
    """All texts of the host's side."""
    found = Texts()
    for folder in ("plugin", "processing"):
        for path in sorted((root / folder).rglob("*.py")):
            tree = ast.parse(path.read_text("utf-8"))
            for text, counted in _texts(tree):
                found.plain[text] = None
                if counted:
                    found.counted.add(text)
    return found


def _texts(tree: ast.Module) -> Iterator[tuple[str, bool]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            if node.func.id in ASKING and node.args:
                for text in _literals(node.args[0]):
                    yield text, len(node.args) > 1
            elif node.func.id == "LayerSchema":  # the title, after the name; a pure module
                for text in _literals(node.args[1]):
                    yield text, False
        elif isinstance(node, ast.ClassDef):
            for line in node.body:
                if isinstance(line, ast.Assign) and any(
                    isinstance(target, ast.Name) and target.id in ASKED_BY_NAME
                    for target in line.targets
                ):
                    for text in _literals(line.value):
                        if text:
                            yield text, False


def _literals(node: ast.expr) -> Iterator[str]:
    """A literal, or both of a choice between two."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _literals(node.body)
        yield from _literals(node.orelse)


def read(path: Path) -> dict[str, list[str]]:
    """Translations by text; several for a counted one."""
    if not path.exists():
        return {}
    known = {}
    for message in ElementTree.parse(path).getroot().iter("message"):  # noqa: S314 - our own file
        translation = message.find("translation")
        forms = [form.text or "" for form in translation.iter("numerusform")]
        known[message.findtext("source") or ""] = forms or [translation.text or ""]
    return known


def write(path: Path, language: str, texts: Texts, known: dict[str, list[str]]) -> list[str]:
    """Write a catalogue; the texts that have no translation yet."""
    root = ElementTree.Element("TS", version="2.1", language=language, sourcelanguage="en")
    context = ElementTree.SubElement(root, "context")
    ElementTree.SubElement(context, "name").text = CONTEXT
    missing = []
    for text in texts.plain:
        counted = text in texts.counted
        if language == "en" and not counted:
            continue
        forms = known.get(text, [])
        if counted:
            forms = (forms + [""] * FORMS[language])[: FORMS[language]]
        done = bool(forms) and all(forms)
        message = ElementTree.SubElement(context, "message", {"numerus": "yes"} if counted else {})
        ElementTree.SubElement(message, "source").text = text
        translation = ElementTree.SubElement(
            message, "translation", {} if done else {"type": "unfinished"}
        )
        if counted:
            for form in forms:
                ElementTree.SubElement(translation, "numerusform").text = form
        elif forms:
            translation.text = forms[0]
        if not done:
            missing.append(text)
    ElementTree.indent(root, "  ")
    text = ElementTree.tostring(root, encoding="unicode")
    path.write_text(
        f'<?xml version="1.0" encoding="utf-8"?>\n<!DOCTYPE TS>\n{text}\n', encoding="utf-8"
    )
    return missing


def main() -> int:
    texts = gather()
    for language in FORMS:
        path = CATALOGUES / f"roomtie_{language}.ts"
        missing = write(path, language, texts, read(path))
        sys.stdout.write(f"{path.name}: {len(texts.plain)} texts, {len(missing)} not translated\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
