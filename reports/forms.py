"""What a document may be asked about; only rows of the asking department exist."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inspections.models import Inspection, Walk
from inventory.models import Line
from reports.models import Document
from shared.models import Department


class AskForm(forms.Form):
    """Names one inspection, one walk, one line, the whole department's status, or the verification of formulas."""

    inspection = forms.ModelChoiceField(Inspection.objects.none(), required=False)
    walk = forms.ModelChoiceField(Walk.objects.none(), required=False)
    line = forms.ModelChoiceField(Line.objects.none(), required=False, empty_label=None)
    status = forms.BooleanField(required=False)
    verification = forms.BooleanField(required=False)

    def __init__(self, *args: Any, department: Department, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, model in (("inspection", Inspection), ("walk", Walk), ("line", Line)):
            self.fields[name].queryset = model._default_manager.filter(department=department)

    def clean(self) -> dict[str, Any]:
        """Leave exactly what the document is about, and its sort."""
        given = {name: value for name, value in super().clean().items() if value}
        if len(given) != 1:
            raise ValidationError(
                "Name one inspection, one walk or one line, or ask for the equipment status or the verification report."
            )
        sorts = {sort.value: sort for sort in (Document.Sort.LINE, Document.Sort.STATUS, Document.Sort.VERIFICATION)}
        name = next(iter(given))
        about = {} if given[name] is True else given
        return {**about, "sort": sorts.get(name, Document.Sort.INSPECTION)}
