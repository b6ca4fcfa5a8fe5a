# SPDX-License-Identifier: GPL-2.0-or-later
"""One building through the host's command line, in a process of its own."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import threading
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from ..errors import SurveyError

PROVIDER = "roomtie"
PROGRAMS = ("qgis_process.bin", "qgis_process")
"""Debian's qgis_process is a wrapper with an option that QGIS 3.22 refuses: its program first."""

ASKED_EVERY_S = 0.2
LOG = "run.log"
STOPPED, LATE = "stopped", "late"


def host_program(given: str = "") -> str:
    """The host's command line. SurveyError when there is none."""
    for name in (given,) if given else PROGRAMS:
        found = shutil.which(name)
        if found:
            return found
    raise SurveyError(
        f"{given or ' or '.join(PROGRAMS)}: there is no such program; expected the command line of "
        "QGIS, or --qgis-process with its path."
    )


def command(program: str, algorithm: str, parameters: Mapping[str, Any]) -> list[str]:
    """The command of one run. A list becomes the parameter several times, as the host wants it."""
    words = [program, "run", f"{PROVIDER}:{algorithm}", "--"]
    if shutil.which("setpriv"):
        # The host ends with this process, even when that is killed and can say nothing any more.
        words = ["setpriv", "--pdeathsig", "KILL", "--", *words]
    for name, value in parameters.items():
        for one in value if isinstance(value, (list, tuple)) else [value]:
            words.append(f"{name}={_text(one)}")
    return words


def _text(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def run(words: Sequence[str], log: Path, over: float, stop: threading.Event) -> str:
    """Run a command until it ends, the monotonic clock says `over`, or `stop` is set; empty when it
    ended well, else why not (`STOPPED`, `LATE` or a sentence). What it says goes into the log."""
    environment = {
        **os.environ,
        "QT_QPA_PLATFORM": os.environ.get("QT_QPA_PLATFORM", "offscreen"),
        # As many processes as cores: more threads would only be in each other's way.
        "OMP_NUM_THREADS": os.environ.get("OMP_NUM_THREADS", "1"),
    }
    before = log.stat().st_size if log.exists() else 0
    with log.open("ab") as output:
        child = subprocess.Popen(  # noqa: S603 - no shell, words of our own
            [*words],
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            env=environment,
            start_new_session=True,
        )
        while True:
            try:
                code = child.wait(ASKED_EVERY_S)
                break
            except subprocess.TimeoutExpired:
                if stop.is_set() or time.monotonic() > over:
                    _end(child)
                    return STOPPED if stop.is_set() else LATE
    return "" if code == 0 else reason(log.read_bytes()[before:], code)


def _end(child: subprocess.Popen[bytes]) -> None:
    """End the child and all that it started."""
    with suppress(ProcessLookupError):
        os.killpg(child.pid, signal.SIGKILL)
    child.wait()


def reason(said: bytes, code: int) -> str:
    """Why the host failed, by what it said: the error that it names, else its last words."""
    lines = [line.strip() for line in said.decode("utf-8", "replace").splitlines()]
    errors = [line.split(":", 1)[1].strip() for line in lines if line.startswith("ERROR:")]
    words = errors[-1:] or [line for line in lines if line][-1:]
    how = f"signal {-code}" if code < 0 else f"exit status {code}"
    return words[0] if words else f"the host ended with {how} and said nothing"
