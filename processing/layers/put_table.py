# SPDX-License-Identifier: GPL-2.0-or-later
"""A layer that is ready in a file of its own, put as a table into a database file that is there."""

from __future__ import annotations

from pathlib import Path

from osgeo import gdal

from ..databases import is_database, wait_until_free
from ..errors import SurveyError
from ..progress import SILENT, Progress
from .complaints import complaints, reason

_ROW_BY_ROW = ("OGR2OGR_USE_ARROW_API", "NO")
_CAUSE = "\nMay be caused by: "
"""Between the complaints in an error that GDAL raises, the last ones first."""


def refuse_other_files(path: Path) -> None:
    """SurveyError where a file is none that takes a table; whether others have it locked is a
    question for later."""
    with complaints() as heard:
        if _opened(path, gdal.OF_UPDATE) is None and not any("locked" in one for one in heard):
            raise SurveyError(
                f"{path}: found a file that cannot be written "
                f"({reason(heard, 'its format is not known')}); expected a database that takes a "
                "table, such as a GeoPackage."
            )


def put_table(draft: Path, path: Path, table: str, progress: Progress = SILENT) -> None:
    """Put a draft's table into a database, in the place of one of that name.

    The old table goes and the new one comes in one transaction of the database: when this fails,
    is cancelled or killed, it holds what it held. (GDAL builds the spatial index after that: a
    process that is killed there leaves the new table without one.) SurveyError says why it cannot
    be done; one that others have locked is waited for.
    """
    stopped: list[BaseException] = []

    def goes_on(fraction: float, _message: str, _data: object) -> int:
        try:
            progress.at(min(max(fraction, 0.0), 1.0))
        except BaseException as stop:  # noqa: BLE001 - raised below; GDAL lets none through
            stopped.append(stop)
        return 0 if stopped else 1

    if is_database(path):
        wait_until_free(path, progress)
    with complaints() as heard:
        done = _translated(draft, path, table, goes_on, heard)
    if stopped:
        raise stopped[0]
    if heard or not done:
        raise SurveyError(
            f"{path}, layer {table}: could not be written: {reason(heard, 'no reason was given')}."
        )


def _translated(draft: Path, path: Path, table: str, goes_on: object, heard: list[str]) -> bool:
    """Whether it was done; its files are closed when this ends."""
    source, target = _opened(draft), _opened(path, gdal.OF_UPDATE)
    if source is None or target is None:
        return False
    # Whole batches of rows at a time, as newer releases of GDAL would, keep to no transaction.
    gdal.SetThreadLocalConfigOption(*_ROW_BY_ROW)
    try:
        written = gdal.VectorTranslate(
            target,
            source,
            layers=[table],
            layerName=table,
            accessMode="overwrite",
            options=["-preserve_fid", "-ds_transaction", "-gt", "unlimited"],
            callback=goes_on,
        )
        return written is not None
    except RuntimeError as error:  # where somebody made GDAL raise its errors
        heard.extend(reversed(str(error).split(_CAUSE)))
        return False
    finally:
        gdal.SetThreadLocalConfigOption(_ROW_BY_ROW[0], None)


def _opened(path: Path, how: int = 0) -> gdal.Dataset | None:
    try:
        return gdal.OpenEx(str(path), gdal.OF_VECTOR | how)
    except RuntimeError:
        return None
