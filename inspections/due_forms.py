"""What of the agenda is asked for: its period and its filters, on the page and over the API."""

from django import forms

from inspections.models import Procedure
from inspections.queries import Wanted
from inspections.queries.agenda import SORTS
from inventory.models import CrewMember, Item, ItemKind, Line, Place
from shared.models import Department

PERIODS = (
    ("overdue", "overdue"),
    ("7", "this week"),
    ("30", "the next 30 days"),
    ("90", "the next 90 days"),
    ("180", "the next 180 days"),
)
DAYS = {key: 0 if key == "overdue" else int(key) for key, _ in PERIODS}
FARTHEST = max(DAYS.values())


class DueForm(forms.Form):
    """A period, and a place, line, kind, check, sort or person."""

    when = forms.ChoiceField(label="When", choices=PERIODS, required=False)
    line = forms.ModelChoiceField(label="Line", queryset=Line.objects.none(), required=False, empty_label="any line")
    place = forms.ModelChoiceField(
        label="Place", queryset=Place.objects.none(), required=False, empty_label="any place"
    )
    kind = forms.ModelChoiceField(
        label="Kind", queryset=ItemKind.objects.none(), required=False, empty_label="any kind"
    )
    check = forms.ChoiceField(label="Check", required=False)
    sort = forms.ChoiceField(label="What", choices=[("", "everything"), *SORTS.items()], required=False)
    person = forms.ChoiceField(label="Whose", required=False)

    def __init__(self, *args: object, department: Department, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for name, model in (("line", Line), ("place", Place), ("kind", ItemKind)):
            self.fields[name].queryset = model.objects.filter(department=department)
        self.fields["kind"].queryset = self.fields["kind"].queryset.filter(items__isnull=False).distinct()
        names = Procedure.objects.filter(department=department).values_list("check_key", "name").order_by("name")
        self.fields["check"].choices = [("", "any check"), *dict(names).items()]
        custodians = (
            Item.objects.filter(department=department).exclude(custodian="").values_list("custodian", flat=True)
        )
        crew = CrewMember.objects.filter(department=department).values_list("name", flat=True)
        self.fields["person"].choices = [("", "anybody’s"), *((n, n) for n in sorted({*custodians, *crew}))]

    @property
    def days(self) -> int:
        """Return how many days ahead are asked for; 30 where nothing else is said."""
        return DAYS.get(self.cleaned_data.get("when") or "30", 30)

    @property
    def wanted(self) -> Wanted:
        given = self.cleaned_data
        return Wanted(
            place=given["place"],
            line=given["line"],
            kind=given["kind"],
            person=given["person"],
            check_key=given["check"],
            sort=given["sort"],
        )
