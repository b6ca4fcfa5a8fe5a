# SPDX-License-Identifier: GPL-2.0-or-later
"""A person's choices, written into the plan's layers, each a step that can be undone."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Union

from qgis.core import QgsFeatureRequest, QgsField, QgsVectorLayer

from ..processing.errors import SurveyError
from ..processing.layers import schema
from .moved_in_qt import QUndoCommand
from .review_plans import KEYS, ReviewPlan, is_one_of, plain
from .translation import tr

_NAMED = 4
SMALLEST_FACTOR, LARGEST_FACTOR = 0.01, 1000.0


Thing = Union[str, "tuple[str, Any]"]
"""A name, or a name at one plot scale, where a person may have given the thing another value."""


class Choose(QUndoCommand):
    """Sets an attribute of things wherever the plan has them: a room stands in every plot scale.

    Things are told by their names, so that a step can be undone after the plan was drawn anew.
    Where it cannot be written, `tell` gets the sentence, nothing was, and the step is no more.
    """

    def __init__(
        self,
        plan: Callable[[], ReviewPlan],
        kind: schema.LayerSchema,
        keys: Sequence[str],
        field: str,
        value: Any,
        tell: Callable[[str], None],
    ) -> None:
        named = list(keys[:_NAMED]) + (["…"] if len(keys) > _NAMED else [])
        super().__init__(step_text(field, ", ".join(named)))
        self.kind, self.field = kind, field
        self._plan, self._tell = plan, tell
        self._values: dict[Thing, Any] = dict.fromkeys(keys, value)
        self._before: dict[Thing, Any] = {}

    def redo(self) -> None:
        self._before = self._write(self._values)

    def undo(self) -> None:
        self._write(self._before)

    def _write(self, values: Mapping[Thing, Any]) -> dict[Thing, Any]:
        try:
            return write_values(self._plan(), self.kind, self.field, values)
        except SurveyError as error:
            self._tell(str(error))
            self.setObsolete(True)
            return {}


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


def write_values(
    plan: ReviewPlan, kind: schema.LayerSchema, field: str, values: Mapping[Thing, Any]
) -> dict[Thing, Any]:
    """Set an attribute of things by their names, in all features of each; what it was before, by
    the name alone and for each plot scale.

    A layer in an edit session takes the change into the session, any other into its file at once.
    SurveyError where a thing is not there or a layer takes no change; no feature is changed then.
    """
    key = KEYS[kind]
    names = list(dict.fromkeys(thing if isinstance(thing, str) else thing[0] for thing in values))
    before: dict[Thing, Any] = {}
    found: list[tuple[QgsVectorLayer, dict[int, dict[int, Any]], dict[int, dict[int, Any]]]] = []
    for layer in plan.of(kind):
        request = QgsFeatureRequest().setFlags(QgsFeatureRequest.Flag.NoGeometry)
        request.setFilterExpression(is_one_of(key, names))
        features = list(layer.getFeatures(request))
        if not features:
            continue
        place = _place_of(plan, layer, kind, field)
        old, new = {}, {}
        for feature in features:
            name = str(feature[key])
            scale = feature["plot_scale"] if "plot_scale" in dict(kind.fields) else None
            was = plain(_attribute(feature, place))
            old[feature.id()] = {place: was}
            new[feature.id()] = {place: values.get((name, scale), values[name])}
            before[name, scale] = was
            before.setdefault(name, was)
        found.append((layer, old, new))
    missing = [name for name in names if name not in before]
    if missing:
        raise SurveyError(
            tr("{key} is not in the layer {layer} any more.").format(
                key=missing[0], layer=tr(kind.title)
            )
        )
    for done, (layer, _, new) in enumerate(found):
        try:
            _write(layer, new)
        except SurveyError:
            for other, old, _ in found[:done]:
                _write(other, old)
            raise
        layer.triggerRepaint()
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
