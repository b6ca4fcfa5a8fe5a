# SPDX-License-Identifier: GPL-2.0-or-later
"""The page in the host's options: defaults that fill the dialogs."""

from __future__ import annotations

from qgis.core import QgsCoordinateReferenceSystem
from qgis.gui import QgsOptionsPageWidget, QgsOptionsWidgetFactory, QgsProjectionSelectionWidget
from qgis.PyQt.QtGui import QIcon
from qgis.PyQt.QtWidgets import (
    QCheckBox,
    QDoubleSpinBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from ..processing.algorithms.drawing_input import DEFAULT_SCALES, SCALE_NAMES
from ..processing.algorithms.own_defaults import keep_default, kept_default
from ..processing.captures.defaults import ANGLE_SIGMA_DEG, DISTANCE_SIGMA_M
from .translation import tr

USUAL_SCALES = [f"1:{scale}" for scale in DEFAULT_SCALES]


class OptionsPage(QgsOptionsPageWidget):
    """Noise of the instrument, plot scales and target CRS. What equals the documented default is
    not kept, so that a later release may change it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("RoomtieOptions")
        self.numbers: dict[str, tuple[QDoubleSpinBox, float]] = {}
        form = QFormLayout()
        for name, title, unit, usual, decimals in (
            (
                "SIGMA_DISTANCE",
                tr("Standard error of a distance"),
                tr(" mm"),
                1000.0 * DISTANCE_SIGMA_M,
                2,
            ),
            ("SIGMA_ANGLE", tr("Standard error of an angle"), tr(" deg"), ANGLE_SIGMA_DEG, 4),
        ):
            box = QDoubleSpinBox(self)
            box.setDecimals(decimals)
            box.setRange(10.0**-decimals, 1000.0)
            box.setSuffix(unit)
            box.setSingleStep(usual / 4.0)
            box.setValue(kept_default(name) or usual)
            self.numbers[name] = (box, usual)
            form.addRow(title, box)
        chosen = kept_default("PLOT_SCALES") or USUAL_SCALES
        self.scales = {name: QCheckBox(name, self) for name in SCALE_NAMES}
        row = QHBoxLayout()
        for name, scale in self.scales.items():
            scale.setChecked(name in chosen)
            row.addWidget(scale)
        row.addStretch()
        form.addRow(tr("Plot scales"), row)
        self.crs = QgsProjectionSelectionWidget(self)
        self.crs.setOptionVisible(QgsProjectionSelectionWidget.CrsOption.CrsNotSet, True)
        self.crs.setNotSetText(tr("the project's, else the UTM zone of the geotags"))
        kept = kept_default("TARGET_CRS")
        self.crs.setCrs(QgsCoordinateReferenceSystem(kept or ""))
        form.addRow(tr("Target CRS"), self.crs)
        what = QLabel(
            tr("These fill Roomtie's dialogs. Captures that state their own noise keep it."), self
        )
        what.setWordWrap(True)
        layout = QVBoxLayout(self)
        layout.addWidget(what)
        layout.addLayout(form)
        layout.addStretch()

    def apply(self) -> None:
        """Keep what the page says."""
        for name, (box, usual) in self.numbers.items():
            same = abs(box.value() - usual) < 0.5 * 10.0 ** -box.decimals()
            keep_default(name, None if same else box.value())
        scales = [name for name, box in self.scales.items() if box.isChecked()]
        keep_default("PLOT_SCALES", None if scales == USUAL_SCALES else scales)
        crs = self.crs.crs()
        keep_default("TARGET_CRS", (crs.authid() or crs.toWkt()) if crs.isValid() else None)


class OptionsFactory(QgsOptionsWidgetFactory):
    """Makes the page when the host opens its options."""

    def __init__(self, icon: QIcon) -> None:
        super().__init__()
        self.setTitle("Roomtie")
        self._icon = icon

    def icon(self) -> QIcon:
        return self._icon

    def createWidget(self, parent: QWidget | None) -> QgsOptionsPageWidget:
        return OptionsPage(parent)
