# SPDX-License-Identifier: GPL-2.0-or-later
"""Papers: sizes of ISO 216, margins of ISO 5457, and the smallest that holds a plan."""

import pytest
from roomtie.processing.drawing.sheet import (
    LEFT_MM,
    MARGIN_MM,
    PAPERS,
    Box,
    Need,
    bar_segment_m,
    choose_paper,
)
from roomtie.processing.errors import SurveyError

SIZES = {"A4": (210, 297), "A3": (297, 420), "A2": (420, 594), "A1": (594, 841)}


def apart(one: Box, other: Box) -> bool:
    across = one.x + one.width <= other.x + 1e-9 or other.x + other.width <= one.x + 1e-9
    down = one.y + one.height <= other.y + 1e-9 or other.y + other.height <= one.y + 1e-9
    return across or down


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_parts_lie_in_the_frame_and_apart(paper):
    assert {paper.width_mm, paper.height_mm} == set(SIZES[paper.size])
    frame = paper.frame
    assert (frame.x, frame.y) == (LEFT_MM, MARGIN_MM)
    parts = [paper.plan, paper.title, paper.norths, paper.notes, paper.schedule]
    for number, part in enumerate(parts):
        assert part.width > 0
        assert part.height > 0
        assert part.x >= frame.x - 1e-9
        assert part.y >= frame.y - 1e-9
        assert part.x + part.width <= frame.x + frame.width + 1e-9
        assert part.y + part.height <= frame.y + frame.height + 1e-9
        assert all(apart(part, other) for other in parts[:number])


@pytest.mark.parametrize(
    ("size", "scale", "name"),
    [
        ((10.0, 5.0), 100, "A4 landscape"),
        ((10.0, 12.0), 100, "A4 portrait"),
        ((18.5, 24.0), 100, "A3 landscape"),
        ((18.5, 24.0), 50, "A1 landscape"),
    ],
)
def test_the_smallest_paper_is_taken(size, scale, name):
    assert choose_paper([Need(0, *size, rooms=4)], scale).name == name


def test_every_storey_must_fit():
    small, large = Need(0, 5.0, 5.0, 2), Need(1, 18.5, 24.0, 2)
    assert choose_paper([small, large], 100).name == "A3 landscape"


def test_a_long_schedule_needs_a_larger_paper():
    short, long = Need(0, 5.0, 5.0, 4), Need(0, 5.0, 5.0, 150)
    assert PAPERS.index(choose_paper([long], 100)) > PAPERS.index(choose_paper([short], 100))


def test_a_paper_too_small_is_told_with_one_that_does():
    with pytest.raises(SurveyError, match=r"185 x 240 mm .* A4 portrait holds; expected A3 land"):
        choose_paper([Need(0, 18.5, 24.0, 4)], 100, "A4 portrait")
    with pytest.raises(SurveyError, match="more than A1 holds"):
        choose_paper([Need(0, 100.0, 100.0, 4)], 50)


@pytest.mark.parametrize(("scale", "metres"), [(20, 0.2), (50, 0.5), (100, 1.0), (200, 2.0)])
def test_segments_of_the_bar_are_round(scale, metres):
    assert bar_segment_m(scale) == metres
