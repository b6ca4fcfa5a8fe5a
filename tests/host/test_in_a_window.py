# SPDX-License-Identifier: GPL-2.0-or-later
"""The plugin in the host's real window, on a display of its own."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from host_window import play


def test_ten_times_loaded_and_unloaded_leaves_nothing_behind(tmp_path):
    found = play("reload", tmp_path)
    assert "roomtie" in found["loaded first"]["providers"]
    assert "roomtie" not in found["unloaded last"]["providers"]
    assert found["loaded last"] == found["loaded first"]
    assert found["unloaded last"] == found["unloaded first"]
    for what in ("plugin menu", "providers", "toolbars", "own top-level widgets", "tasks", "files"):
        assert found["unloaded last"][what] == found["before"][what], what


def test_the_example_from_the_menu_is_a_plan_in_the_map_within_a_minute(tmp_path):
    found = play("first_run", tmp_path)
    assert found["rooms"] > 10
    assert found["in view"]
    assert len(found["groups"]) == 1
    assert len(found["themes"]) == 6
    # The minute that a person waits; the survey itself takes a third of it on one busy core.
    assert found["seconds"] < 60.0
    print(f"{found['seconds']:.1f} s; longest without an answer: {found['longest block']:.3f} s")
