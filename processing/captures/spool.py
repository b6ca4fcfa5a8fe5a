# SPDX-License-Identifier: GPL-2.0-or-later
"""Captures whose readings wait on disk, so that memory holds one capture and not the folder.

A capture of 1600 readings has some 150 kB of arrays, its header a few hundred bytes. Headers stay
in memory; the arrays lie in one nameless temporary file, which the operating system takes away
with the program, whatever ends it.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, fields
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..errors import SurveyError
from .model import Capture

_ALIGNED = 8  # bytes


@dataclass(frozen=True)
class _Column:
    """Where an array lies in the file, and what it is."""

    at: int
    dtype: np.dtype[Any]
    count: int

    @property
    def size(self) -> int:
        return self.dtype.itemsize * self.count


class StoredCapture(Capture):
    """A capture that fetches an array from its spool each time it is asked for, and keeps none.

    What looks at one array several times does well to take it once, or the whole by `in_memory`.
    A copy with other values (``dataclasses.replace``) has its arrays in memory.
    """

    _spool: Spool
    _columns: dict[str, _Column]

    def __getattr__(self, name: str) -> Any:
        # Asked only for what is no attribute yet: the arrays.
        columns = self.__dict__.get("_columns", {})
        if name not in columns:
            raise AttributeError(name)
        return self._spool.fetch(columns[name])


class Spool:
    """Holds captures on disk for as long as the ``with`` block runs.

    >>> with Spool() as spool:
    ...     stored = spool.put(capture)
    ...     stored.station, stored.distance_m

    Raises `SurveyError` when the disk refuses.
    """

    def __init__(self) -> None:
        self._end = 0
        try:
            self._file = tempfile.TemporaryFile(prefix="roomtie-")  # noqa: SIM115 - see __exit__
        except OSError as error:
            raise _refused(error) from error

    def __enter__(self) -> Spool:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with suppress(OSError):  # what does not reach a full disk any more is not needed
            self._file.close()

    def put(self, capture: Capture, over: Capture | None = None) -> StoredCapture:
        """The capture with its arrays on disk; `over` is a capture of this spool that is not
        needed any more, whose place is taken again."""
        before = getattr(over, "_columns", {})
        columns: dict[str, _Column] = {}
        stored = object.__new__(StoredCapture)
        for field in fields(Capture):
            value = getattr(capture, field.name)
            if isinstance(value, np.ndarray):
                columns[field.name] = self._write(value, before.get(field.name))
            else:
                object.__setattr__(stored, field.name, value)
        object.__setattr__(stored, "_spool", self)
        object.__setattr__(stored, "_columns", columns)
        return stored

    def fetch(self, column: _Column) -> NDArray[Any]:
        """An array, as a copy in memory."""
        data = bytearray(column.size)
        self._file.seek(column.at)
        if self._file.readinto(data) != column.size:  # type: ignore[attr-defined]
            raise SurveyError("The temporary file of the captures was cut off by another program.")
        return np.frombuffer(data, dtype=column.dtype, count=column.count)

    def fetch_all(self, columns: Mapping[str, _Column]) -> dict[str, NDArray[Any]]:
        """Arrays by name, as copies in memory, in one reading: they mostly lie side by side."""
        start = min(column.at for column in columns.values())
        end = max(column.at + column.size for column in columns.values())
        if end - start > 2 * sum(column.size for column in columns.values()):
            return {name: self.fetch(column) for name, column in columns.items()}
        data = self.fetch(_Column(start, np.dtype(np.uint8), end - start))
        return {
            name: data[column.at - start : column.at - start + column.size].view(column.dtype)
            for name, column in columns.items()
        }

    def _write(self, array: NDArray[Any], before: _Column | None) -> _Column:
        if array.dtype.hasobject or array.ndim != 1:
            raise TypeError(f"{array.dtype} arrays of {array.ndim} dimensions are not kept on disk")
        column = _Column(self._end, array.dtype, len(array))
        if before is not None and before.dtype == column.dtype and before.count == column.count:
            column = before
        try:
            self._file.seek(column.at)
            self._file.write(array.tobytes())
            self._file.flush()
        except OSError as error:
            raise _refused(error) from error
        self._end = max(self._end, column.at + -(-column.size // _ALIGNED) * _ALIGNED)
        return column


def in_memory(capture: Capture) -> Capture:
    """A stored capture with its arrays in memory; any other one as it is."""
    if not isinstance(capture, StoredCapture) or "_columns" not in vars(capture):
        return capture
    arrays = capture._spool.fetch_all(capture._columns)
    values: dict[str, Any] = {**vars(capture), **arrays}
    return Capture(**{field.name: values[field.name] for field in fields(Capture)})


def _refused(error: OSError) -> SurveyError:
    where = "Import"
    with suppress(OSError):  # where nothing can be written, there is no such folder either
        where = tempfile.gettempdir()
    return SurveyError(
        f"{where}: the readings could not be kept in the folder for temporary files "
        f"({error.strerror or error}); expected room for about 100 bytes a reading."
    )
