# SPDX-License-Identifier: GPL-2.0-or-later
"""Bad LandXML: one sentence each with file and line, and nothing else but our own exception."""

import re
import tracemalloc

import pytest
from hypothesis import given
from hypothesis import strategies as st
from landxml_files import Shot, Stand, cg_point, landxml
from reading_only import read_captures
from roomtie.processing.captures.landxml import read_landxml
from roomtie.processing.errors import Cancelled, SurveyError
from roomtie.processing.progress import Progress

SHOTS = (
    Shot("T1", 30.5, 85.0, 4.0),
    Shot("T1", 210.5, 275.0, 4.0, False),
    Shot("T2", 120.25, 95.0, 3.0, height=0.2),
)
BACKSIGHT = '<Backsight azimuth="100" circle="10"><BacksightPoint pntRef="A"/></Backsight>'
GOOD = landxml(
    [
        Stand("s1", "TS1", SHOTS, point="A", inside=BACKSIGHT),
        Stand("s2", "TS2", SHOTS, groups=True),
    ],
    points=cg_point("A", 100, 200, 10) + cg_point("B", 100, 300),
    head='<CoordinateSystem name="grid" epsgCode="25832"/>',
)


def read(text, **rules):
    data = text if isinstance(text, bytes) else text.encode()
    return read_landxml(data, name="t.xml", **rules)


def changed(old, new, text=GOOD):
    assert old in text
    return text.replace(old, new, 1)


T1 = 'horizAngle="30.5000000000"'
Z1 = 'zenithAngle="85.0000000000"'

BAD = [
    (GOOD[: GOOD.index("</InstrumentSetup>")], "the file ends before its elements do"),
    (changed("</CgPoints>", "</CgPoint>"), "the XML is broken (mismatched tag)"),
    (changed("<Units>", "<Units"), "the XML is broken"),
    (changed("<Survey>", "<Survey>&x;"), "the XML is broken (undefined entity)"),
    ("<kml/>", "the root element is 'kml'; expected LandXML"),
    ("", "the file ends before its elements do"),
    (re.sub("<Units>.*</Units>", "", GOOD), "the file has no Units"),
    (re.sub("<Metric .*/></Units>", "</Units>", GOOD), "holds neither Metric nor Imperial"),
    (changed('linearUnit="meter"', 'linearUnit="foot"'), "linearUnit of Metric is 'foot'"),
    (changed('linearUnit="meter"', ""), "linearUnit of Metric is missing"),
    (changed('angularUnit="decimal degrees"', 'angularUnit="gon"'), "angularUnit is 'gon'"),
    (changed('directionUnit="decimal degrees"', 'directionUnit="x"'), "directionUnit is 'x'"),
    (changed(T1, 'horizAngle="east"'), "horizAngle is 'east'; expected a number"),
    (changed(T1, 'horizAngle="NaN"'), "horizAngle is 'NaN'; expected a number"),
    (changed(T1, 'horizAngle="1_0"'), "horizAngle is '1_0'; expected a number"),
    (changed(T1, 'horizAngle="1e999"'), "expected a number of this earth"),
    (changed(T1, 'horizAngle="380"'), "more than a full turn in decimal degrees"),
    (changed(T1, ""), "has no horizAngle"),
    (changed('slopeDistance="4"', 'slopeDistance="-4"'), "slopeDistance is '-4'; expected 0"),
    (changed('slopeDistance="4"', 'slopeDistance="4,5"'), "slopeDistance is '4,5'"),
    (changed(Z1, 'zenithAngle="-5"'), "zenithAngle is '-5' (-5 deg); expected 0 to 180 deg"),
    (changed(Z1, 'zenithAngle="275"'), "but its zenithAngle is 275 deg; expected 0 to 180 deg"),
    (changed('zenithAngle="275.0000000000"', Z1), "directFace is false in the observation of 'T1'"),
    (changed(Z1, ""), "neither zenithAngle nor horizDistance nor vertDistance"),
    (changed(Z1, 'vertDistance="9"'), "vertDistance of 9.000 m, more than its slopeDistance"),
    (changed('directFace="true"', 'directFace="left"'), "directFace is 'left'"),
    (changed('targetHeight="0"', 'targetHeight="x"'), "targetHeight is 'x'"),
    (changed('<TargetPoint name="T1"/>', "<TargetPoint/>"), "names no target"),
    (changed('<TargetPoint name="T1"/>', ""), "names no target"),
    (changed('instrumentHeight="1.5"', 'instrumentHeight="-1"'), "instrumentHeight is '-1'"),
    (changed('id="s1"', ""), "the InstrumentSetup has no id"),
    (changed('id="s2"', 'id="s1"'), "the InstrumentSetup id 's1' is used before, in line"),
    (changed('setupID="s2"', 'setupID="s9"'), "RawObservation names the set-up 's9'"),
    (changed('id="g"', 'id="g" setupID="s9"'), "ObservationGroup names the set-up 's9'"),
    (changed('setupID="s2"', ""), "names no set-up, nor does its group"),
    (changed('circle="10"', ""), "the Backsight has no circle"),
    (changed('azimuth="100"', 'azimuth="x"'), "azimuth is 'x'"),
    (changed(">100 200 10<", ">100<"), "the CgPoint 'A' holds '100'; expected two or three"),
    (changed(">100 200 10<", ">100 east<"), "easting is 'east'"),
    (changed(T1, f'{T1} timeStamp="today"'), "timeStamp is 'today'"),
    (
        changed(BACKSIGHT, f'<Feature><Property label="level" value="1st"/></Feature>{BACKSIGHT}'),
        "the level is '1st'; expected a whole number",
    ),
    (landxml([Stand("s", "S")]), "expected InstrumentSetup elements with RawObservation"),
    (landxml([]), "expected InstrumentSetup elements with RawObservation in a Survey; found none"),
    (changed("<Survey>", "<Survey>" + "<a>" * 300 + "</a>" * 300), "elements stand 201 deep"),
    (changed('encoding="UTF-8"', 'encoding="nonsense"'), "the file cannot be decoded"),
    (changed('encoding="UTF-8"', 'encoding="punycode"'), "the file cannot be decoded"),
    (changed('encoding="UTF-8"', 'encoding="UTF-16"'), "the XML is broken"),
    (changed('encoding="UTF-8"', 'encoding="UTUTF-8"').encode("utf-16"), "cannot be decoded"),
    (changed('version="1.0" enc', "version='1.0' standalone='no' enc"), "the XML is broken"),
    (GOOD.encode().replace(b"TS1", b"\xff\xfe"), "the XML is broken"),
]


