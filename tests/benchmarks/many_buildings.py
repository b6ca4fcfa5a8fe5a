# SPDX-License-Identifier: GPL-2.0-or-later
"""A tree of small surveys through the command, against the plain way: xargs over the same calls.

    python tests/benchmarks/many_buildings.py [COUNT] [COMPARED]

COUNT (100) buildings by one call of the command, two processes at once, into a PostGIS schema of a
server of its own; then the same again; then COMPARED (20) of them in turns of five, once by GNU
`xargs -P 2` with qgis_process and once by the command, each time from nothing. Wall times depend on
what else the machine does: the load is printed, what counts is the ratio.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import sysconfig
import tempfile
import time
from pathlib import Path

TESTS = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TESTS / "benchmarks"), str(TESTS / "host")]
from many_surveys import write_tree  # noqa: E402
from postgis_server import Server  # noqa: E402

OPTIONS = {"TARGET_CRS": "EPSG:32631", "PLOT_SCALES": "1:50"}
TURN = 5


def measured(words, environment) -> tuple[float, float]:
    """Wall and CPU seconds of a call with all its children."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.monotonic()
    subprocess.run(words, env=environment, check=True, stdout=subprocess.DEVNULL, cwd="/")
    wall = time.monotonic() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main(count: int, compared: int) -> None:
    top = Path(tempfile.mkdtemp(prefix="many."))
    packages = top / "profiles" / "default" / "python" / "plugins"
    packages.mkdir(parents=True)
    (packages / "roomtie").symlink_to(TESTS.parent)
    host = shutil.which("qgis_process.bin") or shutil.which("qgis_process")
    environment = {
        **os.environ,
        "PATH": "/usr/local/bin:/usr/bin:/bin",
        "PYTHONPATH": os.pathsep.join([str(packages), sysconfig.get_path("purelib")]),
        "QGIS_CUSTOM_CONFIG_PATH": str(top),
        "QT_QPA_PLATFORM": "offscreen",
        "OMP_NUM_THREADS": "1",
        "XDG_RUNTIME_DIR": str(top),
    }
    subprocess.run([host, "plugins", "enable", "roomtie"], env=environment, capture_output=True)
    write_tree(top / "surveys", count)
    options = [word for pair in OPTIONS.items() for word in ("--set", "=".join(pair))]

    def command(surveys, results, *more):
        module = [sys.executable, "-m", "roomtie.processing.many"]
        return [*module, str(surveys), str(results), "--jobs", "2", *options, *more]

    server = Server()
    try:
        server.sql("CREATE EXTENSION postgis")
        into = ("--postgis", server.connection, "--schema", "surveys")
        print(f"load before: {os.getloadavg()[0]:.1f}")
        wall, cpu = measured(command(top / "surveys", top / "results", *into), environment)
        print(f"{count} buildings: {wall:.1f} s, CPU {cpu:.1f} s; load {os.getloadavg()[0]:.1f}")
        wall, cpu = measured(command(top / "surveys", top / "results", *into), environment)
        print(f"the same again: {wall:.2f} s, CPU {cpu:.2f} s")
        ((buildings,),) = server.sql("SELECT count(*) FROM surveys.buildings")
        rows = [server.sql(f"SELECT count(*) FROM surveys.{table}")[0][0] for table in (
            "rooms", "wall_faces", "openings", "stations")]  # fmt: skip
        print(f"in the schema: {buildings} buildings; rooms, faces, openings, stations: {rows}")
    finally:
        server.stop()
    folders = sorted((top / "surveys").glob("*/*"))[:compared]
    totals = {"xargs": [0.0, 0.0], "command": [0.0, 0.0]}
    for number in range(0, len(folders), TURN):
        turn = top / f"turn {number}"
        for folder in folders[number : number + TURN]:
            shutil.copytree(folder, turn / "surveys" / folder.name)
            (turn / "plain" / folder.name).mkdir(parents=True)
        listed = "\n".join(folder.name for folder in folders[number : number + TURN])
        (turn / "list").write_text(listed + "\n")
        settings = [f"{name}={value}" for name, value in OPTIONS.items()]
        plain = [
            *("xargs", "-a", str(turn / "list"), "-P", "2", "-I", "{}"),
            *(host, "run", "roomtie:planfromcaptures", "--", *settings),
            f"INPUT={turn}/surveys/{{}}/captures",
            f"OUTPUT={turn}/plain/{{}}/plan.gpkg",
            f"REPORT={turn}/plain/{{}}/plan.html",
        ]
        for name, words in (("xargs", plain), ("command", command(turn / "surveys", turn / "own"))):
            for at, value in enumerate(measured(words, environment)):
                totals[name][at] += value
    for name, (wall, cpu) in totals.items():
        print(f"{name}: {len(folders)} buildings, {wall:.1f} s, CPU {cpu:.1f} s")
    wall, cpu = (totals["command"][i] / totals["xargs"][i] for i in (0, 1))
    print(f"ratio: {wall:.2f} of the wall time, {cpu:.2f} of the CPU time; load {os.getloadavg()}")
    shutil.rmtree(top, ignore_errors=True)


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    main(*[*given, *(100, 20)[len(given) :]])
