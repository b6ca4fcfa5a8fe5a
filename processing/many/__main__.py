# SPDX-License-Identifier: GPL-2.0-or-later
"""The command: ``python3 -m roomtie.processing.many SURVEYS RESULTS [options]``."""

from __future__ import annotations

import argparse
import os
import signal
import sys
import threading
import time
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from pathlib import Path
from typing import Any

from ..errors import SurveyError
from ..version import plugin_version
from .child import host_program
from .postgis import Database
from .state import FAILED, NOT_YET
from .steps import PRODUCTS
from .summary import write_summary
from .tree import absolute, find_buildings, part_of, read_parameters
from .work import KEPT, STOPPED, Job, Outcome, work_on

GOOD, SOME_FAILED, WRONG_USE, INTERRUPTED = 0, 1, 2, 130
TIMEOUT_S = 3600.0


def arguments(words: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python3 -m roomtie.processing.many",
        description="Plans of all surveys in a folder tree, by parallel processes of the host. Run "
        "again, it goes on where it stopped: what is done and has not changed is not done again.",
        epilog="Exit status: 0 all done, 1 not all (see the summary), 2 wrong use, 130 stopped.",
    )
    add = parser.add_argument
    add("surveys", type=Path, metavar="SURVEYS", help="the tree: folders with captures in them")
    add("results", type=Path, metavar="RESULTS", help="where plans and the summary go")
    add("--set", action="append", default=[], metavar="NAME=VALUE", dest="given")
    add("--parameters", type=Path, metavar="FILE", help="parameters as a JSON object")
    add(
        "--also", action="append", default=[], choices=[*PRODUCTS], help="what to make of each plan"
    )
    add("--jobs", type=int, default=cores(), help="processes at once (as many as cores)")
    add("--part", default="", metavar="K/N", help="only the K-th of N parts, K from 1")
    add("--timeout", type=float, default=TIMEOUT_S, metavar="SECONDS", help="for one building")
    add("--again", action="store_true", help="also what is done")
    add("--skip-failed", action="store_true", help="not what failed and has not changed since")
    add("--dry-run", action="store_true", help="only list the buildings, and write the summary")
    add("--postgis", default="", metavar="CONNECTION", help="a connection string of libpq")
    add("--schema", default="surveys", help="the schema in that database")
    add("--qgis-process", default="", metavar="PROGRAM")
    return parser.parse_args(words)


def cores() -> int:
    """The cores that this process may use, which a scheduler may have limited."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def parameters_of(given: Sequence[str], path: Path | None) -> dict[str, Any]:
    """Parameters for all buildings: those of the file, then ``NAME=VALUE``; a name that comes
    several times is a list. SurveyError for a word without ``=``."""
    found = read_parameters(path) if path else {}
    met: set[str] = set()
    for word in given:
        name, equals, value = word.partition("=")
        if not equals or not name:
            raise SurveyError(f"--set: found {word}; expected NAME=VALUE.")
        if name in met:
            before = found[name]
            found[name] = [*(before if isinstance(before, list) else [before]), value]
        else:
            found[name] = value
        met.add(name)
    return absolute(found, Path.cwd())


def say(words: str) -> None:
    sys.stdout.write(f"{words}\n")
    sys.stdout.flush()


def main(words: Sequence[str] | None = None) -> int:
    """Do what the arguments ask for; the exit status."""
    asked = arguments(words)
    try:
        if os.name != "posix":
            raise SurveyError("This system has no file locks of POSIX; expected Linux or macOS.")
        everything = find_buildings(asked.surveys)
        mine = part_of(everything, asked.part)
        surveys, results = asked.surveys.resolve(), asked.results.resolve()
        if surveys in (results, *results.parents) or results in surveys.parents:
            raise SurveyError(
                f"{asked.results}: results and surveys lie in each other; expected a folder apart "
                "from the tree."
            )
        asked.results.mkdir(parents=True, exist_ok=True)
        if asked.dry_run:
            for building in mine:
                say(building.name)
            counts = write_summary(everything, asked.results)
            return GOOD if not counts[FAILED] + counts[NOT_YET] else SOME_FAILED
        if asked.jobs < 1 or asked.timeout <= 0:
            raise SurveyError("--jobs and --timeout: expected numbers above zero.")
        job = Job(
            asked.results,
            host_program(asked.qgis_process),
            parameters_of(asked.given, asked.parameters),
            plugin_version(),
            asked.timeout,
            tuple(dict.fromkeys(asked.also)),
            asked.again,
            asked.skip_failed,
            Database(asked.postgis, asked.schema) if asked.postgis else None,
        )
    except (SurveyError, OSError) as error:
        sys.stderr.write(f"{error}\n")
        return WRONG_USE
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: job.stop.set())
    outcomes = _all(mine, job, asked.jobs)
    try:
        loaded = None if job.database is None else job.database.keys()
    except SurveyError as error:
        say(str(error))
        loaded = {}
    write_summary(everything, asked.results, loaded)
    return _told(outcomes, job.stop)


def _all(mine: Sequence[Any], job: Job, jobs: int) -> list[Outcome]:
    outcomes: list[Outcome] = []
    begun = time.monotonic()
    with ThreadPoolExecutor(jobs) as pool:
        waiting = [pool.submit(_unless_stopped, building, job) for building in mine]
        for future in as_completed(waiting):
            outcome = future.result()
            outcomes.append(outcome)
            if outcome.word != STOPPED:
                line = f"[{len(outcomes)}/{len(mine)}] {outcome.building.name}: {outcome.word}"
                line += f" in {outcome.seconds:.1f} s" if outcome.word != KEPT else ""
                say(line + (f": {outcome.message}" if outcome.message else ""))
    say(f"{len(mine)} buildings in {time.monotonic() - begun:.1f} s, {jobs} at once.")
    return outcomes


def _unless_stopped(building: Any, job: Job) -> Outcome:
    return Outcome(building, STOPPED) if job.stop.is_set() else work_on(building, job)


def _told(outcomes: Sequence[Outcome], stop: threading.Event) -> int:
    counts = Counter(outcome.word for outcome in outcomes)
    say(", ".join(f"{count} {word}" for word, count in sorted(counts.items())) + ".")
    if stop.is_set():
        return INTERRUPTED
    return GOOD if all(outcome.good for outcome in outcomes) else SOME_FAILED


if __name__ == "__main__":
    sys.exit(main())
