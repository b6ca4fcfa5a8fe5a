# SPDX-License-Identifier: GPL-2.0-or-later
"""Trees of surveys, and a program in the place of the host's command line that is quick and counts.

The program takes the words that `qgis_process` takes, says what the host says of an error, and does
what files among the captures tell it to: ``broken`` fails, ``slow`` takes its time.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import roomtie

ROOT = Path(roomtie.__file__).resolve().parent

PROGRAM = f"""#!{sys.executable}
import json, os, sys, time
from pathlib import Path
given = dict(word.split("=", 1) for word in sys.argv[4:])
captures = Path(given["INPUT"])
if sys.argv[2] != "roomtie:planfromcaptures":
    if "no map" in captures.read_text():
        print("ERROR:\\tthere is no room", file=sys.stderr)
        sys.exit(1)
    for name in {{"OUTPUT", "OUTPUT_HTML"}} & set(given):
        Path(given[name]).write_text(json.dumps(given, sort_keys=True))
    sys.exit(0)
with open(os.environ["CALLS"], "a") as calls:
    calls.write(f"begin {{captures.parent.name}} {{os.getpid()}}\\n")
time.sleep(60.0 if (captures / "slow.csv").exists() else float(os.environ.get("LASTS", "0")))
if (captures / "broken.csv").exists():
    print("Inputs")
    print(f"ERROR:\\t{{captures}}: the folder holds no captures.", file=sys.stderr)
    sys.exit(1)
text = "".join(path.read_text() for path in sorted(captures.glob("*.csv")))
report = {{
    "stations": [1, 2], "warnings": ["one"],
    "network": {{"unconnected_stations": 0, "rejected_ties": 1, "reference_variance": 1.25}},
    "areas": [{{"plot_scale": s, "area_m2": a}} for s, a in ((50, 10.0), (50, 5.5), (100, 15.4))],
    "site": {{"sigma_east_m": 0.01, "sigma_north_m": 0.02}},
}}
Path(given["OUTPUT"]).write_text(text + json.dumps(given, sort_keys=True))
Path(given["REPORT"]).write_text("<html>")
Path(given["REPORT"]).with_suffix(".json").write_text(json.dumps(report))
with open(os.environ["CALLS"], "a") as calls:
    calls.write(f"end {{captures.parent.name}} {{os.getpid()}}\\n")
"""


class Tree:
    """Surveys and results below a folder, with the program."""

    def __init__(self, top: Path, names=("a", "b", "c")) -> None:
        self.surveys, self.results = top / "surveys", top / "results"
        self.calls_file = top / "calls"
        self.program = top / "host"
        self.program.write_text(PROGRAM)
        self.program.chmod(0o755)
        # The package has its name whatever the checkout's folder is called.
        self.packages = top / "packages"
        self.packages.mkdir()
        (self.packages / "roomtie").symlink_to(ROOT)
        for name in names:
            self.add(name)

    def add(self, name: str, *more: str) -> Path:
        captures = self.surveys / name / "captures"
        captures.mkdir(parents=True)
        for file in ("S01.csv", *more):
            (captures / file).write_text(f"{name}\n")
        return captures

    def start(self, *words, lasts=0.0) -> subprocess.Popen:
        environment = {**os.environ, "CALLS": str(self.calls_file), "LASTS": str(lasts)}
        environment["PYTHONPATH"] = str(self.packages)
        return subprocess.Popen(
            [
                *(sys.executable, "-m", "roomtie.processing.many"),
                *(str(self.surveys), str(self.results)),
                *("--qgis-process", str(self.program), *words),
            ],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            cwd="/",
        )

    def run(self, *words, lasts=0.0) -> tuple[int, str]:
        child = self.start(*words, lasts=lasts)
        said = child.communicate(timeout=120)[0]
        return child.returncode, said

    def calls(self, kind="end") -> list[str]:
        """Buildings that the program began or ended with, in order."""
        if not self.calls_file.exists():
            return []
        lines = [line.split() for line in self.calls_file.read_text().splitlines()]
        return [words[1] for words in lines if words[0] == kind]

    def pids(self) -> list[int]:
        lines = self.calls_file.read_text().splitlines() if self.calls_file.exists() else []
        return [int(line.split()[2]) for line in lines if line.startswith("begin")]

    def state(self, name: str) -> dict:
        return json.loads((self.results / name / "state.json").read_text())
