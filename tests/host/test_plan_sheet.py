# SPDX-License-Identifier: GPL-2.0-or-later
"""Plan sheets: the PDF measured with a rule, as a person would."""

import numpy as np
import pytest
import shapely
from cancelling import Cancelled
from osgeo import gdal
from placed_plan import write_plan
from qgis.core import QgsProcessingException, QgsProject
from roomtie.processing.drawing.sheet import PAPERS

DPI = 254
"""Ten pixels a millimetre."""

INK = (0x20, 0x26, 0x2B)
LINE_MM = 0.5
READ_OFF_MM = 0.3


@pytest.fixture(scope="module")
def placed(example, qgis_app, tmp_path_factory):
    return write_plan(tmp_path_factory.mktemp("placed") / "plan.gpkg", example, True)


@pytest.fixture(scope="module")
def local(example, qgis_app, tmp_path_factory):
    return write_plan(tmp_path_factory.mktemp("local") / "plan.gpkg", example, False)


@pytest.fixture(autouse=True)
def empty_project():
    QgsProject.instance().clear()
    yield
    QgsProject.instance().clear()


def pages(path):
    subs = gdal.Open(str(path)).GetSubDatasets() or [(str(path), "")]
    return [name for name, _ in subs]


def inked(name, paper):
    """Rows and columns of the pixels in the colour of walls, where the plan is drawn."""
    source = gdal.OpenEx(name, open_options=[f"DPI={DPI}"])
    size = (source.RasterXSize, source.RasterYSize)
    assert size == pytest.approx((paper.width_mm * 10, paper.height_mm * 10), abs=2)
    box = paper.plan
    x, y = round(box.x * 10) + 12, round(box.y * 10) + 12
    window = source.ReadAsArray(x, y, round(box.width * 10) - 24, round(box.height * 10) - 24)
    near = [abs(band.astype(np.int16) - ink) < 40 for band, ink in zip(window, INK)]
    return np.nonzero(near[0] & near[1] & near[2])


@pytest.mark.parametrize("where", ["placed", "local"])
def test_the_scale_is_true_on_the_ground(run, request, tmp_path, where):
    plan = request.getfixturevalue(where)
    output = run(
        "plansheet",
        INPUT=str(plan.path),
        PLOT_SCALE="1:50",
        PAPER="A1 landscape",
        LEVEL=0,
        OUTPUT=str(tmp_path / "sheet.pdf"),
    )["OUTPUT"]
    paper = next(paper for paper in PAPERS if paper.name == "A1 landscape")
    (page,) = pages(output)
    rows, columns = inked(page, paper)
    walls = plan.tables["wall_faces"]
    chosen = [
        row
        for row in range(len(walls))
        if walls.column("plot_scale")[row] == 50
        and walls.column("level")[row] == 0
        and walls.column("bounds_room")[row]
    ]
    xy = shapely.get_coordinates(walls.geometry[chosen])
    for found, ground_m in zip((columns, rows), np.ptp(xy, axis=0)):
        between_ends_mm = (np.ptp(found) + 1) / 10.0 - LINE_MM
        assert between_ends_mm == pytest.approx(ground_m * 1000.0 / 50.0, abs=READ_OFF_MM)


def test_a_sheet_for_every_storey_and_the_layout_stays(run, local, tmp_path):
    given = {"INPUT": str(local.path), "PLOT_SCALE": "1:200"}
    output = run("plansheet", OUTPUT=str(tmp_path / "sheet"), **given)["OUTPUT"]
    assert output.endswith("sheet.pdf")
    assert len(pages(output)) == 2
    project = QgsProject.instance()
    (layout,) = project.layoutManager().printLayouts()
    assert layout.pageCollection().pageCount() == 2
    assert all(layer.isValid() for layer in project.mapLayers().values())
    run("plansheet", OUTPUT=str(tmp_path / "again.pdf"), **given)
    names = [layout.name() for layout in project.layoutManager().printLayouts()]
    assert len(set(names)) == 2


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"LEVEL": 7}, "LEVEL: found 7, expected one of the plan's levels 0, 1"),
        ({"PLOT_SCALE": "1:100"}, "the plan was drawn at 1:50, 1:200"),
        ({"PLOT_SCALE": "1:50", "PAPER": "A4 landscape"}, "more than A4 landscape holds; expected"),
        ({"INPUT": "/no/such/plan.gpkg"}, "could not be read"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_left(run, local, tmp_path, change, sentence):
    given = {"INPUT": str(local.path), "PLOT_SCALE": "1:200", **change}
    with pytest.raises(QgsProcessingException, match=sentence):
        run("plansheet", OUTPUT=str(tmp_path / "sheet.pdf"), **given)
    assert not list(tmp_path.iterdir())
    assert not QgsProject.instance().layoutManager().layouts()
    assert not QgsProject.instance().mapLayers()


def test_a_cancel_leaves_nothing(run, local, tmp_path):
    result = run(
        "plansheet",
        feedback=Cancelled(),
        INPUT=str(local.path),
        PLOT_SCALE="1:200",
        OUTPUT=str(tmp_path / "sheet.pdf"),
    )
    assert "OUTPUT" not in result
    assert not list(tmp_path.iterdir())
    assert not QgsProject.instance().layoutManager().layouts()
