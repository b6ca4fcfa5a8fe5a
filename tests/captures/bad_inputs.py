# SPDX-License-Identifier: GPL-2.0-or-later
"""Odd inputs, and the page of help that says what comes of each.

    python tests/captures/bad_inputs.py     writes plugin/help/bad-input.md anew

The table of the page is what the code says of these inputs (test_bad_inputs.py compares).
"""

import json
import os
import sys
from contextlib import nullcontext
from pathlib import Path
from unittest.mock import patch

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "plugin" / "help" / "bad-input.md"
MARK = "<!-- from here on written by tests/captures/bad_inputs.py -->\n"
FOLDER = "captures"

KEYS = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n"
GOOD = KEYS + "angle,distance\n" + "".join(f"{9 * k}.00,{2 + k % 5 / 10:.3f}\n" for k in range(40))
SCAN = {"angle_min": 0.0, "angle_increment": 0.1, "ranges": [2.0, 2.1, 2.2]}


class Case:
    """One input: what it is, how it is put into a folder, and how it is read."""

    def __init__(self, what, files=(), path="", before=None, denied="", **rules):
        self.what, self.files, self.path, self.before = what, dict(files), path, before
        self.denied, self.rules = denied, rules
        self.checked = False

    def put(self, folder):
        """Write the files; the path to read."""
        for name, content in self.files.items():
            data = content if isinstance(content, bytes) else content.encode()
            Path(os.fsdecode(os.path.join(os.fsencode(folder), os.fsencode(name)))).write_bytes(
                data
            )
        if self.before:
            self.before(folder)
        if self.path.startswith("/"):
            return Path(self.path)
        return folder / self.path if self.path else folder

    def said(self, folder):
        """The sentences, with the folder's place left out; the survey where there is one."""
        from reading_only import read_captures
        from roomtie.processing.captures.reading import import_captures
        from roomtie.processing.errors import SurveyError

        path = self.put(folder)
        denied = PermissionError(13, "Permission denied")
        barred = patch(self.denied, side_effect=denied) if self.denied else nullcontext()
        try:
            with barred:
                survey = (import_captures if self.checked else read_captures)(path, **self.rules)
        except SurveyError as error:
            return None, [str(error).replace(str(folder), FOLDER)]
        remarks = (remark.sentence for one in survey.captures for remark in one.remarks)
        return survey, list(dict.fromkeys([*survey.skipped, *survey.warnings, *remarks]))


def text(what, content, name="hall.csv", **rules):
    return Case(what, {name: content}, name, **rules)


def row(what, line, columns="angle,distance"):
    """A bad row after a good one."""
    separator = next(sign for sign in ";,\t" if sign in columns)
    good = separator.join(["1", "2"] + [""] * (columns.count(separator) - 1))
    return text(what, f"{KEYS}{columns}\n{good}\n{line}\n")


def header(what, line):
    """A header with this line, in the place of the good one for the same key."""
    key = line.split(":")[0]
    kept = "".join(part for part in KEYS.splitlines(True) if not part.startswith(f"{key}:"))
    return text(what, f"{line}\n{kept}angle,distance\n0,2\n")


def scan(what, **changes):
    content = {name: value for name, value in {**SCAN, **changes}.items() if value is not ...}
    return Case(what, {"scan.json": json.dumps(content)}, "scan.json")


def landxml(what, old="", new=""):
    """The total station's file of the fuzz run, with one thing changed."""
    from mutations import LANDXML

    assert old in LANDXML
    return Case(what, {"station.xml": LANDXML.replace(old, new) if old else new}, "station.xml")


def checked(what, *files):
    """A case of the import's checks rather than of the readers."""
    case = Case(what, dict(zip(("hall.csv", "attic.csv"), files)))
    case.checked = True
    return case


def room(head="", metre=1.0, turn=360.0):
    """A ring in a room of 4 m by 3 m, with lengths and angles in any units."""
    angle = np.arange(400) * np.pi / 200
    with np.errstate(divide="ignore"):
        distance = np.minimum(2.0 / np.abs(np.sin(angle)), 1.5 / np.abs(np.cos(angle)))
    noise = np.random.default_rng(3).normal(0.0, 0.001, 400)
    lines = [
        f"{a * turn / (2 * np.pi):.4f},{(d + e) * metre:.4f}\n"
        for a, d, e in zip(angle, distance, noise)
    ]
    return head + KEYS + "angle,distance\n" + "".join(lines)


def link(name, to):
    return lambda folder: (folder / name).symlink_to(to)


