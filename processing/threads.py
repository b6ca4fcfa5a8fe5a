# SPDX-License-Identifier: GPL-2.0-or-later
"""The threads of the linear algebra library: one, while results are computed.

Several threads add the parts of a product in another order than one does, so that the last bits of
a result would depend on how many processors a machine has or what OMP_NUM_THREADS says. The
matrices of a survey are small: sharing them out costs more than it brings.
"""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from threading import Lock
from types import ModuleType
from typing import Any

BUNDLED = Path(__file__).resolve().parent / "bundled" / "threadpoolctl" / "threadpoolctl.py"


@contextmanager
def one_thread() -> Iterator[None]:
    """While the block runs, BLAS and LAPACK of this process use one thread; afterwards as many as
    before. Where threadpoolctl is neither installed nor bundled they stay as they are."""
    _inside.enter()
    try:
        yield
    finally:
        _inside.leave()


class _Inside:
    """Counts who is inside, as the number of threads is one for the whole process: the first to
    come sets it, the last to go sets it back."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._count = 0
        self._limits: Any = None

    def enter(self) -> None:
        with self._lock:
            if self._count == 0:
                # The libraries must be loaded to be told.
                importlib.import_module("scipy.linalg")
                control = _threadpoolctl()
                if control is not None:
                    self._limits = control.threadpool_limits(limits=1, user_api="blas")
            self._count += 1

    def leave(self) -> None:
        with self._lock:
            self._count -= 1
            if self._count == 0 and self._limits is not None:
                self._limits.restore_original_limits()
                self._limits = None


_inside = _Inside()


@cache
def _threadpoolctl() -> ModuleType | None:
    try:
        return importlib.import_module("threadpoolctl")
    except ImportError:
        pass
    spec = importlib.util.spec_from_file_location("threadpoolctl", BUNDLED)
    if spec is None or spec.loader is None or not BUNDLED.is_file():
        return None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
