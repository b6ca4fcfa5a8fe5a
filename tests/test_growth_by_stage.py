# SPDX-License-Identifier: GPL-2.0-or-later
"""The stages that the benchmark of growth watches are where it looks for them."""

import ast
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests" / "benchmarks"))
from growth_by_stage import STAGES  # noqa: E402


@pytest.mark.parametrize(("module", "name"), [(module, name) for _, module, name in STAGES])
def test_a_stage_is_there(module, name):
    path = ROOT.joinpath("processing", *module.split(".")).with_suffix(".py")
    tree = ast.parse(path.read_text("utf-8"))
    known = {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}
    for node in tree.body:
        if isinstance(node, ast.ImportFrom):
            known |= {alias.asname or alias.name for alias in node.names}
    assert name in known
