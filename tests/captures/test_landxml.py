# SPDX-License-Identifier: GPL-2.0-or-later
"""LandXML 1.2 from a total station: what is read, in which units, and how set-ups are oriented."""

from math import cos, radians, sin

import numpy as np
import pytest
from landxml_files import NAMESPACE, Shot, Stand, cg_point, landxml, length
from reading_only import read_captures
from roomtie.processing.captures.findings import Findings
from roomtie.processing.captures.landxml import KEPT, ROOT, is_landxml, read_landxml
from roomtie.processing.captures.landxml_tree import parse_tree
from roomtie.processing.captures.model import Flag, Kind
from roomtie.processing.captures.readers import LANDXML, reader_of
from roomtie.processing.captures.reading import import_captures

SHOTS = (Shot("T1", 30.5, 85.0, 4.0), Shot("T2", 120.25, 95.0, 3.0, height=0.2))
PLAIN = Stand("s1", "TS1", SHOTS)


def read(text, **rules):
    data = text if isinstance(text, bytes) else text.encode()
    return read_landxml(data, name="t.xml", **rules)


def only(text):
    (capture,) = read(text).captures
    return capture


def remark(capture, check):
    return next(r for r in capture.remarks if r.check == check)


def test_a_setup_is_a_capture_of_target_readings():
    capture = only(landxml([PLAIN]))
    assert capture.station == "TS1"
    assert capture.capture_file == "t.xml"
    assert capture.target.tolist() == ["T1", "T2"]
    assert (capture.kind == Kind.TARGET).all()
    assert (capture.flag == Flag.USABLE).all()
    assert capture.angle_deg == pytest.approx([30.5, 120.25], abs=1e-9)
    assert capture.zenith_deg == pytest.approx([85, 95], abs=1e-9)
    assert capture.slope_distance_m == pytest.approx([4, 3], abs=1e-9)
    expected = [4 * sin(radians(85)), 3 * sin(radians(95))]
    assert capture.distance_m == pytest.approx(expected, abs=1e-9)
    assert capture.instrument_height_m == 1.5
    assert capture.seq.tolist() == [1, 2]
    assert capture.line[0] < capture.line[1]
    assert capture.level == 0


def test_line_numbers_are_those_of_the_file():
    text = landxml([PLAIN])
    lines = [n for n, line in enumerate(text.splitlines(), 1) if line.startswith("<RawObs")]
    assert only(text).line.tolist() == lines


def test_heights_of_targets_are_told():
    # 1.5 m over the point, up 4 cos 85 and down 3 cos 95, the second target 0.2 m over its own.
    told = only(landxml([PLAIN])).other["heights of targets above the set-up's point"]
    low = 1.5 + 3 * cos(radians(95)) - 0.2
    assert told == f"T1 {1.5 + 4 * cos(radians(85)):.3f} m and T2 {low:.3f} m"


@pytest.mark.parametrize("angular", ["radians", "grads", "decimal degrees", "decimal dd.mm.ss"])
@pytest.mark.parametrize(
    "linear",
    ["millimeter", "centimeter", "meter", "kilometer", "foot", "USSurveyFoot", "inch", "mile"],
)
def test_all_units_of_the_schema(linear, angular):
    capture = only(landxml([PLAIN], linear, angular))
    assert capture.angle_deg == pytest.approx([30.5, 120.25], abs=1e-8)
    assert capture.slope_distance_m == pytest.approx([4, 3], abs=1e-8)
    assert capture.instrument_height_m == pytest.approx(1.5, abs=1e-9)


def test_the_us_survey_foot_is_not_the_foot():
    assert float(length(1200.0, "USSurveyFoot")) == 3937.0
    text = landxml([PLAIN], "foot").replace('linearUnit="foot"', 'linearUnit="USSurveyFoot"')
    ratio = only(text).slope_distance_m / np.array([4.0, 3.0])
    assert ratio == pytest.approx([1200 / 3937 / 0.3048] * 2, abs=1e-11)


