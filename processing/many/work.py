# SPDX-License-Identifier: GPL-2.0-or-later
"""The work on one building: nothing where it is done, else the run, its results, the database."""

from __future__ import annotations

import os
import shutil
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import SurveyError
from . import child
from .state import DONE, DRAFT, FAILED, State, alone, forget_state, key_of, read_state, write_state
from .steps import GEOPACKAGE, parameters_by_algorithm, result, result_names, steps
from .tree import Building

if TYPE_CHECKING:
    from .postgis import Database

KEPT, MADE, BROKEN, ELSEWHERE, STOPPED = "kept", "made", "failed", "elsewhere", child.STOPPED


@dataclass(frozen=True)
class Job:
    """What all buildings have in common; `also` are algorithms to run on every plan."""

    results: Path
    program: str
    parameters: Mapping[str, Any]
    version: str
    timeout_s: float
    also: tuple[str, ...] = ()
    again: bool = False
    skip_failed: bool = False
    database: Database | None = None
    stop: threading.Event = field(default_factory=threading.Event)


@dataclass(frozen=True)
class Outcome:
    """What became of a building in this run: one of the words above, and a sentence."""

    building: Building
    word: str
    message: str = ""
    seconds: float = 0.0

    @property
    def good(self) -> bool:
        return self.word in (KEPT, MADE)


def work_on(building: Building, job: Job) -> Outcome:
    """Do what there is to do for a building. What is wrong with it is told, never raised."""
    folder = job.results / building.name
    begun = time.monotonic()
    try:
        with alone(folder) as mine:
            if not mine:
                return Outcome(building, ELSEWHERE, "another process works at it")
            return _alone(building, folder, job, begun)
    except (SurveyError, OSError) as error:
        return Outcome(building, BROKEN, str(error), time.monotonic() - begun)


def _alone(building: Building, folder: Path, job: Job, begun: float) -> Outcome:
    _swept(folder)
    try:
        given = {**job.parameters, **building.parameters()}
        parameters = parameters_by_algorithm(given, job.also)
        key = key_of(building, parameters, job.version)
    except (SurveyError, OSError) as error:
        return _failed(building, folder, "", str(error), begun)
    state = read_state(folder)
    same = state.key == key and not job.again
    word = KEPT
    if same and state.status == FAILED and job.skip_failed:
        return Outcome(building, BROKEN, state.message)
    results = result_names(building, job.also)
    whole = all((folder / name).is_file() for name in results)
    if not (same and state.status == DONE and whole):
        message = _make(building, folder, parameters, job)
        if message == STOPPED:
            return Outcome(building, STOPPED, "stopped before its end")
        if message:
            return _failed(building, folder, key, message, begun)
        state = State(DONE, key, "", round(time.monotonic() - begun, 2), _now())
        write_state(folder, state)
        word = MADE
    message = _load(building, folder, key, job)
    if message != state.message:
        write_state(folder, replace(state, message=message))
    return Outcome(building, BROKEN if message else word, message, time.monotonic() - begun)


def _load(building: Building, folder: Path, key: str, job: Job) -> str:
    """Put the plan into the database, if there is one; a sentence when that failed."""
    if job.database is None:
        return ""
    try:
        job.database.load(building.name, key, folder / result(building, GEOPACKAGE))
    except SurveyError as error:
        return str(error)
    return ""


def _make(
    building: Building, folder: Path, parameters: Mapping[str, Mapping[str, Any]], job: Job
) -> str:
    """Run the host and put its results into their place; a sentence when that failed."""
    work = folder / f".work-{os.getpid()}"
    work.mkdir()
    log = folder / child.LOG
    log.unlink(missing_ok=True)
    over = time.monotonic() + job.timeout_s
    made: list[str] = []
    try:
        for step in steps(building, parameters, work):
            words = child.command(job.program, step.algorithm, step.parameters)
            message = child.run(words, log, over, job.stop)
            if message == child.LATE:
                return f"no result within {job.timeout_s:g} s"
            if message:
                return message
            missing = [name for name in step.files if not (work / name).is_file()]
            if missing:
                return f"{step.algorithm} ended well, but wrote no {', '.join(missing)}"
            made += step.files
        for name in made:
            with (work / name).open("rb") as file:
                os.fsync(file.fileno())
        forget_state(folder)
        for name in made:
            os.replace(work / name, folder / name)
        return ""
    finally:
        _swept(folder)


def _swept(folder: Path) -> None:
    """Take away what is half made: ours, and that of a run that was killed, whose host may have
    lived on for a moment."""
    for left in folder.glob(".work-*"):
        shutil.rmtree(left, ignore_errors=True)
    (folder / DRAFT).unlink(missing_ok=True)


def _failed(building: Building, folder: Path, key: str, message: str, begun: float) -> Outcome:
    seconds = time.monotonic() - begun
    write_state(folder, State(FAILED, key, message, round(seconds, 2), _now()))
    return Outcome(building, BROKEN, message, seconds)


def _now() -> str:
    return datetime.now(timezone.utc).isoformat(timespec="seconds")