def sparse(folder):
    with open(folder / "huge.csv", "wb") as stream:
        stream.truncate(2 * 2**30)


def many(folder):
    for number in range(300):
        (folder / f"{number:03}.tmp").touch()
    (folder / "hall.csv").write_text(GOOD)


def loop(folder):
    (folder / "hall.csv").write_text(GOOD)
    (folder / "again").symlink_to(folder)


def groups():
    """The cases by heading. Those of the last two groups are read."""
    from mutations import PROFILE, PROFILED

    return {
        "Files and folders": [
            Case("no such path", path="nowhere"),
            Case("an empty folder"),
            Case("a folder without captures", {"notes.md": "words\n", "plan.pdf": b"%PDF-1.7\n"}),
            Case("an empty file", {"hall.csv": b""}, "hall.csv"),
            Case("blanks and line ends only", {"hall.txt": " \r\n\n"}, "hall.txt"),
            Case(
                "a photograph named as a capture",
                {"hall.csv": b"\xff\xd8\xff\xe0\0\x10JFIF"},
                "hall.csv",
            ),
            Case("a photograph", {"hall.jpg": b"\xff\xd8\xff\xe0\0\x10JFIF"}, "hall.jpg"),
            Case(
                "a file of which a loss of power left noughts",
                {"hall.csv": GOOD.encode() + bytes(99)},
                "hall.csv",
            ),
            Case("a text of words", {"hall.txt": "A letter.\n"}, "hall.txt"),
            Case("a sparse file of 2 GiB", path="huge.csv", before=sparse),
            Case("a link to itself", path="hall.csv", before=link("hall.csv", "hall.csv")),
            Case("a link to nowhere", path="hall.csv", before=link("hall.csv", "gone.csv")),
            Case(
                "a pipe that nobody writes to",
                path="hall.csv",
                before=lambda folder: os.mkfifo(folder / "hall.csv"),
            ),
            Case("a device that never ends", path="/dev/zero"),
            Case("a file that one may not read", {"hall.csv": GOOD}, "hall.csv", denied="os.open"),
            Case("a folder that one may not read", {"hall.csv": GOOD}, denied="os.scandir"),
            Case(
                "a bad file whose name has quotes, spaces and letters of any script",
                {"Küche 'süd' \"厨房\" مطبخ.csv": KEYS},
                "Küche 'süd' \"厨房\" مطبخ.csv",
            ),
            Case("a bad file whose name is no text", {b"caf\xe9\n.csv": KEYS}),
            Case("one file under two names", {"a.csv": GOOD, "b.csv": GOOD}),
            Case(
                "a station's name used twice",
                {
                    "a.csv": "# station: Hall\n" + GOOD,
                    "b.csv": "# station: Hall\n" + GOOD + "360,2\n",
                },
            ),
        ],
        "Capture text: encoding, column names": [
            text("UTF-16 cut off", GOOD.encode("utf-16")[:-1]),
            text("UTF-32", GOOD.encode("utf-32")),
            text("no row of column names", KEYS + "1,2\n"),
            text("a misspelt column", KEYS + "angel,distance\n1,2\n"),
            text("columns apart by blanks", KEYS + "angle distance\n1 2\n"),
            text("a column twice", KEYS + "angle,distance,angle\n1,2,3\n"),
            text("column names and nothing else", KEYS + "angle,distance\n"),
            text("a unit against its key", KEYS + "angle [gon],distance\n1,2\n"),
            text("an unknown unit", KEYS + "angle,distance [yd]\n1,2\n"),
        ],
        "Capture text: header": [
            text("no unit of the angle", GOOD.replace("# angle_unit: deg\n", "")),
            text("a misspelt key", GOOD.replace("rotation", "rotations")),
            text("a key twice", "# level: 0\n# level: 1\n" + GOOD),
            header("an unknown unit of the angle", "# angle_unit: grad"),
            header("an unknown unit of the distance", "# distance_unit: yd"),
            header("another word for the rotation", "# rotation: left"),
            header("a storey's name", "# level: first"),
            header("a date of another form", "# captured_at: 18.03.2026"),
            header("a day that there is not", "# captured_at: 2026-02-30"),
            header("a bearing in gon", "# magnetic_azimuth_deg: 399.5"),
            header("a latitude beyond the pole", "# latitude_deg: 90.1"),
            header("an error of nought", "# distance_sigma_mm: 0"),
            header("a beam far beside the axis", "# axis_eccentricity_mm: 350"),
            header("a scale in no parts per million", "# angle_scale_ppm: 1:5000"),
            header("neither yes nor no", "# moved: perhaps"),
        ],
        "Capture text: rows": [
            row("a word for a distance", "2,far"),
            row("a negative distance", "2,-1"),
            row("not a number", "2,nan"),
            row("infinite", "2,inf"),
            row("beyond all numbers", "2,1e999"),
            row("a word for an angle", "north,2"),
            row("no angle", ",2"),
            row("more than a turn", "400.5,2"),
            row("gon read as degrees", "399,2"),
            row("decimal commas between commas", "2,5,2,25"),
            row("a decimal comma in quotes", '2,"2,25"'),
            row("a sign between thousands", "2;1.234,5", "angle;distance"),
            row("a unit in the cell", "2,2.25 m"),
            row("minutes and seconds", "12°30'00\",2.25"),
            row("digits of another script", "2,٢"),
            row("too few values", "2"),
            row("too many values", "2,3,4"),
            row("another separator", "2,3", "angle;distance"),
            row("a quote that does not end", '2,3,"T1', "angle,distance,target"),
            row("beyond the nadir", "2,3,181", "angle,distance,zenith"),
            row("an unknown kind", "2,3,wall,", "angle,distance,kind,target"),
            row("a target without a name", "2,3,target,", "angle,distance,kind,target"),
            text(
                "a file that ends within a row",
                KEYS + "angle,distance,kind\n1,2.000,ring\n2,2.000,ring\n3,2.0",
            ),
            text("bytes within the rows that no text has", GOOD[:-20] + "\x01\x02" + GOOD[-20:]),
        ],
        "Laser scan JSON": [
            Case("cut off", {"scan.json": json.dumps(SCAN)[:-9]}, "scan.json"),
            Case("broken", {"scan.json": '{"angle_min": 0,\n "ranges": [1,}'}, "scan.json"),
            Case("nested without end", {"scan.json": '{"ranges": ' + "[" * 99_999}, "scan.json"),
            Case("not UTF-8", {"scan.json": b'{"ranges": "\xff"}'}, "scan.json"),
            Case("one scan a line", {"scan.json": f"{json.dumps(SCAN)}\n" * 2}, "scan.json"),
            Case("a key twice", {"scan.json": '{"ranges": [1], "ranges": [2]}'}, "scan.json"),
            Case("lists within the list", {"scan.json": json.dumps([[SCAN]])}, "scan.json"),
            Case(
                "the second scan is bad",
                {"scan.json": json.dumps([SCAN, {**SCAN, "ranges": [-1]}])},
                "scan.json",
            ),
            scan("no ranges", ranges=...),
            scan("no first angle", angle_min=...),
            scan("an increment in degrees", angle_increment=45),
            scan("no increment", angle_increment=0),
            scan("a number as text", ranges=[2.0, "2.1"]),
            scan("a negative range", ranges=[2.0, -2.1]),
            scan("a limit as text", range_max="30"),
            scan("a unit that a scan has not", capture={"angle_unit": "deg"}),
            scan("a list for a name", capture={"station": ["A"]}),
            scan("a storey's name", capture={"level": "first"}),
        ],
        "LandXML": [
            landxml("cut off", "</Survey>\n</LandXML>\n"),
            landxml("broken", "<Units>", "<Units"),
            landxml(
                "entities that multiply",
                "<LandXML ",
                '<!DOCTYPE l [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]>\n<LandXML ',
            ),
            landxml("no units", "Units>", "Unit>"),
            landxml("an unknown unit of length", '"meter"', '"ell"'),
            landxml(
                "an unknown unit of angle", 'angularUnit="decimal dd.mm.ss"', 'angularUnit="mil"'
            ),
            landxml("seconds beyond 60", '"45.3015"', '"45.3075"'),
            landxml("more than a turn", '"45.3015"', '"445.3015"'),
            landxml("a word for a distance", '"4.321"', '"far"'),
            landxml("a negative distance", '"4.321"', '"-4.321"'),
            landxml("a distance that cannot be reduced", 'zenithAngle="88.1530"', ""),
            landxml("the face against the zenith angle", 'directFace="false"', 'directFace="true"'),
            landxml("no target", '<TargetPoint name="T1"/>', ""),
            landxml("no observations", "RawObservation", "Observation"),
            landxml("a point that is no point", "110.0 200.0 5.0</CgPoint>", "110.0</CgPoint>"),
        ],
        "Text that a profile describes": [
            Case("no profile fits", {"logger.dat": PROFILED}, "logger.dat"),
            Case(
                "another number of columns than the profile's",
                {"logger.dat": PROFILED.replace("\n", ";1\n").replace(";", "\t")},
                "logger.dat",
                profile=PROFILE,
            ),
            Case(
                "another unit than the profile's",
                {"logger.dat": PROFILED.replace(";25", ";2,5")},
                "logger.dat",
                profiles=(PROFILE,),
            ),
        ],
        READ: [
            text("UTF-16", GOOD.encode("utf-16")),
            text("Latin-1", "# comment: Küche\n".encode("latin-1") + GOOD.encode()),
            text("Windows-1252", "# comment: 5 €\n".encode("cp1252") + GOOD.encode()),
            text(
                "line ends of Windows, byte-order mark, end-of-file sign",
                "\ufeff" + GOOD.replace("\n", "\r\n") + "\x1a",
            ),
            text(
                "saved by a spreadsheet: lines quoted and padded, the separator named",
                'sep=,\n"# comment: a, b"\n' + GOOD + ",\n,\n",
            ),
            text(
                "units in the column names",
                "# rotation: clockwise\ndistance (mm);angle [gon]\n"
                + "".join(f"{2000 + k % 5 * 100};{10 * k},0\n" for k in range(40)),
            ),
            text("a parameter against the file", GOOD, angle_unit="gon"),
            text("a key that nobody knows", "# magnetic_azimut_deg: 12\n" + GOOD),
            text("half a geotag", "# latitude_deg: 46\n" + GOOD),
            text(
                "columns that nobody knows",
                KEYS + "angle,distance,colour,\n" + "1,2,red,7\n" * 40,
            ),
            text("a last row that may be cut off", GOOD[:-3]),
            Case(
                "names with spaces, quotes and letters of any script",
                {
                    "Küche 'süd'.csv": GOOD,
                    '厨房 "2".csv': GOOD + "360,2\n",
                    "مطبخ.csv": GOOD + "360,3\n",
                },
            ),
            Case("a name that is no text", {b"caf\xe9\n.csv": GOOD}),
            Case("a folder that leads back into itself", before=loop),
            Case("a folder of 300 other files", before=many),
            Case(
                "another file in the folder", {"hall.csv": GOOD, "control.csv": "name,east\nP,1\n"}
            ),
            Case(
                "a bad file, skipped", {"hall.csv": GOOD, "hall 2.csv": KEYS}, skip_unreadable=True
            ),
            Case("a bad row, skipped", {"hall.csv": GOOD + "360,far\n"}, skip_unreadable=True),
            scan(
                "no return, in each way of writing it",
                ranges=[float("inf"), float("nan"), None, 2.0],
            ),
            scan("intensities that do not fit", intensities=[1]),
        ],
        REMARKED: [
            checked("millimetres said to be metres", room(metre=1000.0)),
            checked("radians said to be degrees", room(turn=2 * np.pi)),
            checked("one capture under two names", room(), room("# level: 1\n")),
            checked("a tilted instrument", room("# tilt_deg: 3\n")),
            checked("an instrument that was moved", room("# moved: yes\n")),
            checked("a compass that was not calibrated", room("# compass_calibrated: no\n")),
        ],
    }


READ = "Read all the same"
REMARKED = "Read and remarked upon"


def table(folder):
    """The page's table; `folder` is an empty one to work in."""
    lines = []
    for number, (title, cases) in enumerate(groups().items()):
        lines += ["", f"## {title}", "", "| input | what is said |", "| --- | --- |"]
        for place, case in enumerate(cases):
            own = folder / f"{number}-{place}"
            own.mkdir()
            _, said = case.said(own)
            lines.append(f"| {case.what} | {'<br>'.join(map(_code, said)) or 'nothing'} |")
    return "\n".join(lines) + "\n"


def _code(sentence):
    return "`" + sentence.replace("|", r"\|").replace("`", "'") + "`"


def write(folder):
    before = PAGE.read_text(encoding="utf-8").split(MARK)[0]
    PAGE.write_text(before + MARK + table(folder), encoding="utf-8")


if __name__ == "__main__":
    import importlib.util
    import tempfile

    spec = importlib.util.spec_from_file_location("conftest", ROOT / "tests" / "conftest.py")
    spec.loader.exec_module(importlib.util.module_from_spec(spec))
    sys.path.insert(0, str(Path(__file__).parent))
    with tempfile.TemporaryDirectory() as folder:
        write(Path(folder))
