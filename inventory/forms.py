"""Postings, states and counts as forms. Each carries its sender's own id, so that a double press records once."""

import uuid
from typing import Any, Final

from django import forms

from inventory.models import Line, Place, Seal, StateEvent
from shared.models import Department

Event = StateEvent.Event
# By hand: what a failed check takes out is restored by the same check, and disposal is recorded with its papers.
BY_HAND: Final = (
    Event.ACCEPTED, Event.BOXED, Event.QUARANTINED, Event.WET, Event.DRYING, Event.PACKED, Event.LENT,
    Event.RETURNED, Event.CONDEMNED,
)  # fmt: skip
NEEDS_REASON: Final = frozenset({Event.ACCEPTED, Event.QUARANTINED, Event.LENT, Event.CONDEMNED})


class OnceForm(forms.Form):
    """A form that is sent once: ``client_id`` is made with the page and comes back with it."""

    OTHER = "Something else was recorded from this form already. Press again to record this as well."

    client_id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.initial.setdefault("client_id", uuid.uuid4())

    def say_other(self) -> None:
        """Say that this form recorded something else before; pressed again, it records this as well."""
        self.add_error(None, self.OTHER)
        self.data = {**self.data.dict(), self.add_prefix("client_id"): str(uuid.uuid4())}


class MoveForm(OnceForm):
    """Where an item stands from now on."""

    place = forms.ModelChoiceField(Place.objects.none(), label="Place", empty_label="Choose a place")
    line = forms.ModelChoiceField(Line.objects.none(), label="Line", required=False, empty_label="On no line")
    note = forms.CharField(label="Why", max_length=240, required=False)

    def __init__(self, data: Any = None, *, department: Department, **kwargs: Any) -> None:
        super().__init__(data, prefix="move", **kwargs)
        self.fields["place"].queryset = Place.objects.filter(department=department)
        self.fields["line"].queryset = Line.objects.filter(department=department)


class StateForm(OnceForm):
    """Something that changed whether an item counts."""

    event = forms.ChoiceField(label="What happened", choices=[("", "Choose"), *((e.value, e.label) for e in BY_HAND)])
    reason = forms.CharField(
        label="Why, and who said so",
        max_length=240,
        required=False,
        help_text="A clearance from quarantine is given under After use, by name and with its reading.",
    )

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, prefix="state", **kwargs)

    def clean(self) -> dict[str, Any]:
        """Ask for a reason where the next reader will."""
        values = super().clean()
        if values.get("event") in NEEDS_REASON and not values.get("reason", "").strip():
            self.add_error("reason", "Say why, and on whose word.")
        return values


class CountForm(OnceForm):
    """How many of a lot were counted on one line, or in the store."""

    counted = forms.IntegerField(
        label="Counted",
        min_value=0,
        max_value=1_000_000,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": 6}),
        error_messages={
            "invalid": "Write a whole number; 0 means none is there.",
            "min_value": "A count is never less than 0; 0 means none is there.",
            "max_value": "That is more than a million. Count again.",
        },
    )
    line = forms.ModelChoiceField(Line.objects.none(), required=False, widget=forms.HiddenInput)
    note = forms.CharField(label="Note", max_length=240, required=False)

    def __init__(self, data: Any = None, *, department: Department, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["line"].queryset = Line.objects.filter(department=department)


class SealForm(OnceForm):
    """How a container's seal is found, or a new one. The number is read off the seal: none is filled in."""

    event = forms.ChoiceField(
        label="The seal was", choices=Seal.Event.choices, widget=forms.RadioSelect,
        error_messages={"required": "Say how the seal was found, or that it was applied."},
    )  # fmt: skip
    number = forms.CharField(
        label="Number on the seal", max_length=40, error_messages={"required": "Read the number off the seal."},
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )  # fmt: skip
    note = forms.CharField(label="Note", max_length=240, required=False)
