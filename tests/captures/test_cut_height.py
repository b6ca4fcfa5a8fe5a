# SPDX-License-Identifier: GPL-2.0-or-later
"""At which height a ring cuts, and whether it is one height."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from roomtie.processing.captures.capture_text import read_capture_text
from roomtie.processing.captures.cut_height import (
    SPREAD_M,
    CutHeight,
    check_cut,
    cut_height,
    told_by_level,
)
from roomtie.processing.captures.model import NAN, Flag


def capture(rows, header="# instrument_height_m: 1.2\n"):
    text = "# angle_unit: deg\n# distance_unit: m\n# rotation: clockwise\n" + header
    text += "angle,distance,zenith,kind,target\n"
    text += "".join(
        f"{angle!r},{distance!r},{zenith!r},{rest}\n" for angle, distance, zenith, rest in rows
    )
    return read_capture_text(text, name="A.csv").captures[0]


def test_a_horizontal_ring_cuts_at_the_instrument():
    cut = cut_height(capture([(0, 2, 90, "ring,"), (90, 9, 90, "ring,")]))
    assert (cut.low_m, cut.high_m, cut.with_zenith) == (1.2, 1.2, 0)
    assert check_cut(cut) == ()


def test_zenith_angles_move_it_up_and_down():
    """3-4-5 triangles: 4 m away, 3 m up; 4 m away, 3 m down."""
    up = float(np.degrees(np.arctan2(4, 3)))
    one = capture([(0, 5, up, "ring,"), (90, 5, 180 - up, "ring,"), (120, 5, 90, "ring,")])
    assert one.distance_m.tolist() == pytest.approx([4.0, 4.0, 5.0])
    cut = cut_height(one)
    assert (cut.low_m, cut.high_m) == pytest.approx((-1.8, 4.2))
    assert cut.with_zenith == 2
    (remark,) = check_cut(cut)
    assert "between -1.80 and 4.20 m above the station point, 6.00 m apart" in remark.sentence
    assert not remark.again
    (remark,) = check_cut(cut_height(replace(one, instrument_height_m=NAN)))
    assert "between -3.00 and 3.00 m above the instrument" in remark.sentence


def test_targets_and_flagged_readings_are_no_part_of_the_cut():
    one = capture([(0, 2, 90, "ring,"), (1, 5, 40, "target,T"), (90, 9, 45, "ring,")])
    assert cut_height(one).spread_m > 1
    flagged = one.with_flags(one.angle_deg == 90, Flag.TOO_FAR)
    assert cut_height(flagged).spread_m == 0.0
    none = one.with_flags(one.angle_deg >= 0, Flag.TOO_FAR)
    assert np.isnan(cut_height(none).low_m)
    assert check_cut(cut_height(none)) == ()


@given(
    st.lists(
        st.tuples(st.floats(0, 359), st.floats(0.3, 60), st.floats(20, 160), st.just("ring,")),
        min_size=1,
        max_size=20,
    )
)
def test_heights_are_those_of_the_points_in_space(rows):
    """Against Cartesian coordinates from the polar ones, another way round."""
    one = capture(rows)
    height = 1.2 + np.sqrt(np.maximum(one.slope_distance_m**2 - one.distance_m**2, 0.0)) * np.sign(
        90.0 - one.zenith_deg
    )
    cut = cut_height(one)
    # The root loses half of the digits where a reading is nearly horizontal.
    assert (cut.low_m, cut.high_m) == pytest.approx((height.min(), height.max()), abs=1e-5)
    assert bool(check_cut(cut)) == (cut.spread_m > SPREAD_M)


def at(height):
    return CutHeight(height, height, height, 0)


def test_several_heights_on_one_level_are_named():
    cuts = {
        1: [("U1", at(1.5))],
        0: [("S1", at(1.20)), ("S2", at(1.24)), ("S3", at(1.6)), ("S4", at(NAN))],
    }
    assert told_by_level(cuts) == [
        "Level 0 is cut at 1.20 to 1.24 m (S1 and S2) and 1.60 m (S3): what stands between these "
        "heights, a sill or a worktop, is seen from some stations only.",
        "Level 0: no instrument height is given for S4, and so the height of the cut there is not "
        "known.",
    ]
