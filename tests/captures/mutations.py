# SPDX-License-Identifier: GPL-2.0-or-later
"""Valid capture files of every reader, and what may happen to a file on its way."""

import json
import random
from dataclasses import replace

from roomtie.processing.captures.profile import Profile
from roomtie.processing.captures.profile_look import look_of

_HEADER = """# station: Küche 2
# level: -1
# captured_at: 2026-03-18T09:05:07+01:00
# angle_unit: deg
# distance_unit: m
# rotation: clockwise
# magnetic_azimuth_deg: 319.4
# longitude_deg: 14.505789
# latitude_deg: 46.051112
# tilt_deg: 0.4
# moved: no
# distance_zero_mm: 12
# comment: door: half open
"""

_RING = "".join(f"{4.5 * k:.3f},{2.5 + 0.01 * (k % 7):.4f},ring,,{k}\n" for k in range(80))

CAPTURE_TEXT = (
    _HEADER
    + "angle,distance,kind,target,intensity\n"
    + _RING
    + '12.5,2.75,target,"T 1, left",3\n12.6,2.75,surface,"T 1, left",\n'
)

DECIMAL_COMMA = "sep=;\r\n# rotation: counterclockwise\r\n" + (
    "Zenith (deg);Distance [mm];Angle [gon]\r\n"
    + "".join(f"{89 + k % 3},5;{2000 + 11 * k},25;{5 * k},0\r\n" for k in range(60))
)

TWO_CAPTURES = "".join(
    f"# station: S{n}\n# angle_unit: rad\n# distance_unit: ft\n# rotation: clockwise\n"
    "angle\tdistance\n" + "".join(f"{0.1 * k:.4f}\t{8 + n + 0.1 * k:.2f}\n" for k in range(60))
    for n in range(2)
)

_SCAN = {
    "angle_min": -3.1,
    "angle_max": 3.1,
    "angle_increment": 0.1,
    "range_min": 0.1,
    "range_max": 30.0,
    "ranges": [2.0 + 0.01 * k for k in range(60)] + [None, float("inf"), float("nan")],
    "intensities": list(range(63)),
    "capture": {"station": "Hall", "level": 1, "moved": False, "magnetic_azimuth_deg": 12.5},
}

LANDXML = """<?xml version="1.0" encoding="UTF-8"?>
<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2" date="2026-03-18"
 time="09:00:00">
 <Units><Metric linearUnit="meter" areaUnit="squareMeter" volumeUnit="cubicMeter"
  temperatureUnit="celsius" pressureUnit="HPA" angularUnit="decimal dd.mm.ss"
  directionUnit="decimal dd.mm.ss"/></Units>
 <CgPoints><CgPoint name="P1">100.0 200.0 5.0</CgPoint><CgPoint name="P2">110.0 200.0 5.0</CgPoint>
 </CgPoints>
 <Survey>
  <SurveyHeader name="rooms"/>
  <InstrumentSetup id="i1" stationName="P1" instrumentHeight="1.5">
   <InstrumentPoint pntRef="P1"/>
   <Backsight targetHeight="1.5" circle="0.0"><BacksightPoint pntRef="P2"/></Backsight>
   <RawObservation targetHeight="1.5" horizAngle="0.0000" slopeDistance="10.0" zenithAngle="90.0"
    directFace="true"><TargetPoint name="P2">110.0 200.0 5.0</TargetPoint></RawObservation>
   <RawObservation targetHeight="1.5" horizAngle="180.0002" slopeDistance="10.001"
    zenithAngle="269.5959" directFace="false"><TargetPoint name="P2"/></RawObservation>
   <RawObservation horizAngle="45.3015" slopeDistance="4.321" zenithAngle="88.1530">
    <TargetPoint name="T1"/></RawObservation>
  </InstrumentSetup>
 </Survey>
</LandXML>
"""

PROFILED = "".join(f"{n};{4.5 * n:.2f};{2500 + n}\n".replace(".", ",") for n in range(80))

_PROFILE = Profile(
    name="logger",
    columns=("", "angle", "distance"),
    angle_unit="deg",
    distance_unit="mm",
    rotation="clockwise",
    separator="semicolon",
    decimal_comma=True,
)

PROFILE = replace(_PROFILE, look=look_of(PROFILED.encode(), _PROFILE))

SEEDS = {
    "text.csv": CAPTURE_TEXT.encode(),
    "latin.csv": CAPTURE_TEXT.encode("latin-1"),
    "utf16.txt": CAPTURE_TEXT.encode("utf-16"),
    "comma.csv": DECIMAL_COMMA.encode("utf-8-sig"),
    "two.txt": TWO_CAPTURES.encode(),
    "scan.json": json.dumps(_SCAN).encode(),
    "scans.json": json.dumps([_SCAN, {**_SCAN, "capture": {"station": "B"}}], indent=1).encode(),
    "station.xml": LANDXML.encode(),
    "logger.dat": PROFILED.encode(),
}
"""A valid file of each kind, by name."""

