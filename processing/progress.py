# SPDX-License-Identifier: GPL-2.0-or-later
"""Progress and cancellation, passed from the host into the computing stages."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass, field
from typing import TypeVar

from .errors import Cancelled

T = TypeVar("T")

_HEARD_S = 0.2


def _never() -> bool:
    return False


def _ignore_fraction(fraction: float) -> None:
    del fraction


def _ignore_text(text: str) -> None:
    del text


@dataclass(frozen=True)
class Progress:
    """Where a stage reports how far it is and learns that it should stop.

    ``cancelled`` is asked, ``moved`` gets the fraction of the whole job (0 to 1), ``said`` gets
    sentences for the log. A stage works on its own 0-to-1 range; `part` cuts a range for it.
    Call `at` often enough that a cancel is noticed within a second.
    """

    cancelled: Callable[[], bool] = field(default=_never)
    moved: Callable[[float], None] = field(default=_ignore_fraction)
    said: Callable[[str], None] = field(default=_ignore_text)
    start: float = 0.0
    length: float = 1.0

    def at(self, fraction: float) -> None:
        """Report the fraction done; raises `Cancelled` when the user asked for a stop."""
        if self.cancelled():
            raise Cancelled("Cancelled by the user; nothing was written.")
        self.moved(self.start + self.length * min(max(fraction, 0.0), 1.0))

    def say(self, text: str) -> None:
        """Put a sentence into the log."""
        self.said(text)

    def part(self, start: float, end: float) -> Progress:
        """The progress of a step that fills ``start`` to ``end`` of this one."""
        return Progress(
            self.cancelled,
            self.moved,
            self.said,
            self.start + self.length * start,
            self.length * (end - start),
        )

    def hearing(self, work: Callable[[], T], fraction: float = 0.0) -> T:
        """What a call into a library gives that cannot be stopped and lets go of Python's lock: it
        runs on a thread of its own while the user is heard. After a cancel its result is thrown
        away when it comes."""
        with_it = ThreadPoolExecutor(max_workers=1)
        try:
            result = with_it.submit(work)
            while not wait([result], timeout=_HEARD_S).done:
                self.at(fraction)
            return result.result()
        finally:
            with_it.shutdown(wait=False)

    def each(self, items: Sequence[T]) -> Iterator[tuple[Progress, T]]:
        """Yield the items, each with the progress of its share of this one: for steps that take
        about as long as each other and report by themselves."""
        for number, item in enumerate(items):
            step = self.part(number / len(items), (number + 1) / len(items))
            step.at(0.0)
            yield step, item

    def over(self, items: Sequence[T] | Iterable[T], total: int | None = None) -> Iterator[T]:
        """Yield the items, reporting before each one."""
        count = total if total is not None else len(items)  # type: ignore[arg-type]
        for index, item in enumerate(items):
            self.at(index / max(count, 1))
            yield item


SILENT = Progress()