@pytest.mark.parametrize(("text", "words"), BAD)
def test_errors_name_file_and_line(text, words):
    with pytest.raises(SurveyError) as error:
        read(text)
    message = str(error.value)
    assert words in message
    assert message.startswith("t.xml")
    assert "\n" not in message
    assert "line" in message or "decoded" in message


@pytest.mark.parametrize(("text", "words"), BAD)
def test_what_cannot_be_read_may_be_skipped(text, words):
    survey = read(text, skip_unreadable=True)
    assert any(words in sentence for sentence in survey.skipped)


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("30.6000", "60 minutes"),
        ("30.9912", "99 minutes"),
        ("30.0060", "60 seconds"),
        ("30.3099", "99 seconds"),
        ("30.29999999", "99.9999 seconds"),
        ("361.0000", "more than a full turn"),
    ],
)
def test_minutes_and_seconds_of_sixty_are_refused(written, words):
    text = landxml([Stand("s", "S", (Shot("T", 30.5, 90.0, 4.0),))], "meter", "decimal dd.mm.ss")
    with pytest.raises(SurveyError, match=words):
        read(changed('horizAngle="30.3000000000"', f'horizAngle="{written}"', text))


def test_the_line_is_the_right_one():
    text = changed('slopeDistance="3"', 'slopeDistance="x"')
    line = next(n for n, t in enumerate(text.splitlines(), 1) if 'slopeDistance="x"' in t)
    with pytest.raises(SurveyError, match=f"t.xml, line {line}: slopeDistance"):
        read(text)


def test_a_bad_observation_costs_itself_only():
    text = changed('slopeDistance="3"', 'slopeDistance="x"')
    survey = read(text, skip_unreadable=True)
    assert [c.target.tolist() for c in survey.captures] == [["T1"], ["T1", "T2"]]
    assert len(survey.skipped) == 1


