# SPDX-License-Identifier: GPL-2.0-or-later
"""What Qt 6 refuses is not in the code: enumerations by their member alone, Qt past the host's own
door, `exec_`.

PyQt 6 knows an enumeration's members by its name only (Riverbank, "Differences Between PyQt6 and
PyQt5", Enums). Here each name is looked up in the running host: a member that hangs on its class
directly is an instance of an enumeration, and not a plain number.
"""

import ast
import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MODULES = sorted(
    path
    for folder in ("plugin", "processing", "testdata", "tests")
    for path in (ROOT / folder).rglob("*.py")
)
DOORS = ("qgis.core", "qgis.gui", "qgis.PyQt", "qgis.analysis", "qgis.server")


def found(tree):
    """What an older Qt alone would take: (line, what)."""
    known = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and not node.level:
            module = node.module or ""
            if module.split(".")[0] in ("PyQt5", "PyQt6", "PySide2", "PySide6", "sip"):
                yield node.lineno, f"imports {module}"
            if module.startswith(DOORS):
                home = importlib.import_module(module)
                for name in node.names:
                    known[name.asname or name.name] = getattr(home, name.name, None)
        elif isinstance(node, ast.Import):
            for name in node.names:
                if name.name.split(".")[0] in ("PyQt5", "PyQt6", "PySide2", "PySide6", "sip"):
                    yield node.lineno, f"imports {name.name}"
    for node in ast.walk(tree):
        if not isinstance(node, ast.Attribute):
            continue
        if node.attr in ("exec_", "print_"):
            yield node.lineno, node.attr
        if isinstance(node.value, ast.Name) and isinstance(known.get(node.value.id), type):
            value = getattr(known[node.value.id], node.attr, None)
            if isinstance(value, int) and type(value) not in (int, bool):
                yield node.lineno, f"{node.value.id}.{node.attr}"


def test_nothing_is_for_an_older_qt_alone():
    assert len(MODULES) > 100
    seen = [
        f"{path.relative_to(ROOT)}:{line}: {what}"
        for path in MODULES
        for line, what in found(ast.parse(path.read_text("utf-8")))
    ]
    assert seen == []


@pytest.mark.parametrize(
    "line",
    [
        "from qgis.PyQt.QtCore import Qt\nQt.AlignLeft",
        "from qgis.core import QgsWkbTypes as T\nT.Point",
        "from PyQt5.QtCore import Qt",
        "import PyQt5.QtCore",
        "window.exec_()",
    ],
)
def test_the_check_sees_what_it_looks_for(line):
    assert list(found(ast.parse(line)))


def test_the_check_lets_scoped_names_pass():
    code = "from qgis.PyQt.QtCore import Qt\nfrom qgis.core import QgsWkbTypes\n"
    code += "Qt.AlignmentFlag.AlignLeft\nQgsWkbTypes.Type.Point\n"
    assert not list(found(ast.parse(code)))
