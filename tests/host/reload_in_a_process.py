# SPDX-License-Identifier: GPL-2.0-or-later
"""Reloads the layers of a plan that another program goes on changing, as the window does, while
other threads read the same file, to be waited for from outside: a lock would stop this process.

Usage: reload_in_a_process.py ROOT PLAN
"""

import importlib.util
import sys
import threading
from pathlib import Path

root, plan = sys.argv[1:]
spec = importlib.util.spec_from_file_location(
    "roomtie", f"{root}/__init__.py", submodule_search_locations=[root]
)
sys.modules["roomtie"] = importlib.util.module_from_spec(spec)
sys.path.append(f"{root}/tests/host")

from qgis.core import QgsApplication  # noqa: E402

host = QgsApplication([], True)
host.initQgis()

from reviewed_plan import change, load_plan, spin  # noqa: E402
from roomtie.plugin.review_plans import LayerSource  # noqa: E402

ROUNDS = 25
layers = [layer for parts in load_plan(Path(plan)).values() for layer in parts]
over = threading.Event()
done = {"readings": 0, "ties": 0, "rooms": 0}


def look(name: str) -> None:
    while not over.is_set():
        for feature in LayerSource(f"{plan}|layername={name}").open().getFeatures():
            assert feature.isValid()
            break
        done[name] += 1


threads = [threading.Thread(target=look, args=(name,), daemon=True) for name in done]
for thread in threads:
    thread.start()
for _ in range(ROUNDS):
    change(plan, "UPDATE stations SET used = used - 1")
    for layer in layers:
        layer.reload()
        spin()
over.set()
for thread in threads:
    thread.join()
print(*done.values(), flush=True)
