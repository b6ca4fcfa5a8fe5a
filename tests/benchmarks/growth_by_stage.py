# SPDX-License-Identifier: GPL-2.0-or-later
"""How the time and the memory of each stage grow with the number of stations.

    OMP_NUM_THREADS=1 QT_QPA_PLATFORM=offscreen \\
        python tests/benchmarks/growth_by_stage.py SEED STATIONS... [sighted] [network] \\
        [keep=FOLDER]

Plan from captures in the host, on the first STATIONS captures of a long simulated storey
(`tests/stations/simulated_long.py`); seeds from 1000 on are for reporting. Each size runs in a
process of its own, from files to GeoPackage and reports, at 1:50 and 1:200. The tables give CPU
seconds, the peak of memory beyond what the process had when the job began, and the longest CPU
time between two looks at the cancel button, by stage; exponents are slopes between logarithms.

`network` stops when the stations are adjusted. `sighted` puts targets between neighbouring
stations, so that all are one network, the largest that there can be; without, overlaps alone tie
them, in several. `keep` leaves the captures and results in a folder, whose captures serve again.
Run it from anywhere but the checkout's top.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from dataclasses import replace
from importlib import import_module
from math import log
from pathlib import Path

HERE = Path(__file__).resolve().parent
TESTS = HERE.parent
HOST = "/usr/share/qgis/python/plugins"
STATIONS_A_WING = 20
"""Fewer than a wing has, so that the storey has enough."""

STAGES = (
    ("files read", "captures.reading", "read_files"),
    ("readings flagged", "captures.reading", "import_captures"),
    ("faces", "chain", "fit_all_faces"),
    ("connecting", "stations.network", "_connected"),
    ("adjusting", "stations.network", "adjust_group"),
    ("what ties are worth", "stations.network", "network_of"),
    ("what ties are worth", "stations.network", "proposals_of"),
    ("walls", "chain", "find_walls"),
    ("walls at scales", "chain", "draw_walls_at"),
    ("rooms", "chain", "build_rooms"),
    ("rooms", "chain", "with_kept_rooms"),
    ("openings", "walls.rooms_group", "find_gaps"),
    ("openings", "walls.rooms_group", "find_openings"),
    ("openings", "walls.rooms_group", "closed_stretches"),
    ("site fit", "site.footprint", "outlines_of"),
    ("site fit", "algorithms.plan_from_captures", "place_plan"),
    ("reports", "reports.survey_report", "survey_report_html"),
    ("reports", "reports.survey_report", "survey_report_json"),
    ("layers made", "algorithms.plan_from_captures", "tables_of"),
    ("layers written", "algorithms.plan_from_captures", "write_plan"),
)


def simulate(seed: int, stations: int, folder: Path, sighted: bool) -> None:
    """Write the captures of the first stations of a storey."""
    _with_package()
    from simulated_long import long_building, with_targets
    from written_captures import write_captures

    survey, truth = long_building(seed, -(-stations // STATIONS_A_WING))
    if len(survey) < stations:
        raise SystemExit(f"The storey has {len(survey)} stations, expected {stations} or more.")
    survey = replace(survey, captures=survey.captures[:stations])
    write_captures(folder, with_targets(survey, truth, seed) if sighted else survey)


def _stop(*args, **kwargs) -> None:
    from roomtie.processing.errors import Cancelled

    raise Cancelled


def run(captures: Path, output: Path, only_network: bool) -> None:
    """The whole job in a host of its own; prints what each stage took as JSON."""
    _with_package()
    sys.path.append(HOST)
    from qgis.core import (
        QgsApplication,
        QgsProcessingContext,
        QgsProcessingFeedback,
        QgsProject,
    )

    host = QgsApplication([], False)
    host.initQgis()
    from roomtie.plugin.styles import style_layer
    from roomtie.processing.provider import RoomtieProvider
    from stage_clock import OUTSIDE, StageClock, _peak_mb

    provider = RoomtieProvider(style_layer)
    QgsApplication.processingRegistry().addProvider(provider)
    algorithm = provider.algorithm("planfromcaptures").create()
    modules = [import_module(f"roomtie.processing.{module}") for _, module, _ in STAGES]
    before_mb = _peak_mb()
    clock = StageClock()
    for module, (stage, _, name) in zip(modules, STAGES):
        clock.watch(module, name, stage)
    clock.listen()
    context, feedback = QgsProcessingContext(), QgsProcessingFeedback()
    context.setProject(QgsProject.instance())
    parameters = {
        "INPUT": str(captures),
        "PLOT_SCALES": ["1:50", "1:200"],
        "OUTPUT": str(output),
        "REPORT": str(output.with_suffix(".html")),
    }
    clock.watch(algorithm, "compute", OUTSIDE)
    if only_network:
        import_module("roomtie.processing.chain").draw_plans = _stop
    results, well = algorithm.run(parameters, context, feedback)
    if not well:
        raise SystemExit(feedback.textLog())
    stages = list(dict.fromkeys([stage for stage, _, _ in STAGES] + [OUTSIDE]))
    print(
        json.dumps(
            {
                "untied": results.get("UNCONNECTED_STATIONS", "?"),
                "readings": sum(1 for path in captures.iterdir() for _ in path.open()),
                "stages": {
                    stage: (
                        clock.seconds[stage],
                        max(clock.peak_mb[stage] - before_mb, 0.0),
                        clock.deaf[stage],
                        clock.between.get(stage, ""),
                    )
                    for stage in stages
                },
            }
        )
    )


def _with_package() -> None:
    sys.path[:0] = [
        str(HERE),
        str(TESTS),
        *(str(TESTS / name) for name in ("stations", "captures")),
    ]
    import conftest  # noqa: F401  (loads the package under its name)


def _of_size(seed: int, stations: int, sighted: bool, top: Path) -> dict:
    captures = top / f"{seed}-{stations}{'-sighted' * sighted}"
    if not captures.exists():
        subprocess.run(
            [sys.executable, __file__, "simulate", str(seed), str(stations), str(captures)]
            + ["sighted"] * sighted,
            check=True,
        )
    output = captures.with_suffix(".gpkg")
    output.unlink(missing_ok=True)
    words = [sys.executable, __file__, "run", str(captures), str(output)]
    words += ["network"] * ("network" in sys.argv)
    answer = subprocess.run(words, check=True, stdout=subprocess.PIPE, text=True)
    captures.with_suffix(".times").write_text(answer.stdout.splitlines()[-1], encoding="utf-8")
    return json.loads(answer.stdout.splitlines()[-1])


def _exponent(sizes: list[int], values: list[float], least: float) -> str:
    """The slope from the first to the last, where there is enough to tell."""
    if values[0] < least or values[-1] < least or len(sizes) < 2:
        return ""
    return f"{log(values[-1] / values[0]) / log(sizes[-1] / sizes[0]):.2f}"


def _table(title: str, sizes: list[int], rows: dict, digits: int, least: float, summed) -> None:
    """A table in Markdown: sizes, the exponent between all, and from the second size on."""
    print(f"\n| {title} | {' | '.join(map(str, sizes))} | exponent | from {sizes[1:2] or ''} |")
    print("| --- |" + " --- |" * (len(sizes) + 2))
    for name, values in {**rows, "all": [summed(part) for part in zip(*rows.values())]}.items():
        shown = " | ".join(f"{value:.{digits}f}" for value in values)
        late = _exponent(sizes[1:], values[1:], least) if len(sizes) > 2 else ""
        print(f"| {name} | {shown} | {_exponent(sizes, values, least)} | {late} |")


def main(seed: int, sizes: list[int], sighted: bool, top: Path) -> None:
    found = []
    for stations in sizes:
        found.append(_of_size(seed, stations, sighted, top))
        worst = max(found[-1]["stages"].values(), key=lambda stage: stage[2])
        print(
            f"{stations} stations, {found[-1]['readings']} readings, {found[-1]['untied']} not "
            f"tied; longest without a look: {worst[2]:.2f} s from {worst[3]}; load "
            f"{os.getloadavg()[0]:.1f}",
            flush=True,
        )
    columns = (
        ("CPU s", 2, 0.02, sum),
        ("MB", 0, 4.0, max),
        ("CPU s without a look", 2, 0.02, max),
    )
    for at, (title, digits, least, summed) in enumerate(columns):
        rows = {stage: [one["stages"][stage][at] for one in found] for stage in found[0]["stages"]}
        _table(title, sizes, rows, digits, least, summed)
    print("\nLongest without a look, of the largest:")
    for stage, (_, _, deaf, between) in found[-1]["stages"].items():
        if deaf > 0.1:
            print(f"{stage}: {deaf:.2f} s from {between}")


if __name__ == "__main__":
    words = [word for word in sys.argv[1:] if word not in ("sighted", "network")]
    words = [word for word in words if not word.startswith("keep=")]
    kept = [Path(word[5:]) for word in sys.argv[1:] if word.startswith("keep=")]
    with_them = "sighted" in sys.argv
    if words[0] == "simulate":
        simulate(int(words[1]), int(words[2]), Path(words[3]), with_them)
    elif words[0] == "run":
        run(Path(words[1]), Path(words[2]), "network" in sys.argv)
    elif kept:
        kept[0].mkdir(parents=True, exist_ok=True)
        main(int(words[0]), [int(word) for word in words[1:]], with_them, kept[0])
    else:
        with tempfile.TemporaryDirectory() as folder:
            main(int(words[0]), [int(word) for word in words[1:]], with_them, Path(folder))
