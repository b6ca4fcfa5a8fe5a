# SPDX-License-Identifier: GPL-2.0-or-later
"""The plugin in the host's real window, on a display of its own."""

import shutil
import sys
from pathlib import Path

import pytest
from roomtie.plugin import build_zip

sys.path.insert(0, str(Path(__file__).resolve().parent))
from host_window import play


def test_ten_times_loaded_and_unloaded_leaves_nothing_behind(tmp_path):
    found = play("reload", tmp_path)
    assert "roomtie" in found["loaded first"]["providers"]
    assert "roomtie" not in found["unloaded last"]["providers"]
    # Windows that are open live on where Python collects its garbage.
    assert found["loaded first"]["own top-level widgets"] == ["HelpWindow", "ProfileDialog"]
    assert found["loaded last"] == found["loaded first"]
    assert found["unloaded last"] == found["unloaded first"]
    for what in ("plugin menu", "providers", "toolbars", "own top-level widgets", "tasks", "files"):
        assert found["unloaded last"][what] == found["before"][what], what


def test_the_example_from_the_menu_is_a_plan_in_the_map_within_a_minute(tmp_path):
    found = play("first_run", tmp_path)
    assert found["rooms"] > 10
    assert found["icons"] == found["algorithms"] > 10  # each its own
    assert found["in view"]
    assert len(found["groups"]) == 1
    assert len(found["themes"]) == 6
    # The minute that a person waits; the survey itself takes a third of it on one busy core.
    assert found["seconds"] < 60.0
    print(f"{found['seconds']:.1f} s; longest without an answer: {found['longest block']:.3f} s")


@pytest.fixture
def plan(run, example_survey, tmp_path):
    """A plan of some of the example's captures, as the main job makes it."""
    captures = tmp_path / "captures"
    captures.mkdir()
    for name in ("S01", "S02", "S03", "S04", "S05", "S13"):
        shutil.copy(example_survey / "captures" / f"{name}.csv", captures)
    made = run(
        "planfromcaptures",
        INPUT=str(captures),
        TARGET_CRS="EPSG:32631",
        OUTPUT=str(tmp_path / "house.gpkg"),
        REPORT=str(tmp_path / "house.html"),
    )
    return made["OUTPUT"]


def test_a_plan_is_reviewed_readjusted_and_sighted_while_the_window_answers(plan, tmp_path):
    found = play("review", tmp_path, ROOMTIE_PLAN=plan, ROOMTIE_PICKS="T3 T4")
    assert found["stations"] == 6 and found["selected"] == ["S02"]
    assert found["said"].startswith("Readjusted")
    assert found["states"]["S02"] == "unconnected"
    assert found["states undone"]["S02"] == "adjusted"
    assert found["picked"] == [["T3", ""], ["T3", "T4"]]
    assert "standard error" in found["distance"]
    assert found["entries"] == 1
    for what, (block, own) in found["blocks"].items():
        print(
            f"{what}: no answer for {1000 * block:.0f} ms, {1000 * own:.0f} ms of it its own work"
        )


@pytest.mark.parametrize(
    ("language", "word"), [("de", "Standpunkte ausgleichen…"), ("it", "Compensa le stazioni…")]
)
def test_no_words_are_cut_off_in_another_language(language, word, tmp_path):
    for name, content in build_zip.compiled_catalogues().items():
        (tmp_path / Path(name).name).write_bytes(content)
    found = play(
        "translated", tmp_path, ROOMTIE_LANGUAGE=language, ROOMTIE_CATALOGUES=str(tmp_path)
    )
    assert word in found["menu"]
    for window in ("options", "profile", "RoomtieReview", "RoomtieSight", "dialog"):
        assert found[window] == [], window
