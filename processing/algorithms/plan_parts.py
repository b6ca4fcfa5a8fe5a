# SPDX-License-Identifier: GPL-2.0-or-later
"""The parts that Plan from captures is put together of: captures tied, tables, what is written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from qgis.core import QgsProcessingContext, QgsVectorLayer

from ..errors import SurveyError
from ..progress import Progress
from .adjust_stations import tie_with_parameters
from .base import RoomtieAlgorithm
from .capture_input import read_survey
from .earlier_input import EarlierFile, how_to_grow
from .plan_output import PlanToWrite
from .plan_place import Placed
from .remembered import parameters_noted

if TYPE_CHECKING:
    from ..captures.model import Capture, Survey
    from ..chain import Drawn, Tied
    from ..growing import Grown
    from ..layers.table import Table


def tied_captures(
    algorithm: RoomtieAlgorithm,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    progress: Progress,
    earlier: EarlierFile | None,
) -> tuple[Survey, Tied, Grown | None]:
    """The survey as imported, tied, and grown from the earlier plan where there is one."""
    from ..growing import grow

    given = parameters.get("INPUT") not in (None, "")
    read, tie = progress.part(0.0, 1 / 3), progress.part(1 / 3, 1.0)
    survey = read_survey(algorithm, parameters, context, read) if given else None
    if earlier is None and survey is not None:
        return survey, tie_with_parameters(algorithm, survey, parameters, context, tie), None
    if earlier is None:
        raise SurveyError(
            "INPUT: nothing was given; expected a capture file or a folder, or a plan that "
            "stands as EARLIER."
        )
    before = earlier.corrected(algorithm.parameterAsBool(parameters, "CORRECT_INSTRUMENT", context))

    def tied(joined: Survey, choices: Any, start: Any) -> Tied:
        return tie_with_parameters(
            algorithm, joined, parameters, context, tie, choices, start, before
        )

    how = how_to_grow(algorithm, parameters, context)
    grown = grow(earlier.plan.earlier, survey, tied, *how)
    return grown.joined.survey, grown.tied, grown


def tables_of(
    tied: Tied,
    drawn: Drawn,
    placed: Placed,
    outlines: Any,
    earlier: EarlierFile | None,
    grown: Grown | None,
    progress: Progress,
) -> list[Table]:
    """The plan's tables where they are placed, with what a person added to the earlier ones."""
    from ..layers.carried import carried
    from ..layers.plan import plan_tables, with_aside

    tables = plan_tables(tied, drawn, placed.fits, outlines, progress.part(0.0, 0.5))
    if earlier is not None and grown is not None:
        tables = with_aside(tables, grown.aside, tied.network, grown.came_from)
        tables = carried(tables, earlier.tables, grown.joined.put_aside)
    if placed.placement is not None:
        place = placed.placement.place
        tables = [table.placed(place, step) for step, table in progress.part(0.5, 1.0).each(tables)]
    return tables


def plan_to_write(
    algorithm: RoomtieAlgorithm,
    parameters: dict[str, Any],
    survey: Survey,
    tied: Tied,
    drawn: Drawn,
    aside: tuple[Capture, ...],
    placed: Placed,
    tables: list[Table],
    known: Any,
) -> PlanToWrite:
    """The layers with their looks, and the records by which the plan can grow."""
    from ..layers.known_points import known_points_table
    from ..layers.survey_notes import notes_of
    from ..site.kept import fit_text

    styles = getattr(algorithm.provider(), "style_layer", None)
    rotations = {
        int(number): placed.placement.rotation_rad(int(number)) if placed.placement else 0.0
        for number in sorted(set(tied.network.network.tolist()))
    }
    style: Callable[[QgsVectorLayer], None] | None = None
    if styles is not None:

        def style(layer: QgsVectorLayer) -> None:
            styles(layer, rotations)

    remembered = parameters_noted(algorithm, parameters)

    def notes(more: Any) -> Table:
        return notes_of(
            replace(survey, captures=(*survey.captures, *aside)),
            replace(drawn.survey, captures=(*drawn.survey.captures, *aside)),
            tied.network.corrected,
            drawn.found.said,
            {fit.network: fit_text(fit) for fit in placed.fits},
            [*more, *remembered],
        )

    return PlanToWrite(tables, placed.crs, style, notes, known_points_table(known))