_WORDS = r"""
nan inf -inf NaN Infinity 1e999 -1e999 1e308 -0 0 -1 -360 360 400 1e-320 1_000 0x10 --1 +- . , ;
1,5 1.234,5 1234 ١٢ ½ − null true false [] {} " ' "" # : :: ## angle,distance angle;distance
station: level: angle_unit: gon rad mm ft kind ring target surface <a> </a> <!-- ]]> &amp; &lol;
<!DOCTYPE \ud800 \u0000 é 名 dd.mm.ss directFace="maybe" pntRef="P9"
"""
TOKENS = [*_WORDS.split(), "", "\u2028", "\ufeff"]
"""Words that may stand where another belongs."""

_CONTROL_SIGNS = bytes([*range(32), 127, 128, 133, 160, 255])


def truncate(data, rng):
    return data[: rng.randrange(len(data) + 1)]


def flip(data, rng):
    out = bytearray(data)
    for _ in range(rng.randint(1, 8)):
        if out:
            out[rng.randrange(len(out))] ^= 1 << rng.randrange(8)
    return bytes(out)


def splice(data, rng):
    other = rng.choice(list(SEEDS.values()))
    start, end = sorted(rng.randrange(len(other) + 1) for _ in range(2))
    at = rng.randrange(len(data) + 1)
    return data[:at] + other[start:end] + data[at + rng.choice((0, end - start)) :]


def cut_out(data, rng):
    start = rng.randrange(len(data) + 1)
    return data[:start] + data[start + rng.randrange(1, 200) :]


def _with_lines(change):
    def mutated(data, rng):
        lines = data.split(b"\n")
        change(lines, rng)
        return b"\n".join(lines)

    mutated.__name__ = change.__name__
    return mutated


@_with_lines
def duplicate_lines(lines, rng):
    at = rng.randrange(len(lines))
    lines[at:at] = lines[at : at + rng.randint(1, 5)] * rng.randint(1, 40)


@_with_lines
def delete_lines(lines, rng):
    at = rng.randrange(len(lines))
    del lines[at : at + rng.randint(1, 5)]


@_with_lines
def shuffle_lines(lines, rng):
    rng.shuffle(lines)


def swap_separators(data, rng):
    old, new = rng.sample([b",", b";", b"\t", b".", b" ", b"|", b":"], 2)
    return data.replace(old, new)


def change_line_ends(data, rng):
    return data.replace(b"\n", rng.choice([b"\r", b"\r\n", b"\n\n", b"\r\r\n", b"\x0b", b" "]))


def insert_control_signs(data, rng):
    return _insert(data, rng, bytes(rng.choices(_CONTROL_SIGNS, k=rng.randint(1, 4))))


def insert_bytes(data, rng):
    return _insert(data, rng, rng.randbytes(rng.randint(1, 20)))


def insert_token(data, rng):
    return _insert(data, rng, rng.choice(TOKENS).encode())


def replace_value(data, rng):
    """Put an odd word in the place of one between two separators."""
    start = rng.randrange(len(data) + 1)
    while start and data[start - 1] not in b',;\t\n: "[>':
        start -= 1
    end = start
    while end < len(data) and data[end] not in b',;\t\r\n "]<':
        end += 1
    return data[:start] + rng.choice(TOKENS).encode() + data[end:]


def nest_deep(data, rng):
    opening = rng.choice([b"[", b'{"a":', b"<a>", b'"', b"(", b"#", b"# ", b",", b"-", b"1", b" "])
    return _insert(data, rng, opening * rng.choice([10, 1000, 20_000]))


def encode_otherwise(data, rng):
    text = data.decode("utf-8", errors="replace")
    codec = rng.choice(["utf-16", "utf-16-le", "utf-32", "utf-8-sig", "latin-1", "cp1252", "utf-7"])
    return text.encode(codec, errors="replace")


def pad_with_noughts(data, rng):
    return data + bytes(rng.randint(1, 5000))


def _insert(data, rng, what):
    at = rng.randrange(len(data) + 1)
    return data[:at] + what + data[at:]


# What makes a file binary is tried less often: it is refused before its content is looked at.
MUTATIONS = {
    truncate: 2,
    flip: 1,
    splice: 2,
    cut_out: 2,
    duplicate_lines: 2,
    delete_lines: 2,
    shuffle_lines: 1,
    swap_separators: 1,
    change_line_ends: 1,
    insert_control_signs: 1,
    insert_bytes: 1,
    insert_token: 4,
    replace_value: 8,
    nest_deep: 1,
    encode_otherwise: 1,
    pad_with_noughts: 0.2,
}
"""How often each mutation is taken."""


def mutated(data, seed, most=4):
    """The data after some mutations, always the same for a seed; and the names of the mutations."""
    rng = random.Random(seed)
    chosen = rng.choices(list(MUTATIONS), MUTATIONS.values(), k=rng.randint(1, most))
    for mutation in chosen:
        data = mutation(data, rng)
    return data, [mutation.__name__ for mutation in chosen]
