# SPDX-License-Identifier: GPL-2.0-or-later
"""Where a plan goes: by its evidence, or where the plan lay that it grew from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from qgis.core import QgsCoordinateReferenceSystem, QgsProcessingContext

from ..errors import SurveyError
from ..progress import Progress
from .base import RoomtieAlgorithm
from .crs import from_wkt, host_crs_of, plan_crs
from .earlier_input import PLACE, EarlierFile
from .earlier_place import earlier_control, earlier_fits, is_grid
from .site_input import MODES, fit_with_parameters

if TYPE_CHECKING:
    from ..captures.model import Survey
    from ..growing import Grown
    from ..site.model import SiteFit
    from ..site.placement import Placement
    from ..stations.model import Network

NO_PLACE = (
    "No station has a geotag and no control points were given: the plan stays in plan coordinates "
    "and is not georeferenced."
)


@dataclass(frozen=True, eq=False)
class Placed:
    """The fits of the groups (none: the plan stays in plan coordinates) with the placement and the
    CRS of the layers, the WKT of the site grid, and sentences about it."""

    fits: tuple[SiteFit, ...]
    placement: Placement | None
    crs: QgsCoordinateReferenceSystem
    site_grid_wkt: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class ToPlace:
    """What is placed: survey, network, the outsides of its groups; the earlier plan and what grew
    from it, where there is one; and the project's CRS."""

    survey: Survey
    network: Network
    outlines: Mapping[int, Any]
    of_project: QgsCoordinateReferenceSystem | None
    earlier: EarlierFile | None = None
    grown: Grown | None = None


def place_plan(
    algorithm: RoomtieAlgorithm,
    plan: ToPlace,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    progress: Progress,
) -> Placed:
    """Place a plan as the parameters say. One that grew from a plan on the earth keeps that place,
    unless control points, building outlines or another target CRS are given, or a new fit is asked
    for; sentences tell what a new fit says of it."""
    if plan.earlier is None or plan.grown is None or not plan.earlier.placed:
        fits, told = _fitted(algorithm, plan, parameters, context, progress)
        return _by_fits(algorithm, plan, fits, told, parameters, context)
    before = earlier_fits(plan.earlier)
    here = {
        number: before[group] for number, group in plan.grown.came_from.items() if group in before
    }
    target = host_crs_of(next(iter(before.values())).target_crs)
    # For what is not given the host takes the default, which a user may have set in the options.
    given = parameters.get("TARGET_CRS") not in (None, "")
    asked = algorithm.parameterAsCrs(parameters, "TARGET_CRS", context)
    elsewhere = given and asked.isValid() and asked != target
    again = algorithm.parameterAsEnumString(parameters, "EARLIER_PLACE", context) == PLACE[1]
    anew = (
        again
        or elsewhere
        or any(parameters.get(name) not in (None, "") for name in ("CONTROL", "FOOTPRINT"))
    )
    if not elsewhere:
        parameters = {**parameters, "TARGET_CRS": target}
    try:
        fits, told = _fitted(algorithm, plan, parameters, context, progress)
    except SurveyError as error:
        if anew:
            raise
        fits, told = (), [str(error)]
    if anew and not fits:
        raise SurveyError(
            f"The plan cannot be placed anew: {told[-1] if told else NO_PLACE} Expected more "
            f"evidence, or EARLIER_PLACE = {PLACE[0]}."
        )
    if not here:
        told.append(
            "No station of the earlier plan is used any more by which its place could be kept."
        )
    if anew or not here:
        told += [] if elsewhere else _moved(plan.network, here, fits)
        return _by_fits(algorithm, plan, fits, told, parameters, context)
    return _kept(plan, plan.earlier, here, fits, told)


def _fitted(
    algorithm: RoomtieAlgorithm,
    plan: ToPlace,
    parameters: dict[str, Any],
    context: QgsProcessingContext,
    progress: Progress,
) -> tuple[tuple[SiteFit, ...], list[str]]:
    from ..site.fit import RotationUnknown

    try:
        return fit_with_parameters(
            algorithm,
            plan.survey,
            plan.network,
            plan.of_project,
            parameters,
            context,
            progress,
            plan.outlines,
            earlier_control(plan.earlier),
        )
    except RotationUnknown as unknown:
        return (), [str(unknown)]


def _by_fits(
    algorithm: RoomtieAlgorithm,
    plan: ToPlace,
    fits: tuple[SiteFit, ...],
    told: list[str],
    parameters: dict[str, Any],
    context: QgsProcessingContext,
) -> Placed:
    from ..site.placement import Placement
    from ..site.site_grid import site_grid_wkt

    if not fits:
        told.append(
            "The plan stays in plan coordinates and is not georeferenced." if told else NO_PLACE
        )
        return Placed((), None, plan_crs("plan coordinates"), "", tuple(told))
    if plan.earlier is not None and not plan.earlier.placed:
        told.append("The earlier plan lay in plan coordinates; now it is georeferenced.")
    site_grid = algorithm.parameterAsEnumString(parameters, "MODE", context) == MODES[1]
    wkt = site_grid_wkt(fits[0], "Site grid")
    crs = from_wkt(wkt) if site_grid else host_crs_of(fits[0].target_crs)
    return Placed(fits, Placement(fits, site_grid), crs, wkt, tuple(told))


def _kept(
    plan: ToPlace,
    earlier: EarlierFile,
    here: Mapping[int, SiteFit],
    new: tuple[SiteFit, ...],
    told: list[str],
) -> Placed:
    from ..site.kept import difference, kept_fits
    from ..site.placement import Placement
    from ..site.site_grid import site_grid_wkt

    fits = kept_fits(here, new, sorted(set(plan.network.network.tolist())))
    for fit in new:
        if fit.network in here:
            apart = difference(here[fit.network], fit, _middle(plan.network, fit.network))
            told.append(
                f"The plan{_group(plan.network, fit.network)} stays where it was. By all evidence "
                f"that there is now it would lie {apart.sentence}. EARLIER_PLACE = {PLACE[1]} "
                "moves it there."
            )
    if not new:
        told.append("The plan stays where it was.")
    site_grid = is_grid(earlier.crs)
    wkt = site_grid_wkt(fits[0], "Site grid")
    return Placed(fits, Placement(fits, site_grid), earlier.crs, wkt, tuple(told))


def _moved(network: Network, here: Mapping[int, SiteFit], fits: Sequence[SiteFit]) -> list[str]:
    from ..site.kept import difference

    return [
        f"The plan{_group(network, fit.network)} was placed anew: it moved by "
        f"{difference(here[fit.network], fit, _middle(network, fit.network)).sentence}."
        for fit in fits
        if fit.network in here
    ]


def _group(network: Network, number: int) -> str:
    """Which part of the plan is meant, where there are several."""
    return f" (network {number})" if len(set(network.network.tolist())) > 1 else ""


def _middle(network: Network, number: int) -> Any:
    return network.xy_m[network.network == number].mean(axis=0)
