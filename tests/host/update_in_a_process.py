# SPDX-License-Identifier: GPL-2.0-or-later
"""Updates every room of a maintained table in one transaction, to be killed in the middle.

Usage: update_in_a_process.py ROOT gpkg PATH | ROOT postgres CONNECTION
"""

import importlib.util
import sys
from pathlib import Path

root, kind, place = sys.argv[1:]
spec = importlib.util.spec_from_file_location(
    "roomtie", f"{root}/__init__.py", submodule_search_locations=[root]
)
sys.modules["roomtie"] = importlib.util.module_from_spec(spec)

import shapely  # noqa: E402
from roomtie.processing.layers.maintained.edits import Edit, Editor, Rules  # noqa: E402

if kind == "gpkg":
    from roomtie.processing.layers.maintained.geopackage import GeoPackageSession

    session = GeoPackageSession(Path(place), "raeume")
else:
    from roomtie.processing.layers.maintained.postgres import PostgresSession

    session = PostgresSession(place, "public", "raeume", "geom")

names = [str(row[0]) for row in session.rows("SELECT nummer FROM raeume ORDER BY nummer")]
shape = shapely.multipolygons([shapely.box(0, 0, 9, 9)])
wkb = shapely.to_wkb(shape, byte_order=1, flavor="iso")
last = names[-5:]
edits = [Edit("supersede", name, None, {}) for name in last]
edits += [Edit("replace", name, wkb, {"nutzung": "neu"}) for name in names[:-5]]
edits += [Edit("insert", f"{name}-2", wkb, {}, name) for name in names[:20]]
print("ready", flush=True)
with session.transaction(names, "nummer"):
    editor = Editor(session, Rules("nummer", "2026-05-04", "test", ""))
    editor.make(edits)
print("done", flush=True)
session.close()
