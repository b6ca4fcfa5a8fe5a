# SPDX-License-Identifier: GPL-2.0-or-later
"""A person's choices, written into the plan's layers, each a step that can be undone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from qgis.core import QgsFeatureRequest, QgsField, QgsVectorLayer

from ..processing.errors import SurveyError
from ..processing.layers import schema
from .review_plans import KEYS, ReviewPlan, equals, plain
from .translation import tr
from .undo import QUndoCommand

SMALLEST_FACTOR, LARGEST_FACTOR = 0.01, 1000.0


class Choose(QUndoCommand):
    """Sets an attribute of one thing wherever the plan has it: a room stands in every plot scale.

    Things are told by their names, so that a step can be undone after the plan was drawn anew.
    Where it cannot be written, `error` has the sentence and nothing was.
    """

    def __init__(
        self,
        plan: Callable[[], ReviewPlan],
        kind: schema.LayerSchema,
        key: str,
        field: str,
        value: Any,
    ) -> None:
        super().__init__(step_text(field, key))
        self.kind, self.field = kind, field
        self.error = ""
        self._plan, self._key, self._value = plan, key, value
        self._before: Any = None

    def redo(self) -> None:
        try:
            self._before = write_value(self._plan(), self.kind, self._key, self.field, self._value)
        except SurveyError as error:
            self.error = str(error)
            self.setObsolete(True)

    def undo(self) -> None:
        try:
            write_value(self._plan(), self.kind, self._key, self.field, self._before)
        except SurveyError as error:
            self.error = str(error)
            self.setObsolete(True)


def step_text(field: str, thing: str) -> str:
    """What a step is called."""
    words = {
        "choice": tr("choice for {thing}"),
        "sigma_factor": tr("weight of {thing}"),
        "name": tr("name of {thing}"),
    }
    return words[field].format(thing=thing)


def checked(field: str, value: Any) -> Any:
    """A value as it is stored, from what was typed; SurveyError where it cannot be."""
    if field == "sigma_factor":
        text = str(value if value is not None else "").strip().replace(",", ".")
        if not text:
            return None
        try:
            factor = float(text)
        except ValueError:
            factor = 0.0
        if not SMALLEST_FACTOR <= factor <= LARGEST_FACTOR:
            raise SurveyError(
                tr(
                    "The factor on the standard errors is {value}; expected a number from 0.01 to "
                    "1000, or nothing."
                ).format(value=repr(str(value)))
            )
        return factor
    if isinstance(value, str):
        return value.strip() or None
    return value


def write_value(
    plan: ReviewPlan, kind: schema.LayerSchema, key: str, field: str, value: Any
) -> Any:
    """Set an attribute in all features of that name; what it was before.

    A layer in an edit session takes the change into the session, any other into its file at once.
    SurveyError where the layer takes none, and no feature is changed then.
    """
    before: Any = None
    written: list[tuple[QgsVectorLayer, dict[int, dict[int, Any]]]] = []
    for layer in plan.of(kind):
        request = QgsFeatureRequest().setFlags(QgsFeatureRequest.Flag.NoGeometry)
        request.setFilterExpression(equals(KEYS[kind], key))
        features = list(layer.getFeatures(request))
        if not features:
            continue
        place = _place_of(plan, layer, kind, field)
        old = {f.id(): {place: plain(_attribute(f, place))} for f in features}
        before = next(iter(old.values()))[place]
        try:
            _write(layer, {number: {place: value} for number in old})
        except SurveyError:
            for other, values in written:
                _write(other, values)
            raise
        written.append((layer, old))
        layer.triggerRepaint()
    if not written:
        raise SurveyError(
            tr("{key} is not in the layer {layer} any more.").format(key=key, layer=kind.title)
        )
    return before


def _attribute(feature, place: int) -> Any:
    values = feature.attributes()
    return values[place] if place < len(values) else None


def _write(layer: QgsVectorLayer, values: dict[int, dict[int, Any]]) -> None:
    if layer.isEditable():
        layer.beginEditCommand(tr("Choice"))
        good = all(
            layer.changeAttributeValue(number, place, value)
            for number, changed in values.items()
            for place, value in changed.items()
        )
        layer.endEditCommand() if good else layer.destroyEditCommand()
    else:
        good = layer.dataProvider().changeAttributeValues(values)
    if not good:
        reason = layer.dataProvider().lastError() or tr("the host gave no reason")
        raise SurveyError(
            tr("Layer {layer}: the change could not be written: {reason}.").format(
                layer=layer.name(), reason=reason
            )
        )


def _place_of(plan: ReviewPlan, layer: QgsVectorLayer, kind: schema.LayerSchema, field: str) -> int:
    """The field's place; a plan of an earlier release gets the fields for choices now."""
    place = layer.fields().lookupField(field)
    if place >= 0:
        return place
    from ..processing.layers.features import FIELD_TYPES

    type_of = dict(kind.fields)[field]
    if layer.isEditable():
        raise SurveyError(
            tr(
                "Layer {layer} has no field {field} yet, and is being edited; expected it saved "
                "first."
            ).format(layer=layer.name(), field=field)
        )
    if not layer.dataProvider().addAttributes([QgsField(field, FIELD_TYPES[type_of])]):
        raise SurveyError(
            tr("Layer {layer}: the field {field} could not be added: {reason}.").format(
                layer=layer.name(),
                field=field,
                reason=layer.dataProvider().lastError() or tr("the host gave no reason"),
            )
        )
    for other in plan.of(kind):
        if other is not layer:
            other.dataProvider().reloadData()
        other.updateFields()
    return layer.fields().lookupField(field)


def unsaved(plan: ReviewPlan) -> list[str]:
    """Names of the layers with edits that are not saved."""
    return [layer.name() for layer in plan.all_layers() if layer.isModified()]
