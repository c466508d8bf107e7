"""Forms about faults: one found by hand, one put right by hand, a risk accepted, photos."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from django import forms
from django.core.files.uploadedfile import UploadedFile

from inventory.forms import OnceForm
from inventory.models import FailureMode, Item, ItemKind
from shared.files import MOST_BYTES
from shared.models import Department

GRADES: Final = [
    ("I", "Impairment: its function is lost. It goes out of service at once."),
    ("C", "Critical deficiency: it works, with limits."),
    ("N", "Noncritical deficiency: it works."),
]
MOST_PHOTOS: Final = 8


class FaultForm(OnceForm):
    """A fault that somebody found without a check. The mode is one of those its kind can fail by."""

    mode_code = forms.ChoiceField(label="How it fails", error_messages={"required": "Choose how it fails."})
    grade = forms.ChoiceField(
        label="How grave", choices=GRADES, widget=forms.RadioSelect, error_messages={"required": "Say how grave it is."}
    )
    text = forms.CharField(
        label="What is wrong, and where on it",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say what is wrong."},
    )

    def __init__(self, data: Any = None, *, kind: ItemKind, modes: Mapping[str, FailureMode]) -> None:
        super().__init__(data, prefix="fault")
        named = [(code, f"{code} {modes[code].name}" if code in modes else code) for code in kind.mode_codes]
        self.fields["mode_code"].choices = [("", "Choose"), *named]


class FindItemForm(forms.Form):
    """Which item a fault is of, by its tag."""

    tag = forms.CharField(
        label="Tag of the item",
        max_length=60,
        error_messages={"required": "Type the tag."},
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )

    def __init__(self, data: Any = None, *, department: Department) -> None:
        super().__init__(data)
        self.department = department

    def clean_tag(self) -> Item:
        """Return the item that bears the tag."""
        tag = self.cleaned_data["tag"].strip()
        found = Item.objects.filter(department=self.department, tag__iexact=tag).first()
        if found is None:
            raise forms.ValidationError(f"No item bears the tag {tag}. Look it up in the Bay.")
        return found


class RestoreForm(OnceForm):
    """A statement that a fault which no check sees is gone."""

    statement = forms.CharField(
        label="What you saw that shows it is put right",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say what you saw."},
    )

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, prefix="restore")


class AcceptForm(OnceForm):
    """A named decision to run with a fault until a day."""

    until = forms.DateField(
        label="Until",
        widget=forms.DateInput(attrs={"type": "date"}),
        error_messages={"required": "Give the day it ends.", "invalid": "Write the day as 2026-12-12."},
    )
    reason = forms.CharField(
        label="Why, and under which conditions",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say why it may be run with."},
    )

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, prefix="accept")


class WithdrawForm(OnceForm):
    reason = forms.CharField(label="Why", max_length=300, error_messages={"required": "Say why."})

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, prefix="withdraw")


class PhotosForm(OnceForm):
    """Photos of one thing, several at once, and a word on them."""

    note = forms.CharField(label="What they show", max_length=200, required=False)

    def __init__(self, data: Any = None, files: Any = None) -> None:
        super().__init__(data, prefix="photo")
        self.sent: Sequence[UploadedFile] = files.getlist("photos") if files else []

    def clean(self) -> dict[str, Any]:
        """Hold the files to their number and size before any is read."""
        if not self.sent:
            self.add_error(None, "Choose or take a photo first.")
        for problem in wrong_with(self.sent):
            self.add_error(None, problem)
        return super().clean()


def wrong_with(files: Sequence[UploadedFile]) -> list[str]:
    """Return what is wrong with photos by their number and size."""
    if len(files) > MOST_PHOTOS:
        return [f"At most {MOST_PHOTOS} photos at once. Send the rest afterwards."]
    return [f"{file.name} is larger than 15 MB. Send a smaller one." for file in files if file.size > MOST_BYTES]
