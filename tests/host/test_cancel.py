# SPDX-License-Identifier: GPL-2.0-or-later
"""A cancel at any stage leaves nothing behind."""

import pytest
from cancelling import CancelsAt
from qgis.core import QgsProcessingContext


@pytest.mark.parametrize("percent", [1, 20, 40, 60, 80, 90])
def test_a_cancelled_plan_leaves_no_file(roomtie, example_survey, tmp_path, percent):
    feedback = CancelsAt(percent)
    algorithm = roomtie.algorithm("planfromcaptures").create()
    parameters = {
        "INPUT": str(example_survey / "captures"),
        "PLOT_SCALES": ["1:100"],
        "OUTPUT": str(tmp_path / "out" / "plan.gpkg"),
        "REPORT": str(tmp_path / "out" / "plan.html"),
    }
    context = QgsProcessingContext()
    result, _ = algorithm.run(parameters, context, feedback)
    assert feedback.isCanceled()
    assert result == {}
    assert not any(path.is_file() for path in tmp_path.rglob("*"))
    assert not context.layersToLoadOnCompletion()
