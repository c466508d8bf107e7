"""Orders, receipts, recalls and papers as forms; each is sent once."""

from datetime import date
from typing import Any, Final

from django import forms

from inventory.forms import OnceForm
from inventory.models import Award, ItemFile, ItemKind, Line, Order, Place
from inventory.services.recalls import patterns_in
from shared.models import Department

_DAY: Final = {"type": "date"}


def day_field(label: str, *, required: bool = False, help_text: str = "") -> forms.DateField:
    """Return a field for a day, in the years that records can be of."""

    def sensible(on: date) -> None:
        if not 1970 <= on.year <= 2200:
            raise forms.ValidationError("That is no day of our time.")

    return forms.DateField(
        label=label, required=required, help_text=help_text, widget=forms.DateInput(attrs=_DAY, format="%Y-%m-%d"),
        validators=[sensible], error_messages={"invalid": "Write the day as 2026-12-31."},
    )  # fmt: skip


def number_field(label: str, most: int = 1_000_000, **kwargs: Any) -> forms.IntegerField:
    """Return a field for a whole number from 1 on."""
    return forms.IntegerField(
        label=label, min_value=1, max_value=most, widget=forms.TextInput(attrs={"inputmode": "numeric", "size": 6}),
        error_messages={"invalid": "Write a whole number.", "min_value": "At least one."}, **kwargs,
    )  # fmt: skip


class OrderForm(OnceForm):
    """Something ordered against a shortage."""

    kind = forms.ModelChoiceField(ItemKind.objects.none(), label="What", empty_label="Choose a kind")
    quantity = number_field("How many")
    line = forms.ModelChoiceField(Line.objects.none(), label="For which line", required=False, empty_label="The store")
    supplier = forms.CharField(label="Supplier", max_length=120, required=False)
    reference = forms.CharField(label="Their number for it", max_length=60, required=False)
    expected_on = day_field("Expected on", help_text="As they gave it. Past that day, the line says that it is late.")
    unit_cost = forms.DecimalField(
        label="Cost of one, $", min_value=0, max_digits=12, decimal_places=2, required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )  # fmt: skip
    award = forms.ModelChoiceField(Award.objects.none(), label="Award that pays", required=False, empty_label="None")
    reason = forms.CharField(label="Why", max_length=240, required=False)

    def __init__(self, data: Any = None, *, department: Department, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        for name, model in (("kind", ItemKind), ("line", Line), ("award", Award)):
            self.fields[name].queryset = model.objects.filter(department=department)


class DateOrderForm(OnceForm):
    """The date that a supplier now gives."""

    expected_on = day_field("Now expected on", required=True)
    note = forms.CharField(label="Who said so", max_length=240, required=False)

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, prefix="dated", **kwargs)


class CancelForm(OnceForm):
    """No more of an order will come."""

    note = forms.CharField(label="Why", max_length=240, error_messages={"required": "Say why it ends."})

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, prefix="cancel", **kwargs)


class ReceiveForm(OnceForm):
    """What came: how many, where it was put, and what is printed on it."""

    quantity = number_field("How many came")
    place = forms.ModelChoiceField(Place.objects.none(), label="Put where", empty_label="Choose a place")
    lot_number = forms.CharField(
        label="Lot number", max_length=60, required=False, help_text="Off the box; “none” where none is printed."
    )
    expires_on = day_field("Expires on", help_text="Off the box; blank where none is printed.")
    serials = forms.CharField(
        label="Serials", required=False, max_length=20_000, widget=forms.Textarea(attrs={"rows": 4}),
        help_text="Off the plates, one to a line. What has none stamped is left out.",
    )  # fmt: skip
    note = forms.CharField(label="Note", max_length=240, required=False)

    def __init__(self, data: Any = None, *, order: Order, **kwargs: Any) -> None:
        super().__init__(data, prefix="receive", **kwargs)
        self.fields["place"].queryset = Place.objects.filter(department=order.department)
        for name in ("serials",) if order.kind.consumable else ("lot_number", "expires_on"):
            del self.fields[name]

    def clean_serials(self) -> list[str]:
        return [line.strip()[:80] for line in self.cleaned_data["serials"].splitlines() if line.strip()]


class HorizonForm(forms.Form):
    """The day that a shortage list is about."""

    on = day_field("Counting what is good on")


class RecallForm(OnceForm):
    """A maker's recall as its notice gives it."""

    reference = forms.CharField(label="Number or date of the notice", max_length=120)
    what = forms.CharField(label="What is wrong, in the maker’s words", max_length=300)
    remedy = forms.CharField(label="Remedy the notice asks for", max_length=300, required=False)
    kind = forms.ModelChoiceField(ItemKind.objects.none(), label="Kind", required=False, empty_label="Any kind")
    serials = forms.CharField(
        label="Serials", required=False, max_length=40_000, widget=forms.Textarea(attrs={"rows": 4}),
        help_text="One to a line; a trailing * stands for any ending. Of the kind, what has no serial is out too.",
    )  # fmt: skip
    lots = forms.CharField(
        label="Lot numbers", required=False, max_length=40_000, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One to a line; a trailing * stands for any ending.",
    )  # fmt: skip

    def __init__(self, data: Any = None, *, department: Department, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["kind"].queryset = ItemKind.objects.filter(department=department)

    def clean_serials(self) -> list[str]:
        return patterns_in(self.cleaned_data["serials"])

    def clean_lots(self) -> list[str]:
        return patterns_in(self.cleaned_data["lots"])


class ReleaseForm(forms.Form):
    """One thing brought back after its remedy; whoever sends this is the second name."""

    thing = forms.RegexField(r"^(item|lot)-\d{1,18}$", widget=forms.HiddenInput)
    remedy = forms.CharField(label="What was done", max_length=160, error_messages={"required": "Say what was done."})
    remedy_by = forms.CharField(
        label="Who did it", max_length=60, help_text="Not you: your name is the second one.",
        error_messages={"required": "Name who did it."},
    )  # fmt: skip


class FileForm(OnceForm):
    """A paper or photo of an item or of a kind."""

    file = forms.FileField(
        label="PDF or photo", widget=forms.ClearableFileInput(attrs={"accept": "application/pdf,image/*"}),
        error_messages={"required": "Choose the file first.", "empty": "That file is empty."},
    )  # fmt: skip
    sort = forms.ChoiceField(label="What it is", choices=[("", "Choose"), *ItemFile.Sort.choices])
    valid_until = day_field("Valid until", help_text="Where it says so.")
    note = forms.CharField(label="Note", max_length=240, required=False)

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, prefix="paper", **kwargs)
