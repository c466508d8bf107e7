"""A check as a form, made from its procedure; walks, repairs and states by hand.

Every form carries its sender's own id, so that a double press or a resent page records once. No field is filled in
with an earlier reading: a number that nobody read is worse than none.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from django import forms
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from inspections.entry import read_entry
from inspections.models import Deficiency, Inspection, Procedure
from inspections.page_limits import capital, limit_beside, own_bounds
from inspections.shown import entered, foreign, with_unit
from inspections.verdicts.core import ReadingError
from inspections.verdicts.look import YES
from inventory.forms import OnceForm
from inventory.models import Item, Limit
from shared.templatetags.holdair import spoken
from shared.units import SIGNS, to_reader

NOT_TRIED: Final = "not tried"
SAID: Final = "__said"  # the words behind a choice that only says something was seen
# What a look asks only of a kind with a mode that it speaks of: nobody looks for the tyres of a shelter.
SPEAKS_OF: Final[dict[str, set[str]]] = {
    "holes": {"TP1", "SH8"},
    "droppings": {"SH8"},
    "seam_lift_in": {"SH3"},
    "caps": {"FV2"},
    "caps_of": {"FV2"},
}
for _code, (_key, *_) in YES.items():
    SPEAKS_OF.setdefault(_key, set()).add(_code)
OUT_OF_RANGE: Final = {
    "invalid": "Write a number, such as 2 or 1.5.",
    "min_value": "This is never less than 0.",
    "max_value": "This is more than %(limit_value)s. Read it again.",
}
LONGEST: Final = timedelta(days=2)  # a page left open longer than this says nothing about when a check began


@dataclass(frozen=True)
class Asked:
    """One input as its step shows it."""

    bound: forms.BoundField
    sort: str
    unit: str
    required: bool
    help: str
    limit: str
    was: str = ""  # what the corrected record says
    said: forms.BoundField | None = None

    @property
    def is_radio(self) -> bool:
        return self.sort in ("yes_no", "choice")

    @property
    def described_by(self) -> str:
        """Return the ids of what explains the field, for a screen reader."""
        parts = {"hint": self.help, "unit": self.unit, "limit": self.limit, "was": self.was, "error": self.bound.errors}
        return " ".join(f"{self.bound.auto_id}_{name}" for name, text in parts.items() if text)


@dataclass(frozen=True)
class Step:
    """One step: what to do, what endangers whoever does it, and what to read."""

    text: str
    caution: str
    inputs: list[Asked]


class CheckForm(OnceForm):
    """The inputs of one procedure, step by step.

    Args:
        procedure: the version in force.
        limits: of the thing's kind, by key.
        item: what is checked, where it is an item.
        uses_si: whether numbers are asked for, bounded and understood in metric units.
        corrects: the record that this one replaces; its readings are shown and may be changed.
    """

    opened_at = forms.CharField(widget=forms.HiddenInput, required=False)
    remark = forms.CharField(label="Remark", max_length=300, required=False, widget=forms.Textarea(attrs={"rows": 2}))
    happened = forms.DateTimeField(
        label="Done earlier? Say when",
        required=False,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text="Leave it empty where the check has just been done.",
    )

    def __init__(
        self,
        data: Any = None,
        *,
        procedure: Procedure,
        now: datetime,
        limits: Mapping[str, Limit],
        item: Item | None = None,
        uses_si: bool = False,
        corrects: Inspection | None = None,
    ) -> None:
        self.procedure, self.now, self.uses_si, self.corrects = procedure, now, uses_si, corrects
        self.limits, self.spec = limits, item.spec if item else {}
        self.kept = _kept(corrects)
        super().__init__(data, initial={"opened_at": now.isoformat()} | _initial(procedure, self.kept, uses_si))
        self.asked = {a["key"]: a for a in (*self._own(item), *self._common(item))}
        for key, asked in self.asked.items():
            self.fields[key] = _field(asked)
            if key == "instrument":
                self.fields[key].widget.attrs["list"] = "meters"
            if _can_say(asked):
                self.fields[key + SAID] = forms.CharField(
                    label="If seen: what, in a word", max_length=200, required=False
                )
        if corrects is not None:
            self.fields["remark"].label = "What was wrong with the record"
            self.fields["remark"].required = True
            self.fields["remark"].error_messages["required"] = "Say what was wrong with it."
            self.fields["happened"].label = "When the check was done"
            self.fields["happened"].help_text = ""
            self.initial["happened"] = corrects.happened_at

    def _own(self, item: Item | None) -> Iterator[Mapping[str, Any]]:
        """Give the inputs of the procedure; a look asks of a thing only what its kind can show."""
        visible = item.kind.checks.get("look", ()) if item is not None else ()
        for asked in self.procedure.definition["inputs"]:
            key = asked["key"]
            fits = key not in SPEAKS_OF or not SPEAKS_OF[key].isdisjoint(visible)
            if fits or item is None or key in self.kept or self.procedure.check_key != "look":
                yield asked

    def _common(self, item: Item | None) -> Iterator[Mapping[str, Any]]:
        """Give the inputs that every check has, less what makes no sense of this thing."""
        for asked in self.procedure.definition.get("common_inputs", ()):
            if asked["key"] in self.kept or asked["key"] in self._fitting(item):
                yield asked

    def _fitting(self, item: Item | None) -> set[str]:
        fitting = {"instrument", "result", "void_reason"}
        if all(asked["key"] != "ambient_degF" for asked in self.procedure.definition["inputs"]):
            fitting.add("ambient_degF")
        if item is not None and item.kind.serialised:
            fitting.add("acceptance")
        elif item is not None and self.procedure.check_key != "count":
            fitting.add("units")
        return fitting

    # What the template draws.

    @property
    def steps(self) -> list[Step]:
        """Return the steps in order, each with its inputs; an input that no step names comes with the last one."""
        definition = self.procedure.definition
        named = {key for step in definition["steps"] for key in step["inputs"]}
        left = [a["key"] for a in definition["inputs"] if a["key"] not in named and a["key"] in self.asked]
        steps = [
            Step(
                step["text"], step.get("caution", ""), [self._asked(key) for key in step["inputs"] if key in self.asked]
            )
            for step in definition["steps"]
        ]
        return [*steps, Step("Whatever else was read.", "", [self._asked(key) for key in left])] if left else steps

    @property
    def common(self) -> list[Asked]:
        own = {a["key"] for a in self.procedure.definition["inputs"]}
        return [self._asked(key) for key in self.asked if key not in own]

    @property
    def wants(self) -> list[str]:
        """Return the labels of those inputs of which at least one must be given."""
        wanted = self.procedure.definition.get("needs_one_of") or ()
        return [self.asked[key]["label"] for key in wanted if key in self.asked]

    def _asked(self, key: str) -> Asked:
        asked = self.asked[key]
        _, unit = to_reader(0.0, asked.get("unit", ""), self.uses_si)
        shown = Asked(
            bound=self[key],
            sort=asked["type"],
            unit=SIGNS.get(unit, unit),
            required=bool(asked.get("required")),
            help=asked.get("help", ""),
            limit=own_bounds(asked, self.uses_si)
            or limit_beside(self.procedure.check_key, key, self.limits, self.spec, self.uses_si),
            was=" ".join(entered(self.kept[key], self.uses_si)).strip() if key in self.kept else "",
            said=self[key + SAID] if key + SAID in self.fields else None,
        )
        if shown.described_by and not shown.is_radio:
            self.fields[key].widget.attrs["aria-describedby"] = shown.described_by
        return shown

    @property
    def wrong(self) -> list[tuple[str, str, str]]:
        """Return (id of the field, its label, what is wrong) of every error, for the summary on top."""
        return [
            (self[name].id_for_label or f"id_{name}_0", self.fields[name].label or name, error)
            for name, errors in self.errors.items()
            if name != "__all__" and name in self.fields
            for error in errors
        ]

    # What comes back.

    def clean(self) -> dict[str, Any]:
        """Read every value as its procedure does, and put each refusal beside its field."""
        given = super().clean()
        self.values = {key: value for key in self.asked if (value := self._value(key, given))}
        self._check_happened(given)
        try:
            today = timezone.localdate(self.happened_at)
            read_entry(self.procedure.definition, self.values, today=today, si=self.uses_si)
        except ReadingError as refused:
            for one in refused.every:
                self._refuse(one)
        if self.corrects is not None and not self.errors and not self._differs():
            self.add_error(
                None, "Nothing differs from the record. Change the reading that is wrong, or leave it as it is."
            )
        return given

    def _value(self, key: str, given: Mapping[str, Any]) -> str:
        value = str(given.get(key) or "").strip()
        said = str(given.get(key + SAID) or "").strip()
        if self.asked[key]["type"] == "number":
            return with_unit(value, self.asked[key].get("unit", ""), self.uses_si)
        if said and value in ("", "seen", NOT_TRIED):
            return said
        return "" if value == NOT_TRIED else value

    def _refuse(self, one: ReadingError) -> None:
        if one.problem == "nothing was read":
            self.add_error(None, f"Nothing was read yet. Give at least one of: {', '.join(self.wants).lower()}.")
            return
        self.add_error(one.key if one.key in self.fields else None, spoken(f"{capital(one.problem)}. {one.mend}"))

    def _check_happened(self, given: Mapping[str, Any]) -> None:
        if (at := given.get("happened")) and at > self.now:
            self.add_error("happened", "This is still to come. Say when it was done.")

    @property
    def happened_at(self) -> datetime:
        """Return when the check ended: now, unless it was done earlier; of a correction, when the record says."""
        said = self.cleaned_data.get("happened")
        if self.corrects is not None:
            was = self.corrects.happened_at
            # The field shows minutes; the record's own instant is kept where they were left as they are.
            return was if said is None or said == was.replace(second=0, microsecond=0) else said
        return min(said, self.now) if said else self.now

    @property
    def started_at(self) -> datetime | None:
        """Return when the page was opened, where that says anything of the check."""
        if self.corrects is not None:
            return self.corrects.started_at
        opened = _instant(self.cleaned_data.get("opened_at", ""))
        if self.cleaned_data.get("happened") or opened is None or not self.now - LONGEST <= opened <= self.now:
            return None
        return opened

    def _differs(self) -> bool:
        was = {key: str(value) for key, value in _initial_values(self.kept, self.uses_si).items()}
        return self.values != was or self.happened_at != self.corrects.happened_at


def _instant(text: str) -> datetime | None:
    try:
        at = parse_datetime(text)
    except ValueError:
        return None
    return at if at is not None and timezone.is_aware(at) else None


def _kept(corrects: Inspection | None) -> dict[str, Any]:
    return {reading.key: reading for reading in corrects.readings.all()} if corrects else {}


def _initial_values(kept: Mapping[str, Any], uses_si: bool) -> dict[str, str]:
    """Return what a record says by key, as the form would send it: numbers as written, words as understood.

    A number that was written in a unit which this reader is not asked for says it.
    """
    return {
        key: (foreign(r.as_entered, r.unit, uses_si) if r.number is not None else r.text) or r.as_entered
        for key, r in kept.items()
    }


def _initial(procedure: Procedure, kept: Mapping[str, Any], uses_si: bool) -> dict[str, str]:
    choices = {a["key"]: a.get("choices") for a in procedure.definition["inputs"]}
    initial = {}
    for key, value in _initial_values(kept, uses_si).items():
        offered = choices.get(key)
        if offered and value not in offered and "seen" in offered:
            initial |= {key: "seen", key + SAID: value}
        else:
            initial[key] = value
    return initial


def _can_say(asked: Mapping[str, Any]) -> bool:
    return asked["type"] == "choice" and "seen" in asked["choices"]


def _field(asked: Mapping[str, Any]) -> forms.Field:
    """Return the form field of one input. What is required is refused by the procedure, with its own words."""
    label, sort = asked["label"], asked["type"]
    if sort == "yes_no":
        choices = [("yes", "Yes"), ("no", "No"), (NOT_TRIED, "Not tried")]
        return forms.ChoiceField(label=label, choices=choices, widget=forms.RadioSelect, required=False)
    if sort == "choice":
        # A word that an older record used is shown as it was.
        choices = [*((c, "AGM" if c == "agm" else c.capitalize()) for c in asked["choices"]), (NOT_TRIED, "Not looked")]
        return _AnyChoice(label=label, choices=choices, widget=forms.RadioSelect, required=False)
    attrs = {"autocomplete": "off", "maxlength": "200"}
    if sort in ("number", "integer"):
        attrs |= {"inputmode": "decimal" if sort == "number" else "numeric", "enterkeyhint": "next", "maxlength": "40"}
    if sort == "date":
        attrs |= {"placeholder": "2026-03-14"}
    return forms.CharField(label=label, max_length=200, required=False, widget=forms.TextInput(attrs=attrs))


class _AnyChoice(forms.ChoiceField):
    """Choices to tap; whether another word may stand for one of them is for the procedure to say."""

    def valid_value(self, value: str) -> bool:
        return True


# Walks -------------------------------------------------------------------------------------------------------------


class OpenWalkForm(OnceForm):
    place = forms.IntegerField(widget=forms.HiddenInput)


class SeenForm(OnceForm):
    item = forms.IntegerField(widget=forms.HiddenInput)


class SignForm(forms.Form):
    """A signature: the name, typed, under the statement."""

    signed_name = forms.CharField(
        label="Your name",
        max_length=120,
        error_messages={"required": "Sign with your name."},
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "words"}),
    )
    note = forms.CharField(
        label="Note for whoever reads this", max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )


# Work on an item ---------------------------------------------------------------------------------------------------


class RepairForm(OnceForm):
    """Work done on an item. It proves nothing."""

    what = forms.CharField(
        label="What was done", max_length=300, error_messages={"required": "Say what was done to it."}
    )
    deficiency = forms.ModelChoiceField(
        Deficiency.objects.none(), label="For which fault", required=False, empty_label="None of those open"
    )
    cause = forms.CharField(label="Cause", max_length=200, required=False)
    parts = forms.CharField(label="Parts", max_length=200, required=False)
    vendor = forms.CharField(label="Done by which vendor, if not by us", max_length=120, required=False)
    hours = forms.FloatField(
        label="Hours of work", required=False, min_value=0, max_value=10_000, error_messages=OUT_OF_RANGE,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )  # fmt: skip
    cost = forms.DecimalField(
        label="Cost, $",
        required=False,
        min_value=0,
        error_messages=OUT_OF_RANGE,
        max_digits=10,
        decimal_places=2,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )

    def __init__(self, data: Any = None, *, item: Item, faults: list[Deficiency]) -> None:
        super().__init__(data, prefix="repair")
        field = self.fields["deficiency"]
        field.queryset = Deficiency.objects.filter(item=item, pk__in=[fault.pk for fault in faults])
        field.label_from_instance = lambda fault: f"{fault.mode_code}: {fault.text[:60]}"
        if not faults:
            del self.fields["deficiency"]


class ByHandForm(OnceForm):
    """Out of service, or back, on somebody's word."""

    reason = forms.CharField(label="Why", max_length=240, error_messages={"required": "Say why."})

    def __init__(self, data: Any = None, *, prefix: str) -> None:
        super().__init__(data, prefix=prefix)


class UpkeepForm(OnceForm):
    """A use or a refill: what use reopens must be proven again."""

    sort = forms.ChoiceField(
        label="What", choices=[("used", "Used"), ("refilled", "Refilled")], widget=forms.RadioSelect
    )
    hours = forms.FloatField(
        label="For hours", required=False, min_value=0, max_value=10_000, error_messages=OUT_OF_RANGE
    )
    to_lb = forms.FloatField(
        label="Filled to, lb", required=False, min_value=0, max_value=1000, error_messages=OUT_OF_RANGE
    )
    note = forms.CharField(label="Note", max_length=240, required=False)

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, prefix="upkeep")
        for name in ("hours", "to_lb"):
            self.fields[name].widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