@pytest.mark.parametrize(
    ("written", "degrees"),
    [
        # LandXML-1.2 gives the first two: "45.3025" is 45 degrees 30 minutes and 25 seconds.
        ("45.3025", 45 + 30 / 60 + 25 / 3600),
        ("45.3025123", 45 + 30 / 60 + 25.123 / 3600),
        ("45.3015", 45 + 30 / 60 + 15 / 3600),
        ("302.504", 302 + 50 / 60 + 40 / 3600),  # a nought at the end is often not written
        ("45.3", 45.5),
        ("45", 45.0),
        ("45.", 45.0),
        ("0.0001", 1 / 3600),
        ("45.30", 45.5),
        ("45.29999999999999", 45.5),  # as a binary number prints that was meant as 45.30
        ("45.300000000000004", 45.5),
        ("129.5959", 129 + 59 / 60 + 59 / 3600),
        ("4.53015e1", 45 + 30 / 60 + 15 / 3600),
    ],
)
def test_degrees_minutes_and_seconds(written, degrees):
    text = landxml([Stand("s", "S", (Shot("T", 30.5, 90.0, 4.0),))], "meter", "decimal dd.mm.ss")
    text = text.replace('horizAngle="30.3000000000"', f'horizAngle="{written}"')
    assert only(text).angle_deg[0] == pytest.approx(degrees, abs=1e-9)


def test_units_of_directions_are_their_own():
    inside = '<Backsight azimuth="100" circle="10"/>'
    stand = Stand("s", "S", SHOTS, inside=inside)
    capture = only(landxml([stand], direction="grads"))
    assert capture.angle_deg == pytest.approx([30.5 + 80, 120.25 + 80])


def test_radians_are_the_default_and_it_is_said_where_they_are_not_meant():
    text = landxml([PLAIN]).replace('directionUnit="decimal degrees"', "")
    assert any("directionUnit is missing" in sentence for sentence in read(text).warnings)
    radian = landxml([PLAIN], angular="radians")
    for word in ('directionUnit="radians"', 'angularUnit="radians"'):
        radian = radian.replace(word, "")
    assert only(radian).angle_deg == pytest.approx([30.5, 120.25])


PREFIXED = (
    landxml([PLAIN])
    .replace("<", "<lx:")
    .replace("<lx:/", "</lx:")
    .replace("<lx:?", "<?")
    .replace("xmlns=", "xmlns:lx=")
)


@pytest.mark.parametrize(
    "text",
    [
        PREFIXED,
        landxml([PLAIN]).replace(NAMESPACE, "http://www.landxml.org/schema/LandXML-1.1"),
        landxml([PLAIN]).replace(f' xmlns="{NAMESPACE}"', ""),
        landxml([PLAIN]).replace("<LandXML", "<!-- a <Note/> -->\n<?page 1?>\n<LandXML"),
        landxml([PLAIN]).replace("<LandXML", '<!DOCTYPE LandXML SYSTEM "x.dtd">\n<LandXML'),
        landxml([PLAIN], declaration=""),
    ],
)
def test_prefix_namespace_and_prolog_do_not_matter(text):
    assert is_landxml(text.encode())
    assert only(text).target.tolist() == ["T1", "T2"]


@pytest.mark.parametrize(
    ("declared", "encoding"),
    [
        ("UTF-8", "utf-8"),
        ("UTF-8", "utf-8-sig"),
        ("UTF-16", "utf-16"),
        ("UTF-16", "utf-16-le"),
        ("UTF-16", "utf-16-be"),
        ("ISO-8859-1", "latin-1"),
        ("windows-1252", "cp1252"),
        ("UTF-32", "utf-32"),
    ],
)
def test_encodings(declared, encoding):
    text = landxml(
        [Stand("s", "Küche", (Shot("Tür", 1.0, 90.0, 2.0),))],
        declaration=f'<?xml version="1.0" encoding="{declared}"?>',
    )
    data = text.encode(encoding)
    assert reader_of(data) is LANDXML
    capture = only(data)
    assert (capture.station, capture.target[0]) == ("Küche", "Tür")


def test_an_encoding_of_several_bytes_a_character():
    text = landxml(
        [Stand("s", "台所", (Shot("標的", 1.0, 90.0, 2.0),))],
        declaration='<?xml version="1.0" encoding="Shift_JIS"?>',
    )
    capture = only(text.encode("shift_jis"))
    assert (capture.station, capture.target[0]) == ("台所", "標的")


