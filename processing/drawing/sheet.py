# SPDX-License-Identifier: GPL-2.0-or-later
"""Sheets of paper: sizes, frame, and which part belongs to what.

Sizes are ISO 216's A series; the frame leaves 20 mm on the left, for filing, and 10 mm elsewhere
(ISO 5457); the title block is 180 mm wide and stands in the lower right corner (ISO 7200).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import SurveyError

A_SERIES_MM = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "A2": (420.0, 594.0),
    "A1": (594.0, 841.0),
}
LEFT_MM, MARGIN_MM = 20.0, 10.0
TITLE_WIDTH_MM, TITLE_HEIGHT_MM = 180.0, 36.0
BESIDE_FROM_MM = 360.0
"""From this width of frame on, the text stands beside the plan, else below it."""

BELOW_HEIGHT_MM = 66.0
NOTES_SHARE = 0.62
NORTH_HEIGHT_MM = 24.0
NOTES_HEIGHT_MM = 46.0
ROW_MM = 3.7
SCHEDULE_COLUMN_MM = 60.0
AIR_MM = 6.0
"""Between plan and frame, for names of stations at its edge."""


@dataclass(frozen=True)
class Box:
    """A rectangle on the sheet in mm from its upper left corner."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Paper:
    """A size of paper in a position, such as ``A3 landscape``, and its parts."""

    size: str
    landscape: bool

    @property
    def name(self) -> str:
        return f"{self.size} {'landscape' if self.landscape else 'portrait'}"

    @property
    def width_mm(self) -> float:
        return A_SERIES_MM[self.size][1 if self.landscape else 0]

    @property
    def height_mm(self) -> float:
        return A_SERIES_MM[self.size][0 if self.landscape else 1]

    @property
    def frame(self) -> Box:
        """What may be drawn on."""
        return Box(
            LEFT_MM,
            MARGIN_MM,
            self.width_mm - LEFT_MM - MARGIN_MM,
            self.height_mm - 2 * MARGIN_MM,
        )

    @property
    def beside(self) -> bool:
        """Whether the text stands in a column at the right of the plan."""
        return self.frame.width >= BESIDE_FROM_MM

    @property
    def title(self) -> Box:
        """The title block, in the lower right corner of the frame."""
        frame = self.frame
        return Box(
            frame.x + frame.width - TITLE_WIDTH_MM,
            frame.y + frame.height - TITLE_HEIGHT_MM,
            TITLE_WIDTH_MM,
            TITLE_HEIGHT_MM,
        )

    @property
    def plan(self) -> Box:
        """Where the plan is drawn."""
        frame = self.frame
        if self.beside:
            return Box(frame.x, frame.y, frame.width - TITLE_WIDTH_MM, frame.height)
        return Box(frame.x, frame.y, frame.width, frame.height - TITLE_HEIGHT_MM - BELOW_HEIGHT_MM)

    @property
    def norths(self) -> Box:
        """Scale bar and norths."""
        frame = self.frame
        if self.beside:
            y = self.title.y - NORTH_HEIGHT_MM
            return Box(self.title.x, y, TITLE_WIDTH_MM, NORTH_HEIGHT_MM)
        return Box(
            frame.x, self.title.y - BELOW_HEIGHT_MM, NOTES_SHARE * frame.width, NORTH_HEIGHT_MM
        )

    @property
    def notes(self) -> Box:
        """Accuracy, datum and cautions."""
        above = self.norths
        if self.beside:
            y = above.y - NOTES_HEIGHT_MM
            return Box(above.x, y, TITLE_WIDTH_MM, NOTES_HEIGHT_MM)
        y = above.y + above.height
        return Box(above.x, y, above.width, BELOW_HEIGHT_MM - NORTH_HEIGHT_MM)

    @property
    def schedule(self) -> Box:
        """The area schedule."""
        frame = self.frame
        if self.beside:
            return Box(self.title.x, frame.y, TITLE_WIDTH_MM, self.notes.y - frame.y)
        left = frame.x + NOTES_SHARE * frame.width
        width = (1.0 - NOTES_SHARE) * frame.width
        return Box(left, self.norths.y, width, BELOW_HEIGHT_MM)

    @property
    def schedule_rows(self) -> int:
        """Rows of the area schedule in one of its columns, heading and total aside."""
        return int((self.schedule.height - 14.0) / ROW_MM)

    @property
    def schedule_columns(self) -> int:
        return max(int(self.schedule.width / SCHEDULE_COLUMN_MM), 1)

    def holds(self, width_mm: float, height_mm: float, rooms: int) -> bool:
        """Whether a plan of this size on paper and its rooms' areas find room."""
        plan = self.plan
        return (
            width_mm + 2 * AIR_MM <= plan.width
            and height_mm + 2 * AIR_MM <= plan.height
            and rooms <= self.schedule_rows * self.schedule_columns
        )


PAPERS = tuple(Paper(size, landscape) for size in A_SERIES_MM for landscape in (True, False))
"""All papers, smallest first."""

FITTING = "smallest that fits"


@dataclass(frozen=True)
class Need:
    """What a storey needs: its size on the ground in metres and its number of rooms."""

    level: int
    width_m: float
    height_m: float
    rooms: int


def choose_paper(needs: Sequence[Need], plot_scale: int, wanted: str = FITTING) -> Paper:
    """The smallest paper that holds every storey at the plot scale, or the wanted one.

    SurveyError when it does not fit: how large the plan is on paper, and what would do.
    """

    def held(paper: Paper, scale: int) -> bool:
        mm = 1000.0 / scale
        return all(paper.holds(need.width_m * mm, need.height_m * mm, need.rooms) for need in needs)

    fitting = next((paper for paper in PAPERS if held(paper, plot_scale)), None)
    chosen = next((paper for paper in PAPERS if paper.name == wanted), fitting)
    if chosen is not None and held(chosen, plot_scale):
        return chosen
    largest = max(needs, key=lambda need: need.width_m * need.height_m)
    mm = 1000.0 / plot_scale
    on_paper = (
        f"at 1:{plot_scale} the plan of level {largest.level} is {largest.width_m * mm:.0f} x "
        f"{largest.height_m * mm:.0f} mm with {max(need.rooms for need in needs)} rooms to list"
    )
    if fitting is None:
        raise SurveyError(
            f"PAPER: {on_paper}, more than A1 holds; expected a smaller plot scale or one storey."
        )
    raise SurveyError(
        f"PAPER: {on_paper}, more than {wanted} holds; expected {fitting.name} or larger."
    )


def bar_segment_m(plot_scale: int) -> float:
    """The length of a segment of the scale bar, a round number of about 10 mm on paper."""
    length = 10.0 * plot_scale / 1000.0
    return min((0.2, 0.5, 1.0, 2.0, 5.0, 10.0), key=lambda nice: abs(nice - length))
