# SPDX-License-Identifier: GPL-2.0-or-later
"""Whatever set-ups are written as LandXML, in whatever units, come back equal."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from landxml_files import ANGULAR, METRES, Shot, Stand, cg_point, landxml
from roomtie.processing.captures.landxml import read_landxml

# Characters that XML 1.0 allows; blanks around and inside names are not told apart.
NAMES = st.text(
    st.characters(blacklist_categories=["Cs", "Cc", "Zs", "Zl", "Zp", "Cn"]), min_size=1, max_size=8
).filter(lambda name: name.split() == [name] and name.isprintable())


@st.composite
def shots(draw, name):
    direct = draw(st.booleans())
    zenith = draw(st.floats(0.5, 179.5))
    return Shot(
        name,
        draw(st.floats(0, 359.999)),
        zenith if direct else 360 - zenith,
        draw(st.floats(0.05, 300)),
        direct,
        draw(st.floats(0, 3)),
    )


@st.composite
def stands(draw):
    found = []
    for number, station in enumerate(draw(st.lists(NAMES, min_size=1, max_size=2, unique=True))):
        targets = draw(st.lists(NAMES, min_size=1, max_size=3, unique=True))
        found.append(
            Stand(
                f"id-{number}",
                station,
                tuple(draw(shots(name)) for name in targets),
                draw(st.floats(0, 3)),
                groups=draw(st.booleans()),
            )
        )
    return found


@given(stands(), st.sampled_from(sorted(METRES)), st.sampled_from(ANGULAR), st.booleans())
def test_setups_come_back_equal(written, linear, angular, utf16):
    text = landxml(written, linear, angular)
    data = text.replace("UTF-8", "UTF-16").encode("utf-16") if utf16 else text.encode()
    survey = read_landxml(data, name="t.xml")
    assert survey.names == tuple(stand.station for stand in written)
    for stand, capture in zip(written, survey.captures):
        assert capture.target.tolist() == [shot.target for shot in stand.shots]
        turned = np.array([0.0 if shot.direct else 180.0 for shot in stand.shots])
        circle = np.array([shot.circle for shot in stand.shots]) - turned
        zenith = np.array(
            [shot.zenith if shot.direct else 360 - shot.zenith for shot in stand.shots]
        )
        slope = np.array([shot.slope for shot in stand.shots])
        # Ten decimals of a degree are written, and twelve digits of a length.
        apart = (capture.angle_deg - circle + 180) % 360 - 180
        np.testing.assert_allclose(apart, 0, atol=2e-10)
        np.testing.assert_allclose(capture.zenith_deg, zenith, rtol=0, atol=2e-10)
        np.testing.assert_allclose(capture.slope_distance_m, slope, rtol=1e-11)
        expected = slope * np.sin(np.radians(zenith))
        np.testing.assert_allclose(capture.distance_m, expected, rtol=1e-9)
        # The smallest numbers there are have no twelve digits in another unit.
        np.testing.assert_allclose(
            capture.instrument_height_m, stand.height, rtol=1e-11, atol=1e-15
        )


@given(
    st.dictionaries(
        NAMES,
        st.tuples(st.floats(-1e6, 1e7), st.floats(-1e6, 1e7), st.none() | st.floats(-100, 9000)),
        min_size=1,
        max_size=5,
    ),
    st.sampled_from(sorted(METRES)),
)
def test_points_come_back_equal(places, linear):
    points = "".join(
        cg_point(name, north, east, height, linear, more="")
        for name, (north, east, height) in places.items()
    )
    known = {
        p.name: p for p in read_landxml(landxml([], linear, points=points).encode()).known_points
    }
    assert set(known) == set(places)
    for name, (north, east, height) in places.items():
        got = (known[name].north_m, known[name].east_m, known[name].height_m)
        want = (north, east, np.nan if height is None else height)
        # Twelve digits: a hundredth of a millimetre of ten thousand kilometres.
        np.testing.assert_allclose(got, want, rtol=1e-11, atol=1e-9)
