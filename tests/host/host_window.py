# SPDX-License-Identifier: GPL-2.0-or-later
"""The host with its real window on a display of its own, played by a script of `in_window`."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sysconfig
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]


def play(script: str, folder: Path, seconds: float = 240.0, **environment: str) -> dict:
    """Start the host with an empty profile in `folder` and this checkout as a plugin, play the
    script and return what it found. AssertionError with the host's own words when it fails."""
    program = shutil.which("qgis.bin") or shutil.which("qgis")
    assert program is not None, "the host is not installed"
    assert shutil.which("xvfb-run"), "xvfb is not installed"
    plugins, temporary, result = folder / "plugins", folder / "tmp", folder / "result.json"
    for made in (plugins, temporary, folder / "home"):
        made.mkdir(exist_ok=True)
    if not (plugins / "roomtie").exists():
        (plugins / "roomtie").symlink_to(ROOT)
    begin = folder / "begin.py"
    begin.write_text("from steps import begin\nplayer = begin()\n")
    command = [program, "--nologo", "--nocustomization", "--profiles-path", str(folder)]
    # No abstract socket: a second system in a folder of this machine would share its name.
    display = "-screen 0 1600x1000x24 -nolisten local"
    played = subprocess.run(
        ["xvfb-run", "-a", "-s", display, *command, "--code", str(begin)],
        env={
            "PATH": "/usr/local/bin:/usr/bin:/bin",
            "LANG": "C.UTF-8",
            "HOME": str(folder / "home"),
            "TMPDIR": str(temporary),
            "XDG_RUNTIME_DIR": str(temporary),
            "QGIS_PLUGINPATH": str(plugins),
            "PYTHONPATH": os.pathsep.join([sysconfig.get_path("purelib"), str(HERE / "in_window")]),
            "PYTHONDONTWRITEBYTECODE": "1",
            "OMP_NUM_THREADS": "1",
            "ROOMTIE_SCRIPT": script,
            "ROOMTIE_RESULT": str(result),
            "ROOMTIE_PICTURES": os.environ.get("ROOMTIE_PICTURES", ""),
            **environment,
        },
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=seconds,
        check=False,
    )
    assert result.exists(), f"{played.returncode}\n{played.stdout}\n{played.stderr}"
    found = json.loads(result.read_text())
    assert "error" not in found, found["error"]
    return found
