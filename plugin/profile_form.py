# SPDX-License-Identifier: GPL-2.0-or-later
"""What a profile says beside its columns, as widgets: the lines, the units, the zeros."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from qgis.gui import QgsDoubleSpinBox, QgsSpinBox
from qgis.PyQt.QtCore import pyqtSignal
from qgis.PyQt.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFormLayout,
    QGroupBox,
    QHBoxLayout,
    QLineEdit,
    QWidget,
)

from .translation import mark, tr

SEPARATORS = (
    ("comma", mark("comma ,")),
    ("semicolon", mark("semicolon ;")),
    ("tab", mark("tab")),
    ("white space", mark("blanks or tabs")),
)
DECIMALS = ((False, mark("point 1.5")), (True, mark("comma 1,5")))
ENCODINGS = tuple((name, name) for name in ("UTF-8", "Latin-1", "Windows-1252", "UTF-16"))
ANGLE_UNITS = (
    ("deg", mark("degrees (360)")),
    ("gon", mark("gon (400)")),
    ("rad", mark("radians (2π)")),
)
DISTANCE_UNITS = (
    ("m", mark("metres")),
    ("cm", mark("centimetres")),
    ("mm", mark("millimetres")),
    ("ft", mark("feet")),
    ("in", mark("inches")),
)
ROTATIONS = (
    ("", mark("choose…")),
    ("clockwise", mark("clockwise")),
    ("counterclockwise", mark("counterclockwise")),
)


def _choice(options: Sequence[tuple[Any, str]]) -> QComboBox:
    combo = QComboBox()
    for value, title in options:
        combo.addItem(tr(title), value)
    return combo


def _choose(combo: QComboBox, value: Any) -> None:
    combo.setCurrentIndex(max(combo.findData(value), 0))


class ProfileForm(QWidget):
    """The widgets. `values` and `show_values` speak in the fields of a profile."""

    changed = pyqtSignal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.separator = _choice(SEPARATORS)
        self.decimals = _choice(DECIMALS)
        self.encoding = _choice(ENCODINGS)
        self.skip_lines = QgsSpinBox()
        self.skip_lines.setRange(0, 10_000)
        self.comment_sign = QLineEdit()
        self.comment_sign.setMaxLength(3)
        self.has_names = QCheckBox(tr("A row of column &names comes first"))
        self.angle_unit = _choice(ANGLE_UNITS)
        self.rotation = _choice(ROTATIONS)
        self.angle_zero = self._number(360.0, 6, " °")
        self.distance_unit = _choice(DISTANCE_UNITS)
        self.distance_zero = self._number(10_000.0, 3, " mm")
        self.no_return = QLineEdit()
        self.no_return.setPlaceholderText(tr("-1; 9999"))
        self._explain()
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._lines_box())
        layout.addWidget(self._angles_box())
        layout.addWidget(self._distances_box())
        self._report_changes()

    def _number(self, most: float, decimals: int, suffix: str) -> QgsDoubleSpinBox:
        box = QgsDoubleSpinBox()
        box.setRange(-most, most)
        box.setDecimals(decimals)
        box.setSuffix(suffix)
        box.setClearValue(0.0)
        return box

    def _explain(self) -> None:
        self.angle_zero.setToolTip(
            tr(
                "What the instrument's angle shows in the direction that shall be zero (the one "
                "whose compass bearing is taken); it is subtracted."
            )
        )
        self.distance_zero.setToolTip(
            tr("The zero error of the distance, from a calibration; it is subtracted.")
        )
        self.no_return.setToolTip(
            tr(
                "What stands in the distance's place where nothing came back, beside a blank and "
                "0; several apart by semicolons."
            )
        )
        self.comment_sign.setToolTip(tr("Lines that begin so are passed over."))

        self.rotation.setToolTip(tr("Seen from above, as the angles grow."))

    def _lines_box(self) -> QGroupBox:
        box = QGroupBox(tr("Lines"))
        form = QFormLayout(box)
        form.addRow(tr("&Separator"), self.separator)
        form.addRow(tr("&Decimal sign"), self.decimals)
        form.addRow(tr("Lines to s&kip at the top"), self.skip_lines)
        form.addRow(self.has_names)
        form.addRow(tr("Comment si&gn"), self.comment_sign)
        form.addRow(tr("&Encoding"), self.encoding)
        return box

    def _angles_box(self) -> QGroupBox:
        box = QGroupBox(tr("Angles"))
        form = QFormLayout(box)
        form.addRow(tr("&Unit"), self.angle_unit)
        form.addRow(tr("Angles &run"), self.rotation)
        form.addRow(tr("&Zero direction at"), self.angle_zero)
        return box

    def _distances_box(self) -> QGroupBox:
        box = QGroupBox(tr("Distances"))
        form = QFormLayout(box)
        form.addRow(tr("Uni&t"), self.distance_unit)
        form.addRow(tr("Zero err&or"), self.distance_zero)
        form.addRow(tr("Nothing came &back"), self.no_return)
        return box

    def in_order(self) -> tuple[QWidget, ...]:
        """The widgets in the order in which the tab key goes through them."""
        return (
            *(self.separator, self.decimals, self.skip_lines, self.has_names),
            *(self.comment_sign, self.encoding),
            *(self.angle_unit, self.rotation, self.angle_zero),
            *(self.distance_unit, self.distance_zero, self.no_return),
        )

    def _report_changes(self) -> None:
        combos = (
            self.separator,
            self.decimals,
            self.encoding,
            self.angle_unit,
            self.rotation,
            self.distance_unit,
        )
        for combo in combos:
            combo.currentIndexChanged.connect(lambda _: self.changed.emit())
        for number in (self.skip_lines, self.angle_zero, self.distance_zero):
            number.valueChanged.connect(lambda _: self.changed.emit())
        for line in (self.comment_sign, self.no_return):
            line.textChanged.connect(lambda _: self.changed.emit())
        self.has_names.toggled.connect(lambda _: self.changed.emit())

    def values(self) -> dict[str, Any]:
        """The profile's fields as they are chosen; `rotation` is empty where none is."""
        words = [word.strip() for word in self.no_return.text().split(";")]
        return {
            "separator": self.separator.currentData(),
            "decimal_comma": bool(self.decimals.currentData()),
            "encoding": self.encoding.currentData(),
            "skip_lines": self.skip_lines.value(),
            "comment_sign": self.comment_sign.text().strip(),
            "has_names": self.has_names.isChecked(),
            "angle_unit": self.angle_unit.currentData(),
            "rotation": self.rotation.currentData(),
            "angle_zero_deg": self.angle_zero.value(),
            "distance_unit": self.distance_unit.currentData(),
            "distance_zero_mm": self.distance_zero.value(),
            "no_return": tuple(dict.fromkeys(word for word in words if word)),
        }

    def show_values(self, profile: Any, rotation: str) -> None:
        """Show a profile's fields, with one change signal in the end."""
        self.blockSignals(True)
        _choose(self.separator, profile.separator)
        _choose(self.decimals, profile.decimal_comma)
        _choose(self.encoding, profile.encoding)
        self.skip_lines.setValue(profile.skip_lines)
        self.comment_sign.setText(profile.comment_sign)
        self.has_names.setChecked(profile.has_names)
        _choose(self.angle_unit, profile.angle_unit)
        _choose(self.rotation, rotation)
        self.angle_zero.setValue(profile.angle_zero_deg)
        _choose(self.distance_unit, profile.distance_unit)
        self.distance_zero.setValue(profile.distance_zero_mm)
        self.no_return.setText("; ".join(profile.no_return))
        self.blockSignals(False)
        self.changed.emit()
