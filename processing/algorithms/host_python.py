# SPDX-License-Identifier: GPL-2.0-or-later
"""Whether the host's Python has what the stages need; nothing is ever installed from here."""

from __future__ import annotations

import importlib
import importlib.util
import re
import sys
from collections.abc import Sequence
from pathlib import Path

from qgis.core import Qgis

from .translation import tr

REQUIREMENTS = Path(__file__).resolve().parent.parent / "requirements.txt"
BUNDLED = Path(__file__).resolve().parent.parent / "bundled"


DAMAGED = (ImportError, AttributeError, OSError, RuntimeError, SystemError, TypeError, ValueError)
"""What packages raise that are damaged, or built for another release of one they need."""


def missing_packages() -> str:
    """A sentence about Python packages that the host lacks or cannot load; empty when all are
    there."""
    wanted = [line for line in REQUIREMENTS.read_text("ascii").split() if line]
    missing, broken = [], []
    for requirement in wanted:
        name = re.split(r"[<>=!]", requirement)[0]
        if (BUNDLED / name).is_dir():
            continue
        if importlib.util.find_spec(name) is None:
            missing.append(requirement)
            continue
        try:
            importlib.import_module(name)
        except DAMAGED as error:
            broken.append((requirement, error))
    if missing:
        return tr("The host's Python lacks {packages}. {how}").format(
            packages=", ".join(missing), how=how_to_install(missing)
        )
    if broken:
        return not_loaded(broken[0][1], [requirement for requirement, _ in broken])
    return _clash_of_geos()


def not_loaded(error: BaseException, requirements: Sequence[str] = ()) -> str:
    """A sentence about a package that is there and cannot be imported; where it is not one of the
    `requirements`, as a part of one of them, no command would help."""
    why = (str(error).strip().splitlines() or [type(error).__name__])[0]
    return (
        tr("The host's Python cannot load {packages}: {why}. {how}")
        .format(
            packages=", ".join(requirements) or getattr(error, "name", None) or tr("a package"),
            why=why.rstrip("."),
            how=how_to_install([*requirements]) if requirements else "",
        )
        .strip()
    )


def _clash_of_geos() -> str:
    """A sentence when shapely is too old or would crash the host; else empty.

    On Linux a second GEOS in the process takes symbols from the host's one. Two releases do not
    mix: the host would end with a segmentation fault and the user's work be lost.
    """
    import shapely

    if int(shapely.__version__.split(".")[0]) < 2:
        return tr("The host's Python has shapely {found}, expected 2 or newer. {how}").format(
            found=shapely.__version__, how=how_to_install(["shapely>=2.0"])
        )
    own = shapely.geos_version_string.split(".")[:2]
    hosts = Qgis.geosVersion().split(".")[:2]
    if sys.platform.startswith("linux") and own != hosts:
        return tr(
            "shapely was built with GEOS {own}, the host with {hosts}; both in one process would "
            "crash the host. Install a shapely with the host's GEOS: {how}"
        ).format(own=".".join(own), hosts=".".join(hosts), how=how_to_install(["shapely>=2.0"]))
    return ""


def how_to_install(requirements: list[str]) -> str:
    """A command that gives the host's Python what it lacks."""
    if not sys.platform.startswith("linux"):
        return tr("Install it from the shell of the host's own Python: {command}").format(
            command=f"python -m pip install {' '.join(requirements)}"
        )
    quoted = " ".join(f"'{requirement}'" for requirement in requirements)
    if "shapely>=2.0" not in requirements:
        return f"python3 -m pip install --user --break-system-packages {quoted}"
    return tr(
        "From Debian 13 on: apt install python3-shapely. On Debian 12, whose GEOS is that of "
        "shapely 2.0: {command}"
    ).format(
        command="python3 -m pip install --user --break-system-packages "
        f"{quoted} 'shapely<2.1' 'numpy<2'"
    )