def test_other_xml_is_no_landxml():
    assert not is_landxml(b"<?xml version='1.0'?><kml><LandXML/></kml>")
    assert not is_landxml(b"angle,distance\n1,2\n")
    assert not is_landxml(b"")
    assert not is_landxml(b"# comment: made from <LandXML >\nangle,distance\n1,2\n")
    assert not is_landxml(b"\x00\x01\x02")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_broken_file_is_landxml_where_its_root_can_be_seen(encoding):
    text = landxml([PLAIN]).replace("<LandXML", "<!-- -- -->\n<LandXML")
    assert is_landxml(text.encode(encoding))


def test_it_is_one_of_the_files_of_a_folder(tmp_path):
    (tmp_path / "ts.xml").write_text(landxml([PLAIN]), "utf-8")
    (tmp_path / "map.xml").write_text("<kml/>", "utf-8")
    (tmp_path / "a.csv").write_text("angle,distance\n100,2\n", "utf-8")
    units = {"angle_unit": "gon", "distance_unit": "cm", "rotation": "clockwise"}
    survey = read_captures(tmp_path, **units)
    assert survey.names == ("a", "TS1")
    # Its units are its own, whatever the text files need.
    assert survey.captures[1].angle_deg[0] == pytest.approx(30.5)
    assert "ts.xml" in survey.digests
    checked = import_captures(tmp_path, **units).captures[1]
    assert (checked.flag == Flag.USABLE).all()


def test_several_setups_and_groups_that_name_their_setup():
    stands = [PLAIN, Stand("s2", "TS2", SHOTS[:1], groups=True)]
    first, second = read(landxml(stands)).captures
    assert (first.station, second.station) == ("TS1", "TS2")
    assert second.target.tolist() == ["T1"]


def test_a_point_occupied_twice():
    survey = read(landxml([PLAIN, Stand("s2", "TS1", SHOTS)]))
    assert survey.names == ("TS1", "TS1 (s2)")
    assert any("'TS1' is used before" in sentence for sentence in survey.warnings)


def test_time_level_and_standard_errors():
    inside = '<Feature><Property label="Level" value="-1"/></Feature>'
    shots = (Shot("T", 1.0, 90.0, 5.0, more='timeStamp="2026-03-18T09:00:00+01:00"'),)
    capture = only(landxml([Stand("s", "S", shots, inside=inside)]))
    assert capture.level == -1
    assert capture.captured_at.isoformat() == "2026-03-18T09:00:00+01:00"
    assert capture.distance_sigma_m == 0.002
    # Five seconds of the circle, half a millimetre of pointing at 5 m.
    pointing = np.degrees(0.0005 / 5.0)
    assert capture.angle_sigma_deg == pytest.approx(np.hypot(5 / 3600, pointing))
    assert not any(
        "storeys" in s for s in read(landxml([Stand("s", "S", shots, inside=inside)])).warnings
    )
    assert any("storeys" in sentence for sentence in read(landxml([PLAIN])).warnings)


def test_the_precision_of_the_instrument_in_the_units_of_the_file():
    equipment = (
        '<SurveyHeader name="s"/><Equipment><InstrumentDetails id="i" '
        'horizAnglePrecision="{}"/></Equipment>'
    )
    text = landxml([Stand("s", "S", (Shot("T", 1.0, 90.0, 1000.0),))])
    text = text.replace('id="s" ', 'id="s" instrumentDetailsID="i" ')
    fine = text.replace('<SurveyHeader name="s"/>', equipment.format(0.0003))
    assert only(fine).angle_sigma_deg == pytest.approx(0.0003, rel=0.01)
    odd = text.replace('<SurveyHeader name="s"/>', equipment.format(5))
    assert any("horizAnglePrecision is '5'" in sentence for sentence in read(odd).warnings)


def test_distances_that_are_given_in_other_ways():
    shots = (
        Shot("H", 0.0, None, None, more='horizDistance="4.5"'),
        Shot("HZ", 10.0, 60.0, None, more='horizDistance="3.0"'),
        Shot("SV", 20.0, None, 5.0, more='vertDistance="3.0"'),
        Shot("D", 30.0, 80.0, None),
        Shot("N", 40.0, 90.0, 0.0),
    )
    capture = only(landxml([Stand("s", "S", shots)]))
    assert capture.distance_m[:3] == pytest.approx([4.5, 3.0, 4.0])
    slopes = [4.5, 3.0 / sin(radians(60)), 5.0]
    assert capture.slope_distance_m[:3] == pytest.approx(slopes)
    assert capture.zenith_deg == pytest.approx([90, 60, np.degrees(np.arctan2(4, 3)), 80, 90])
    # A direction alone is kept, as a reading without a return; so is one with a distance of 0.
    assert capture.flag.tolist() == [Flag.USABLE] * 3 + [Flag.NO_RETURN] * 2
    assert np.isnan(capture.distance_m[3:]).all()


