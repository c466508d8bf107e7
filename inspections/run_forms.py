"""Runs, snaps and test faults as forms. Each is sent once, however often it is pressed; nothing names a casualty."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, Final

from django import forms
from django.db.models import QuerySet
from django.utils import timezone

from inspections.entry import read_entry
from inspections.forms import NOT_TRIED, OUT_OF_RANGE, Asked
from inspections.forms import _field as input_field
from inspections.models import Procedure, Run
from inspections.planting import may_be_planted
from inspections.queries.runs import RunSheet, expected_back
from inspections.runs import BOUNDS, MOST_LANES
from inspections.services.runs import CONTAMINATIONS, Return
from inspections.verdicts.core import ReadingError
from inventory.forms import OnceForm
from inventory.models import FailureMode, Item, Lot, Place
from shared.models import Department
from shared.templatetags.holdair import SIGNS

NO_NAMES: Final = "Equipment only: no casualty’s name, and nothing of anybody’s health."
# What the clock gives by itself is not asked again.
CLOCKED: Final = frozenset({*BOUNDS, "crew", "qualified"})


def _number(label: str, **more: Any) -> forms.FloatField:
    attrs = {"inputmode": "decimal", "autocomplete": "off", "size": 6}
    return forms.FloatField(label=label, error_messages=OUT_OF_RANGE, widget=forms.TextInput(attrs=attrs), **more)


def _when(label: str, **more: Any) -> forms.DateTimeField:
    widget = forms.DateTimeInput(attrs={"type": "datetime-local", "step": "1"}, format="%Y-%m-%dT%H:%M:%S")
    return forms.DateTimeField(label=label, widget=widget, **more)


class SendForm(OnceForm):
    """A line sent out, signed over."""

    sort = forms.ChoiceField(
        label="For", choices=Run.Sort.choices, widget=forms.RadioSelect,
        error_messages={"required": "Say whether it is an incident, a drill or a loan."},
    )  # fmt: skip
    title = forms.CharField(
        label="What it is called", max_length=160, help_text=NO_NAMES, error_messages={"required": "Give it a name."}
    )
    site = forms.CharField(label="Where to", max_length=160, required=False)
    accepted_by = forms.CharField(
        label="Who accepts it, by name", max_length=120,
        error_messages={"required": "A hand receipt names who accepts."},
    )  # fmt: skip
    organisation = forms.CharField(label="Of which organisation", max_length=160, required=False)
    note = forms.CharField(label="Note", max_length=300, required=False)
    plants_known = forms.BooleanField(label="I know of these test faults and send it all the same", required=False)


class EntryForm(OnceForm):
    """One row of a run sheet."""

    event = forms.CharField(max_length=20, widget=forms.HiddenInput)
    lane = forms.IntegerField(required=False, min_value=1, max_value=MOST_LANES)
    walking = forms.NullBooleanField(required=False)
    item = forms.ModelChoiceField(Item.objects.none(), required=False, empty_label="Choose an item")
    lot = forms.ModelChoiceField(Lot.objects.none(), required=False, empty_label="Choose a lot")
    number = _number("How much", required=False, min_value=0, max_value=999_999)
    unit = forms.CharField(max_length=12, required=False)
    text = forms.CharField(max_length=300, required=False)
    mode = forms.ChoiceField(label="Which failure, if it has a name", required=False)
    at = _when("When", required=False)

    def __init__(
        self,
        data: Any = None,
        *,
        run: Run,
        rows: Iterable[Mapping[str, Any]],
        modes: Iterable[tuple[str, str]] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        rows = list(rows)
        self.fields["item"].queryset = _of(Item, run.department, [r["item"] for r in rows if r.get("item")])
        self.fields["mode"].choices = [("", "None named"), *modes]
        self.fields["lot"].queryset = _of(Lot, run.department, [r["lot"] for r in rows if r.get("lot")])

    @property
    def said(self) -> dict[str, Any]:
        """Return what the service takes, less when it happened; the failure mode of a fault is its unit."""
        given = dict(self.cleaned_data)
        mode = given.pop("mode")
        return {key: value for key, value in given.items() if key not in ("at", "client_id")} | (
            {"unit": mode} if given["event"] == "fault" else {}
        )


def _of(model: type, department: Department, ids: list[int]) -> QuerySet:
    return model.objects.filter(department=department, pk__in=ids)


class AmendForm(OnceForm):
    """When something on the sheet really was."""

    at = _when("When it was", error_messages={"required": "Say when it was."})

    def clean_at(self) -> datetime:
        """Refuse what is still to come."""
        at = self.cleaned_data["at"]
        if at > timezone.now():
            raise forms.ValidationError("This is still to come. Say when it was.")
        return at


class ReceiveForm(OnceForm):
    """A line received back: what is missing, what was used, whether it is wet or may be contaminated.

    Args:
        sheet: the run with what it left with.
        procedure: the set-up drill in force; what its clock does not give may be read here.
    """

    handed_by = forms.CharField(
        label="Who hands it back, by name", max_length=120, error_messages={"required": "Say who hands it back."}
    )
    organisation = forms.CharField(label="Of which organisation", max_length=160, required=False)
    contamination = forms.ChoiceField(
        label="Contamination of the equipment", widget=forms.RadioSelect,
        choices=[(key, key.capitalize()) for key in CONTAMINATIONS],
        error_messages={"required": "Say whether the equipment may be contaminated."},
    )  # fmt: skip
    water_ran = forms.ChoiceField(
        label="Did water run?", widget=forms.RadioSelect, choices=[("yes", "Yes"), ("no", "No")],
        error_messages={"required": "Say whether anything got wet."},
    )  # fmt: skip
    note = forms.CharField(label="Note", max_length=300, required=False, help_text=NO_NAMES)

    def __init__(self, data: Any = None, *, sheet: RunSheet, procedure: Procedure | None) -> None:
        super().__init__(data)
        self.procedure = procedure
        self.items, self.lots = expected_back(sheet)
        for row in self.items:
            self.fields[f"item_{row['item']}"] = _came_back(f"{row['tag']} came back", row["quantity"])
            self.fields[f"unused_{row['item']}"] = forms.BooleanField(label=f"{row['tag']} not used", required=False)
        for row in self.lots:
            self.fields[f"lot_{row['lot']}"] = _came_back(f"{row['name']}, lot {row['tag']}, counted", 1_000_000)
        self.asked = [] if procedure is None else _not_clocked(procedure)
        for one in self.asked:
            self.fields[f"read_{one['key']}"] = input_field(one)

    @property
    def item_rows(self) -> list[tuple[Mapping[str, Any], forms.BoundField, forms.BoundField]]:
        return [(row, self[f"item_{row['item']}"], self[f"unused_{row['item']}"]) for row in self.items]

    @property
    def lot_rows(self) -> list[tuple[Mapping[str, Any], forms.BoundField]]:
        return [(row, self[f"lot_{row['lot']}"]) for row in self.lots]

    @property
    def readings(self) -> list[Asked]:
        """Return the readings of the set-up drill that no clock gives."""
        return [
            Asked(
                bound=self[f"read_{one['key']}"],
                sort=one["type"],
                unit=SIGNS.get(one["unit"], one["unit"]),
                required=False,
                help="",
                limit="",
            )  # fmt: skip
            for one in self.asked
        ]

    def clean(self) -> dict[str, Any]:
        """Read the readings as their procedure does, and put each refusal beside its field."""
        given = super().clean()
        self.values = {
            one["key"]: text
            for one in self.asked
            if (text := str(given.get(f"read_{one['key']}") or "").strip()) and text != NOT_TRIED
        }
        if self.values and self.procedure is not None:
            lenient = self.procedure.definition | {"needs_one_of": []}
            try:
                read_entry(lenient, self.values, today=timezone.localdate())
            except ReadingError as refused:
                for one in refused.every:
                    name = f"read_{one.key}"
                    self.add_error(name if name in self.fields else None, f"{one.problem}. {one.mend}")
        return given

    @property
    def came(self) -> Return:
        """Return what was said of the line, as the service takes it."""
        given = self.cleaned_data
        items = {row["item"]: given.get(f"item_{row['item']}") for row in self.items}
        lots = {row["lot"]: given.get(f"lot_{row['lot']}") for row in self.lots}
        return Return(
            contamination=given["contamination"],
            water_ran=given["water_ran"] == "yes",
            unused=frozenset(pk for pk in items if given.get(f"unused_{pk}")),
            items_back={pk: n for pk, n in items.items() if n is not None},
            lots_back={pk: n for pk, n in lots.items() if n is not None},
            readings=self.values,
        )


def _came_back(label: str, most: int) -> forms.IntegerField:
    attrs = {"inputmode": "numeric", "autocomplete": "off", "size": 5}
    errors = {
        "invalid": "Write a whole number; leave it empty where all came back.",
        "min_value": "0 where none came back.",
        "max_value": "No more than %(limit_value)s left. Count again.",
    }
    return forms.IntegerField(
        label=label, required=False, min_value=0, max_value=most, error_messages=errors,
        widget=forms.TextInput(attrs=attrs),
    )  # fmt: skip


def _not_clocked(procedure: Procedure) -> list[Mapping[str, Any]]:
    return [one for one in procedure.definition["inputs"] if one["key"] not in CLOCKED]


class ItemsForm(OnceForm):
    """Some of the things on the wet clock."""

    items = forms.ModelMultipleChoiceField(
        Item.objects.none(),
        error_messages={
            "required": "Choose at least one thing.",
            "invalid_choice": "One of these is not on the clock any more. Choose again.",
            "invalid_pk_value": "One of these is no item.",
        },
    )

    def __init__(self, data: Any = None, *, department: Department, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["items"].queryset = Item.objects.filter(department=department).select_related("kind", "department")


class PackForm(ItemsForm):
    """Dry things packed."""

    drained = forms.ChoiceField(
        label="All water drained", widget=forms.RadioSelect, choices=[("yes", "Yes"), ("no", "No")],
        error_messages={"required": "Say whether it is drained."},
    )  # fmt: skip
    mould = forms.ChoiceField(
        label="Mould or odour", widget=forms.RadioSelect, choices=[("none", "None"), ("seen", "Seen")],
        error_messages={"required": "Look in the folds, and say what was found."},
    )  # fmt: skip
    rh_pct = _number("Humidity where it dried, %", required=False, min_value=0, max_value=100)
    place = forms.ModelChoiceField(
        Place.objects.none(), label="Into", required=False, empty_label="No sealed container"
    )
    seal = forms.CharField(label="Seal number", max_length=40, required=False)

    def __init__(self, data: Any = None, *, department: Department, **kwargs: Any) -> None:
        super().__init__(data, department=department, **kwargs)
        containers = Place.objects.filter(department=department, sort=Place.Sort.CONTAINER)
        self.fields["place"].queryset = containers

    @property
    def radios(self) -> list[forms.BoundField]:
        return [self["drained"], self["mould"]]

    def clean(self) -> dict[str, Any]:
        """Hold a seal to the container that it closes."""
        given = super().clean()
        if bool(given.get("place")) != bool((given.get("seal") or "").strip()):
            where = "place" if given.get("seal") else "seal"
            self.add_error(where, "A seal has its container and its number; give both or neither.")
        return given


class ClearForm(ItemsForm):
    """A clearance from quarantine: how, with what reading, by whom."""

    contamination = forms.ChoiceField(
        label="It was", choices=[("suspected", "Suspected"), ("confirmed", "Confirmed")], widget=forms.RadioSelect,
        error_messages={"required": "Say whether contamination was suspected or confirmed."},
    )  # fmt: skip
    method = forms.CharField(
        label="How it was cleared", max_length=80, error_messages={"required": "Name the method."},
        help_text="Instrument, paper or laboratory.",
    )  # fmt: skip
    reading = forms.CharField(label="What it read", max_length=80, error_messages={"required": "Give the reading."})
    cleared_by = forms.CharField(
        label="Cleared by, by name", max_length=80, error_messages={"required": "A clearance is by name."},
        help_text="Not whoever packed it.",
    )  # fmt: skip


class DrawForm(OnceForm):
    """A draw. Its seed is made as it is drawn, so that nobody can choose what comes."""


class AnswerForm(OnceForm):
    """What came of a snap."""

    answer = forms.ChoiceField(choices=[(key, key) for key in ("hand", "works", "missing")], widget=forms.HiddenInput)
    note = forms.CharField(label="Where it was looked for", max_length=240, required=False)

    def clean(self) -> dict[str, Any]:
        """Ask where it was looked for, so that somebody can follow up."""
        given = super().clean()
        if given.get("answer") == "missing" and not (given.get("note") or "").strip():
            self.add_error("note", "Say where it was looked for, so that it can be followed up.")
        return given


class PlantForm(OnceForm):
    """A hidden test fault on one item."""

    fault = forms.ChoiceField(
        label="Which check should find what", widget=forms.RadioSelect,
        error_messages={"required": "Choose the check and the failure it should find."},
    )  # fmt: skip
    what = forms.CharField(
        label="What was hidden or changed, exactly", max_length=300, widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say exactly what was done, so that it can be undone."},
    )  # fmt: skip

    def __init__(
        self, data: Any = None, *, item: Item, modes: Mapping[str, FailureMode], names: Mapping[str, str]
    ) -> None:
        super().__init__(data)
        self.fields["fault"].choices = [
            (f"{check} {code}", f"{names.get(check, check)}: {modes[code].name if code in modes else code}")
            for check, code in may_be_planted(item.kind.key, item.kind.checks)
        ]

    @property
    def said(self) -> dict[str, str]:
        check, code = self.cleaned_data["fault"].split()
        return {"check_key": check, "mode_code": code, "what": self.cleaned_data["what"]}


class RemoveForm(OnceForm):
    note = forms.CharField(label="What was put right", max_length=240, required=False)
