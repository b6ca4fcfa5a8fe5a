# SPDX-License-Identifier: GPL-2.0-or-later
"""Which folders of a tree are buildings, what they bring along, and parts of the work."""

import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.errors import SurveyError
from roomtie.processing.many.child import command
from roomtie.processing.many.steps import parameters_by_algorithm, steps
from roomtie.processing.many.tree import (
    Building,
    absolute,
    find_buildings,
    part_of,
    read_parameters,
)

sys.path.append(str(Path(__file__).resolve().parents[1]))
from hostile import NAMES


def put(path, text="x"):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)


def names(top):
    return [building.name for building in find_buildings(top)]


def test_buildings_are_folders_with_captures(tmp_path):
    put(tmp_path / "north" / "12" / "captures" / "S01.csv")
    put(tmp_path / "north" / "12" / "control.csv")
    put(tmp_path / "north" / "3" / "S01.json")  # captures without a folder of their own
    put(tmp_path / "south" / "1" / "captures" / "deep" / "S01.xml")
    put(tmp_path / "south" / "notes" / "readme.md")
    put(tmp_path / "list.csv")  # beside buildings, not captures
    put(tmp_path / ".hidden" / "captures" / "S01.csv")
    assert names(tmp_path) == ["north/12", "north/3", "south/1"]
    one, two, _ = find_buildings(tmp_path)
    assert (one.captures, two.captures) == (one.folder / "captures", two.folder)


def test_a_tree_of_one_building_is_one(tmp_path):
    put(tmp_path / "villa" / "captures" / "S01.csv")
    assert names(tmp_path / "villa") == ["villa"]


def test_a_link_that_leads_back_is_not_followed(tmp_path):
    put(tmp_path / "a" / "captures" / "S01.csv")
    put(tmp_path / "b" / "c" / "S01.csv")
    (tmp_path / "b" / "loop").symlink_to(tmp_path)
    assert names(tmp_path) == ["a", "b/c"]


def test_what_a_building_brings_along(tmp_path):
    put(tmp_path / "a" / "captures" / "S01.csv")
    put(tmp_path / "a" / "control.csv")
    put(tmp_path / "a" / "outline.gpkg")
    put(
        tmp_path / "a" / "parameters.json",
        '{"FOOTPRINT": "outline.gpkg|layername=x", "PLOT_SCALES": ["1:20"], "CONTROL_NAME": "no"}',
    )
    (building,) = find_buildings(tmp_path)
    assert building.parameters() == {
        "CONTROL": str(tmp_path / "a" / "control.csv"),
        "CONTROL_NAME": "no",
        "FOOTPRINT": f"{tmp_path / 'a' / 'outline.gpkg'}|layername=x",
        "PLOT_SCALES": ["1:20"],
    }


def test_a_long_text_is_no_file():
    words = "; ".join(f"Use {number}=office" for number in range(40))
    assert absolute({"exportindoor.CATEGORIES": words}, Path("/")) == {
        "exportindoor.CATEGORIES": words
    }


@pytest.mark.parametrize(
    ("text", "sentence"),
    [("[1]", "holds a list; expected an object"), ("{", "not be read as JSON")],
)
def test_parameters_that_are_none_are_refused(tmp_path, text, sentence):
    put(tmp_path / "a" / "captures" / "S01.csv")
    put(tmp_path / "a" / "parameters.json", text)
    with pytest.raises(SurveyError, match=sentence):
        find_buildings(tmp_path)[0].parameters()


def test_a_tree_that_is_none_is_refused(tmp_path):
    with pytest.raises(SurveyError, match="there is no such folder"):
        find_buildings(tmp_path / "none")
    (tmp_path / "empty").mkdir()
    with pytest.raises(SurveyError, match="no folder of it holds captures"):
        find_buildings(tmp_path)


@given(st.integers(0, 50), st.integers(1, 12))
def test_parts_are_all_of_it_once(count, parts):
    every = [Building(f"{n:03d}", Path(), Path()) for n in range(count)]
    found = [part_of(every, f"{k}/{parts}") for k in range(1, parts + 1)]
    assert sorted((one for part in found for one in part), key=lambda one: one.name) == every
    sizes = [len(part) for part in found]
    assert max(sizes) - min(sizes) <= 1
    assert part_of(every, "") == every


@pytest.mark.parametrize("part", ["0/3", "4/3", "1", "1/0", "a/b", "-1/3", "1/3/5"])
def test_a_part_written_otherwise_is_refused(part):
    with pytest.raises(SurveyError, match="expected K/N"):
        part_of([], part)


@pytest.mark.parametrize(
    "name",
    ["OUTPUT=/outside", "--PROJECT_PATH", "output", "exportindoor.OUTPUT=x", "A B", "", "A\nB"],
)
def test_a_name_that_would_be_another_word_of_the_command_is_refused(name):
    with pytest.raises(SurveyError, match="this is no name of a parameter"):
        parameters_by_algorithm({name: "x"}, ["exportindoor"])


@pytest.mark.parametrize("name", ["OUTPUT", "planfromcaptures.REPORT", "exportindoor.OUTPUT_HTML"])
def test_where_results_go_is_the_trees_to_say(name):
    with pytest.raises(SurveyError, match="is decided by the tree"):
        parameters_by_algorithm({name: "/outside"}, ["exportindoor"])


def test_parameters_nested_too_deep_are_refused(tmp_path):
    put(tmp_path / "parameters.json", "[" * 200_000)
    with pytest.raises(SurveyError, match="could not be read as JSON"):
        read_parameters(tmp_path / "parameters.json")


@pytest.mark.parametrize("name", NAMES)
def test_every_result_lies_in_the_folder_of_results(name, tmp_path):
    """Whatever a folder of a survey is called, as far as folders can be."""
    part = f"a{name.replace('/', '_')[:200]}"
    put(tmp_path / "tree" / part / "captures" / "S01.csv")
    put(tmp_path / "tree" / "other" / "captures" / "S01.csv")
    (building, _) = find_buildings(tmp_path / "tree")
    assert building.name == part
    work = tmp_path / "work"
    for step in steps(building, parameters_by_algorithm({}, ["plansheet"]), work):
        outputs = [
            step.parameters[name] for name in ("OUTPUT", "REPORT") if name in step.parameters
        ]
        assert outputs and {path.parent for path in outputs} == {work}
        assert all((work / one).parent == work for one in step.files)
        words = command("host", step.algorithm, step.parameters)
        assert [word for word in words if word.startswith("OUTPUT=")] == [f"OUTPUT={outputs[0]}"]
