# SPDX-License-Identifier: GPL-2.0-or-later
"""The same input gives the same bits: what makes numpy's results hang on more than its input.

The whole is checked in the host, by two runs of a release (`tests/host/test_release_zip.py`).
"""

import shutil
import sys
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from roomtie.processing import angles
from roomtie.processing.captures.reading import import_captures
from roomtie.processing.chain import draw_plans, tie_stations
from roomtie.processing.stations.network_options import NetworkOptions

TWOFOLD = (
    *("sin", "cos", "tan", "arcsin", "arccos", "arctan", "arctan2", "sinh", "cosh", "tanh"),
    *("exp", "exp2", "expm1", "log", "log2", "log10", "log1p", "cbrt", "power"),
)
"""Functions that numpy has in a vectorised form and in that of the C library, which may differ in
the last bit (numpy's ``loops_umath_fp.dispatch.c.src``)."""
STAGES = Path(angles.__file__).resolve().parent


@pytest.fixture
def columns_given(monkeypatch) -> Counter:
    """Counts the uses of these functions in the stages on a part of a larger array, by place."""
    seen: Counter = Counter()

    def watched(name):
        function = getattr(np, name)

        def call(*given, **options):
            apart = [
                one
                for one in given
                if isinstance(one, np.ndarray) and one.size > 1 and not one.flags.forc
            ]
            caller = sys._getframe(1).f_code.co_filename
            if apart and STAGES in Path(caller).parents:
                seen[f"{name} in {Path(caller).name}:{sys._getframe(1).f_lineno}"] += 1
            return function(*given, **options)

        return call

    for name in TWOFOLD:
        monkeypatch.setattr(np, name, watched(name))
    return seen


def test_no_function_of_two_forms_is_given_a_part_of_an_array(
    columns_given, example_survey, tmp_path
):
    """numpy takes the vectorised form unless input and output may overlap. Of a column it knows
    the extent too wide, so that the form would hang on where the output happens to lie."""
    for number in range(1, 7):
        shutil.copy(example_survey / "captures" / f"S{number:02d}.csv", tmp_path)
    tied = tie_stations(import_captures(tmp_path), NetworkOptions())
    draw_plans(tied, (50,))
    assert not columns_given


def test_the_watch_sees_a_column(columns_given):
    angles.bearing(np.ones((4, 3))[:, 0], np.ones((4, 3))[:, 1])
    angles.unit(np.ones((4, 3))[:, 2])
    assert not columns_given
    # The way it was once written, as if it stood in a stage.
    code = compile("np.sin(column)", str(STAGES / "made_up.py"), "exec")
    exec(code, {"np": np, "column": np.ones((4, 3))[:, 2]})  # noqa: S102
    assert columns_given == {"sin in made_up.py:1": 1}


def test_where_an_array_lies_decides_nothing():
    """A column whose extent, as numpy reckons it, ends where other arrays begin."""
    rng = np.random.default_rng(5)
    for rows in range(2, 200):
        kept = [rng.uniform(-7.0, 7.0, (rows, 3)) for _ in range(3)]
        for table in kept:
            sine, cosine = angles.sine_cosine(table[:, 2])
            alone = table[:, 2].copy()
            assert np.array_equal(sine, np.sin(alone)) and np.array_equal(cosine, np.cos(alone))
            assert np.array_equal(
                angles.azimuth_of(table[:, 1:]), np.arctan2(table[:, 1].copy(), alone)
            )
