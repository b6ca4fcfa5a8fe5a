# SPDX-License-Identifier: GPL-2.0-or-later
"""Coordinate reference systems between the host and pyproj."""

from __future__ import annotations

from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsProcessingContext,
)

from ..errors import SurveyError


def from_wkt(wkt: str) -> QgsCoordinateReferenceSystem:
    """The host's CRS of a WKT2 text; SurveyError when the host does not understand it."""
    crs = QgsCoordinateReferenceSystem.fromWkt(wkt)
    if not crs.isValid():
        raise SurveyError(f"The host does not understand the coordinate system {wkt[:60]}….")
    return crs


def host_crs_of(text: str) -> QgsCoordinateReferenceSystem:
    """The host's CRS of an authority's code or WKT; SurveyError when it does not understand it."""
    crs = QgsCoordinateReferenceSystem(text)
    return crs if crs.isValid() else from_wkt(text)


def called(crs: QgsCoordinateReferenceSystem) -> str:
    """What a CRS is called in a sentence."""
    return crs.authid() or crs.description() or "no coordinate system"


def plan_crs(name: str) -> QgsCoordinateReferenceSystem:
    """A plan that does not lie on the earth yet: an engineering CRS in metres."""
    from ..site.site_grid import plan_crs_wkt

    return from_wkt(plan_crs_wkt(name))


def to_pyproj(crs: QgsCoordinateReferenceSystem):
    """pyproj's CRS of a host's CRS; SurveyError when PROJ does not know it."""
    import pyproj

    text = crs.authid() if ":" in crs.authid() and not crs.authid().startswith("USER") else ""
    try:
        return pyproj.CRS.from_user_input(
            text or crs.toWkt(QgsCoordinateReferenceSystem.WktVariant.WKT2_2019)
        )
    except pyproj.exceptions.CRSError as error:
        raise SurveyError(
            f"The coordinate system {crs.description() or crs.authid()} is not known to PROJ: "
            f"{error}; expected a projected one."
        ) from error


def transform_between(
    source: QgsCoordinateReferenceSystem,
    target: QgsCoordinateReferenceSystem,
    context: QgsProcessingContext,
) -> QgsCoordinateTransform | None:
    """None where coordinates stay as they are; SurveyError where PROJ cannot compute them."""
    if not source.isValid() or not target.isValid() or source == target:
        return None
    for crs in (source, target):
        check_computable(crs)
    return QgsCoordinateTransform(source, target, context.transformContext())


def check_computable(crs: QgsCoordinateReferenceSystem) -> None:
    """SurveyError for a projection that PROJ does not know: the host takes it for valid, and makes
    coordinates of it that are no numbers."""
    import pyproj

    known = to_pyproj(crs)
    if not known.is_projected:
        return
    try:
        pyproj.Transformer.from_crs(known.geodetic_crs, known)
    except pyproj.exceptions.ProjError as error:
        raise SurveyError(
            f"PROJ cannot compute the coordinate system {crs.authid() or crs.description()} "
            f"({str(error).splitlines()[0]}); expected one that it knows."
        ) from error