def test_offsets_lead_from_what_was_sighted_to_the_target():
    point = '<TargetPoint name="T"/><OffsetVals offsetInOut="1" offsetLeftRight="-2"/>'
    capture = only(landxml([Stand("s", "S", (Shot("T", 90.0, 90.0, 3.0, point=point),))]))
    # 4 m out to the east and 2 m to the left of it, as seen from the instrument: to the north.
    assert capture.xy_m[0] == pytest.approx([4, 2], abs=1e-9)


CONTROL = cg_point("A", 100, 200, 10) + cg_point("B", 100, 300)


def test_a_backsight_with_an_azimuth():
    stand = Stand("s", "S", SHOTS, inside='<Backsight azimuth="350" circle="20"/>')
    capture = only(landxml([stand]))
    assert capture.angle_deg == pytest.approx([0.5, 90.25], abs=1e-9)
    assert "azimuth 350.0000 deg" in capture.other["orientation"]


def test_a_backsight_between_known_points():
    inside = '<Backsight circle="5"><BacksightPoint pntRef="B"/></Backsight>'
    capture = only(landxml([Stand("s", "S", SHOTS, point="A", inside=inside)], points=CONTROL))
    # B lies east of A, azimuth 90, and was read as 5.
    assert capture.angle_deg == pytest.approx([115.5, 205.25], abs=1e-9)
    told = capture.other["orientation"]
    assert "grid north" in told and "the backsight B, azimuth 90.0000 deg from coordinates" in told
    assert capture.other["elevations of targets"].startswith(
        f"T1 {11.5 + 4 * cos(radians(85)):.3f}"
    )


def test_without_azimuth_zero_is_the_backsight():
    inside = '<Backsight circle="30.5"><BacksightPoint name="T1"/></Backsight>'
    capture = only(landxml([Stand("s", "S", SHOTS, inside=inside)]))
    assert capture.angle_deg == pytest.approx([0, 89.75], abs=1e-9)
    assert capture.other["orientation"].endswith("the direction to the backsight T1")
    assert "no backsight" in only(landxml([PLAIN])).other["orientation"]


def test_the_setup_itself_may_say_its_orientation():
    text = landxml([PLAIN]).replace('id="s1"', 'id="s1" orientationAzimuth="40" circleAzimuth="10"')
    assert only(text).angle_deg == pytest.approx([60.5, 150.25], abs=1e-9)


def group(shots, inside=""):
    body = landxml([Stand("x", "X", shots)]).split("<InstrumentSetup")[1].split(">", 1)[1]
    return (
        f'<ObservationGroup id="g">{inside}{body.split("</InstrumentSetup>")[0]}</ObservationGroup>'
    )


def test_groups_with_the_circle_turned_between_them():
    first = group(SHOTS, '<Backsight azimuth="0" circle="0"/>').replace("<InstrumentPoint", "<P")
    moved = tuple(Shot(s.target, s.circle + 90, s.zenith, s.slope) for s in SHOTS)
    second = group(moved, '<Backsight azimuth="0" circle="90"/>')
    capture = only(landxml([Stand("s", "S", (), inside=first + second)]))
    assert capture.target.tolist() == ["T1", "T2", "T1", "T2"]
    assert capture.angle_deg == pytest.approx([30.5, 120.25] * 2, abs=1e-9)


def test_backsights_that_contradict_each_other():
    inside = '<Backsight azimuth="10" circle="0"/><Backsight azimuth="100.2" circle="90"/>'
    capture = only(landxml([Stand("s", "S", SHOTS, inside=inside)]))
    found = remark(capture, "orientation")
    assert found.again
    assert "0.2000 deg apart" in found.sentence


def test_known_points_are_east_north_in_metres_with_their_system():
    points = cg_point("A", 100, 200, 10, "foot") + cg_point("B", 100, 300, None, "foot")
    head = '<CoordinateSystem name="grid" epsgCode="25832"/>'
    survey = read(landxml([Stand("s", "S", SHOTS, point="A")], "foot", points=points, head=head))
    found = {(p.name, p.station): p for p in survey.known_points}
    assert set(found) == {("A", False), ("B", False), ("S", True)}
    a = found["A", False]
    assert (a.east_m, a.north_m, a.height_m) == pytest.approx((200, 100, 10))
    assert np.isnan(found["B", False].height_m)
    assert found["S", True].east_m == pytest.approx(200)
    assert {p.crs for p in survey.known_points} == {"EPSG:25832"}
    assert any("marks as control (A, B and S)" in sentence for sentence in survey.warnings)