def test_of_a_file_cut_short_the_rest_is_kept():
    cut = GOOD[: GOOD.index('<RawObservation horizAngle="120.25')]
    survey = read(cut, skip_unreadable=True)
    assert [c.target.tolist() for c in survey.captures] == [["T1"]]
    assert "ends before" in survey.skipped[0]


def test_references_to_nothing_are_warned_of():
    text = changed('<BacksightPoint pntRef="A"/>', '<BacksightPoint pntRef="Z"/>')
    assert any("pntRef 'Z' of the BacksightPoint is not a point" in w for w in read(text).warnings)


def test_a_point_at_two_places_is_warned_of():
    text = changed('name="B"', 'name="A"')
    assert any("the point 'A' lies 100.000 m from" in w for w in read(text).warnings)


def test_set_ups_that_sight_each_other_are_said_to_be_untied():
    stands = [
        Stand("a", "A", (Shot("B", 1.0, 90.0, 5.0),)),
        Stand("b", "B", (Shot("A", 1, 90, 5),)),
    ]
    assert any(
        "stood over A and B and sighted them too" in w for w in read(landxml(stands)).warnings
    )


LAUGHS = (
    '<?xml version="1.0"?>\n<!DOCTYPE LandXML [\n<!ENTITY a "ha">\n'
    + "".join(f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">\n' for n in range(12))
    + "]>\n<LandXML>&m;</LandXML>"
)


@pytest.mark.parametrize(
    "text",
    [
        LAUGHS,
        '<!DOCTYPE LandXML [<!ENTITY x SYSTEM "file:///etc/passwd">]><LandXML>&x;</LandXML>',
        '<!DOCTYPE LandXML [<!ENTITY % x SYSTEM "http://127.0.0.1/x"> %x;]><LandXML/>',
        '<!DOCTYPE LandXML SYSTEM "http://127.0.0.1/x.dtd"><LandXML>&x;</LandXML>',
    ],
)
def test_entities_are_refused(text, tmp_path):
    with pytest.raises(SurveyError, match="entities of its own"):
        read(text)
    file = tmp_path / "x.xml"
    file.write_text(text)
    with pytest.raises(SurveyError, match="entities of its own"):
        read_captures(file)


def test_laughs_cost_no_memory():
    tracemalloc.start()
    read(LAUGHS, skip_unreadable=True)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 2_000_000


def test_a_cancel_is_noticed():
    with pytest.raises(Cancelled):
        read_landxml(GOOD.encode(), name="t.xml", progress=Progress(cancelled=lambda: True))


PIECES = st.one_of(
    st.binary(max_size=6),
    st.sampled_from(
        [
            b"<", b">", b"&", b'"', b"/>", b"</Survey>", b"<Survey>", b"NaN", b"-1", b"1e400",
            b"inf", b"\xef\xbb\xbf", b"\xff\xfe", b"\0", b"<![CDATA[", b"<!--", b"<!DOCTYPE x [",
            b"&#0;", b"&#x10FFFF;", b" pntRef='A'", b"name=''", b"9" * 400, b"0.0000", b"99.9999",
            b"<Backsight/>", b"<RawObservation/>", b"<Units/>", b"<ObservationGroup>", b"utf-7",
            b"Shift_JIS", b"UTF-16",
        ]
    ),
)  # fmt: skip
DMS = GOOD.replace("decimal degrees", "decimal dd.mm.ss")


@given(
    st.sampled_from([GOOD.encode(), DMS.encode(), GOOD.encode("utf-16")]),
    st.lists(st.tuples(st.floats(0, 1), st.integers(0, 40), PIECES), min_size=1, max_size=4),
    st.booleans(),
)
def test_damaged_files_raise_nothing_but_our_own(data, damage, skip):
    for place, length, piece in damage:
        at = int(place * len(data))
        data = data[:at] + piece + data[at + length :]
    try:
        survey = read(data, skip_unreadable=skip)
    except SurveyError as error:
        assert not skip, "what may be skipped raises nothing"
        assert str(error).startswith("t.xml") and "\n" not in str(error)
    else:
        for capture in survey.captures:
            assert len(capture) == len(capture.target) > 0
