# SPDX-License-Identifier: GPL-2.0-or-later
"""Control points from tables as spreadsheets and databases give them."""

import numpy as np
import pytest
from qgis.core import (
    NULL,
    QgsCoordinateReferenceSystem,
    QgsFeature,
    QgsProcessingContext,
    QgsVectorLayer,
)


@pytest.fixture
def read(roomtie):
    """``read(rows, name_type=...)`` reads a table of target, east_m, north_m and sigma_mm."""
    from roomtie.processing.algorithms.control_input import read_control

    def read_rows(rows, name_type="string", progress=None):
        fields = f"field=target:{name_type}&field=east_m:double&field=north_m:double"
        table = QgsVectorLayer(f"None?{fields}&field=sigma_mm:string", "control", "memory")
        for row in rows:
            feature = QgsFeature(table.fields())
            feature.setAttributes([*row])
            table.dataProvider().addFeatures([feature])
        algorithm = roomtie.algorithm("georeferenceplan").create()
        target = QgsCoordinateReferenceSystem("EPSG:32632")
        given = {"CONTROL": table, "CONTROL_NAME": "target"}
        more = () if progress is None else (progress,)
        return read_control(algorithm, target, given, QgsProcessingContext(), *more)

    return read_rows


def test_a_number_is_a_name_whatever_type_the_table_gives_it(read):
    control = read([(12.0, 1.0, 2.0, "4,5"), (7.0, 3.0, 4.0, NULL)], "double")
    assert control.name == ("12", "7")
    assert control.xy == pytest.approx(np.array([[1.0, 2.0], [3.0, 4.0]]))
    assert control.sigma_m == pytest.approx([0.0045, 0.010])


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ((NULL, 1.0, 2.0, NULL), r"feature 2: its field target is empty; expected the name of"),
        (("  ", 1.0, 2.0, NULL), r"feature 2: its field target is empty"),
        (("B", NULL, 2.0, NULL), r"B: a coordinate is empty"),
        (("B", 1.0, 2.0, "few"), r"B, field sigma_mm: found 'few', expected a number"),
        (("A", 1.0, 2.0, NULL), r"A occurs more than once"),
    ],
)
def test_a_row_that_says_too_little_is_named(read, row, said):
    from roomtie.processing.errors import SurveyError

    with pytest.raises(SurveyError, match=said):
        read([("A", 1.0, 2.0, NULL), row])


def test_a_cancel_is_heard_between_rows(read):
    from roomtie.processing.errors import Cancelled
    from roomtie.processing.progress import Progress

    with pytest.raises(Cancelled):
        read([("A", 1.0, 2.0, NULL)], progress=Progress(cancelled=lambda: True))