def test_computed_coordinates_are_not_control_beside_marked_ones():
    point = '<TargetPoint name="T1">1 2 3</TargetPoint>'
    shots = (Shot("T1", 1.0, 90.0, 2.0, point=point), Shot("T2", 5.0, 90.0, 3.0))
    free = read(landxml([Stand("s", "S", shots)], points=cg_point("A", 1, 2, more="")))
    assert {p.name for p in free.known_points} == {"A", "T1"}
    marked = read(landxml([Stand("s", "S", shots)], points=CONTROL))
    assert {p.name for p in marked.known_points} == {"A", "B"}


def test_what_is_only_planned_is_no_known_point():
    points = cg_point("A", 1, 2, more='state="proposed"') + cg_point("B", 3, 4, more="")
    points += cg_point("C", 5, 6, more='role="to stake out"')
    survey = read(landxml([PLAIN], points=points))
    assert [p.name for p in survey.known_points] == ["B"]


def test_points_that_refer_to_points():
    points = cg_point("1", 10, 20, more="") + '<CgPoint name="alias" pntRef="1"/>'
    survey = read(landxml([Stand("s", "S", SHOTS, point="alias")], points=points))
    assert {(p.name, p.east_m) for p in survey.known_points} == {
        ("1", 20),
        ("alias", 20),
        ("S", 20),
    }


def test_standard_errors_of_points():
    more = 'northingStdError="3" eastingStdError="4"'
    points = cg_point("A", 1000, 2000, None, "millimeter", more)
    points += cg_point("B", 1, 2, None, "millimeter", 'northingStdError="0" eastingStdError="0"')
    a, b = read(landxml([PLAIN], "millimeter", points=points)).known_points
    assert a.sigma_m == pytest.approx(np.sqrt((0.003**2 + 0.004**2) / 2))
    assert np.isnan(b.sigma_m)


@pytest.mark.parametrize(
    ("system", "crs"),
    [
        ('name="x" epsgCode="EPSG:2263"', "EPSG:2263"),
        ('name="x" ogcWktCode="PROJCS[&quot;x&quot;]"', 'PROJCS["x"]'),
        ('name="x" ogcWktCode="25832"', "EPSG:25832"),
        ('horizontalDatum="Local"', ""),
        ('name="x" epsgCode="local"', ""),
    ],
)
def test_coordinate_systems(system, crs):
    survey = read(landxml([PLAIN], points=CONTROL, head=f"<CoordinateSystem {system}/>"))
    assert {p.crs for p in survey.known_points} == {crs}
    assert any("neither epsgCode nor" in s for s in survey.warnings) == (crs == "")


def test_a_file_of_coordinates_alone_has_known_points_and_no_captures():
    survey = read(landxml([], points=CONTROL))
    assert survey.captures == ()
    assert [p.name for p in survey.known_points] == ["A", "B"]
    assert survey.warnings[-1] == "t.xml: it holds coordinates, and no observations."


def test_what_is_left_out_in_the_file_stays_out_and_is_said():
    shots = (*SHOTS, Shot("T1", 99.0, 90.0, 9.0, more='status="deleted"'))
    shots += (Shot("T2", 99.0, 90.0, 9.0, more='unused="true"'),)
    capture = only(landxml([Stand("s", "S", shots)]))
    assert capture.angle_deg == pytest.approx([30.5, 120.25])
    assert "2 observations are marked" in remark(capture, "left out").sentence


def test_other_parts_of_a_file_are_not_kept():
    surface = "<Surfaces>" + "<P id='1'>1 2 3</P>" * 10_000 + "</Surfaces>"
    data = landxml([PLAIN], head=surface).encode()
    assert only(data).target.tolist() == ["T1", "T2"]
    root = parse_tree(data, ROOT, KEPT, Findings("t.xml"))
    assert [child.name for child in root.children] == ["Units", "CgPoints", "Survey"]
    assert len(list(root.walk())) < 20
