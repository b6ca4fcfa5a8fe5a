# SPDX-License-Identifier: GPL-2.0-or-later
"""A job for every algorithm that writes: its parameters, with outputs in a folder of choice.

`Jobs(folder)` makes the inputs once: a survey of four captures of the example, its plan, the layers
of the single steps, and a maintained layer of rooms.
"""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

import shapely

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
EXAMPLE = ROOT / "testdata" / "example"
STATIONS = ("S01", "S02", "S03", "S04")

sys.path.append(str(HERE.parent / "host"))
from building_layers import NEW, OLD, building_file, rooms_file  # noqa: E402

LEVELS = json.dumps(
    {"schema": "roomtie-building-layer", "version": 1, "level": "geschoss", "levels": {"EG": 0}}
)
FIELDS = {"ID_FIELD": "nummer", "PROFILE": LEVELS}
MANY = 300
"""Rooms of the maintained layer, so that an update fills more than one page of the file."""


def _many(rooms):
    """The rooms again and again, side by side."""
    return {
        f"{name}-{number}": shapely.transform(
            shape, lambda xy, at=number: xy + [20.0 * (at % 10), 15.0 * (at // 10)]
        )
        for number in range(MANY // len(OLD))
        for name, shape in rooms.items()
    }


class Jobs:
    def __init__(self, folder: Path, run) -> None:
        """`run(name, parameters)` runs an algorithm and gives its results."""
        self.folder = folder
        self.captures = folder / "captures"
        self.captures.mkdir(parents=True)
        for name in STATIONS:
            shutil.copy(EXAMPLE / "captures" / f"{name}.csv", self.captures)
        made = folder / "made"
        made.mkdir()
        for name in ("importcaptures", "adjuststations", "extractwalls", "buildrooms"):
            run(name, self.parameters(name, made))
        run("planfromcaptures", self.parameters("planfromcaptures", made))
        rooms_file(folder / "rooms.gpkg", _many(NEW))
        building_file(folder / "building.gpkg", _many(OLD))
        run("comparebuildinglayer", self.parameters("comparebuildinglayer", made))

    @property
    def plan(self) -> Path:
        return self.folder / "made" / "plan.gpkg"

    def outputs(self, name: str, to: Path) -> dict[str, str]:
        """The files that an algorithm writes, by parameter."""
        ends = {
            "importcaptures": {
                "STATIONS": "stations.gpkg",
                "READINGS": "readings.gpkg",
                "OUTPUT_HTML": "import.html",
            },
            "adjuststations": {
                "ADJUSTED_STATIONS": "adjusted.gpkg",
                "ADJUSTED_READINGS": "adjusted-readings.gpkg",
                "TIES": "ties.gpkg",
                "TARGETS": "targets.gpkg",
                "NETWORK_COVARIANCE": "covariance.gpkg",
                "OUTPUT_HTML": "adjusted.html",
            },
            "extractwalls": {
                "WALL_FACES": "walls.gpkg",
                "FLAGGED_READINGS": "flagged.gpkg",
                "OUTPUT_HTML": "walls.html",
            },
            "buildrooms": {
                "ROOMS": "built.gpkg",
                "OPENINGS": "openings.gpkg",
                "OUTPUT_HTML": "built.html",
            },
            "comparedistances": {"TAPED_DISTANCES": "taped.gpkg", "OUTPUT_HTML": "taped.html"},
            "planfromcaptures": {"OUTPUT": "plan.gpkg", "REPORT": "plan.html"},
            "georeferenceplan": {"OUTPUT": "placed.gpkg", "OUTPUT_HTML": "placed.html"},
            "exportdrawing": {"OUTPUT": "plan.dxf"},
            "plansheet": {"OUTPUT": "plan.pdf"},
            "exportindoor": {"OUTPUT": "plan.zip", "OUTPUT_HTML": "indoor.html"},
            "comparebuildinglayer": {"CHANGES": "changes.gpkg", "OUTPUT_HTML": "compared.html"},
            "updatebuildinglayer": {"UNDO": "undo.json", "OUTPUT_HTML": "updated.html"},
        }
        return {key: str(to / end) for key, end in ends[name].items()}

    def parameters(self, name: str, to: Path) -> dict[str, object]:
        """Everything that an algorithm is given; what it writes goes to the folder `to`. The
        maintained layer is one there too, and has to be laid there first (`lay`)."""
        made = self.folder / "made"
        network = {
            "STATIONS": str(made / "adjusted.gpkg"),
            "NETWORK_COVARIANCE": str(made / "covariance.gpkg"),
        }
        inputs: dict[str, dict[str, object]] = {
            "importcaptures": {"INPUT": str(self.captures)},
            "planfromcaptures": {
                "INPUT": str(self.captures),
                "TARGET_CRS": "EPSG:32631",
                "PLOT_SCALES": ["1:50"],
            },
            "adjuststations": {
                "STATIONS": str(made / "stations.gpkg"),
                "READINGS": str(made / "readings.gpkg"),
            },
            "extractwalls": {
                **network,
                "READINGS": str(made / "adjusted-readings.gpkg"),
                "PLOT_SCALES": ["1:50"],
            },
            "buildrooms": {
                **network,
                "READINGS": str(made / "flagged.gpkg"),
                "WALL_FACES": str(made / "walls.gpkg"),
            },
            "comparedistances": {
                **network,
                "TAPED": str(self._taped()),
                "READINGS": str(made / "flagged.gpkg"),
                "WALL_FACES": str(made / "walls.gpkg"),
                "TARGETS": str(made / "targets.gpkg"),
            },
            "georeferenceplan": {
                **network,
                "LAYERS": [str(made / "walls.gpkg"), str(made / "built.gpkg")],
                "TARGET_CRS": "EPSG:32631",
            },
            "exportdrawing": {
                "INPUT": str(self.plan),
                "READINGS": True,
                "PLOT_SCALES": ["1:50"],
            },
            "plansheet": {"INPUT": str(self.plan), "PLOT_SCALE": "1:50"},
            "exportindoor": {
                "INPUT": str(self.plan),
                "ADDRESS": "1 Mill Lane",
                "LOCALITY": "Quarrow",
                "COUNTRY": "NL",
            },
            "comparebuildinglayer": {
                "ROOMS": f"{self.folder / 'rooms.gpkg'}|layername=rooms",
                "BUILDING": f"{self.folder / 'building.gpkg'}|layername=raeume",
                **FIELDS,
            },
            "updatebuildinglayer": {
                "CHANGES": str(made / "changes.gpkg"),
                "BUILDING": f"{to / 'building.gpkg'}|layername=raeume",
                "DRY_RUN": False,
                "DATE": "2026-05-04",
                **FIELDS,
            },
        }
        return {**inputs[name], **self.outputs(name, to)}

    def lay(self, name: str, to: Path) -> dict[str, bytes]:
        """Put into the folder what the algorithm changes there; the files of it and what is in
        them."""
        if name == "updatebuildinglayer":
            shutil.copy(self.folder / "building.gpkg", to)
        return contents(to)

    def _taped(self) -> Path:
        path = self.folder / "taped.csv"
        shutil.copy(EXAMPLE / "taped_distances.csv", path)
        rows = path.read_text().splitlines()
        # The targets that four captures see.
        path.write_text("\n".join([rows[0], *rows[2:3]]) + "\n")
        return path


WRITING = (
    *("importcaptures", "adjuststations", "extractwalls", "buildrooms", "comparedistances"),
    *("planfromcaptures", "georeferenceplan", "exportdrawing", "plansheet", "exportindoor"),
    *("comparebuildinglayer", "updatebuildinglayer"),
)


def contents(folder: Path) -> dict[str, bytes]:
    """What files there are in a folder and all below it."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
