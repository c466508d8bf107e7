"""The catalogue as forms: procedures in the department's own words, limits, intervals, what checks see, meters."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django import forms

from inspections.models import Procedure
from inspections.queries.instruments import QUANTITIES
from inspections.services.amending import SORTS, key_of
from inspections.verdicts.own import BOUNDS
from inventory.forms import OnceForm
from inventory.models import FailureMode, ItemKind
from inventory.services.catalogue import MOST_GRACE_DAYS, MOST_MONTHS
from shared.api import Conflict

NEW_STEPS, NEW_INPUTS = 2, 2
OWN_STEPS, OWN_INPUTS = 4, 6
SORT_WORDS: Final = {"number": "a number", "yes_no": "yes or no", "text": "words"}
BOUND_WORDS: Final = {
    "pass_low": "Passes from",
    "pass_high": "Passes to",
    "limits_low": "With limits from",
    "limits_high": "With limits to",
}
ORIGINS: Final = [
    ("maker", "The maker's figure"),
    ("policy", "The department's own policy"),
    ("guidance", "Guidance or a standard"),
    ("law", "Law"),
]
NUMBER: Final = {"inputmode": "decimal", "autocomplete": "off", "size": 8}


def words(label: str, *, required: bool = False, most: int = 300, rows: int = 0, **more: Any) -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": rows}) if rows else forms.TextInput()
    return forms.CharField(label=label, required=required, max_length=most, widget=widget, **more)


def number(label: str, **more: Any) -> forms.FloatField:
    field = forms.FloatField(label=label, required=False, widget=forms.TextInput(attrs=NUMBER), **more)
    field.error_messages["invalid"] = "Write a number, such as 2 or 1.5."
    return field


def plain(value: float | None) -> str:
    """Return a number as it is typed: 5 and not 5.0."""
    return "" if value is None else f"{value:g}"


def day(label: str, help_text: str = "") -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, widget=widget, help_text=help_text)


class Refusable(forms.Form):
    """A form that a service may refuse: its words stand beside the field they are about, and nothing typed is lost."""

    def refuse(self, refused: Conflict) -> None:
        text = f"{refused} {refused.mend}".strip()
        self.add_error(self.field_of(refused.where), text)

    def field_of(self, where: str) -> str | None:
        return where if where in self.fields else None

    @property
    def wrong(self) -> list[tuple[str, str, str]]:
        """Return (id, label, error) of every field that is refused, for the summary on top."""
        return [
            (self[name].id_for_label, str(self.fields[name].label or name), error)
            for name, errors in self.errors.items()
            if name in self.fields
            for error in errors
        ]


@dataclass(frozen=True)
class StepFields:
    """The fields of one step, with those of the readings taken in it."""

    number: str
    fields: list[forms.BoundField]
    inputs: list["InputFields"]


@dataclass(frozen=True)
class InputFields:
    """The fields of one reading."""

    title: str
    fixed: str  # what cannot be changed of it, in words
    fields: list[forms.BoundField]


class _OwnInputs(Refusable):
    """Rows for readings that the department asks for itself."""

    def _add_rows(self, prefix: str, count: int) -> None:
        for n in range(count):
            at = f"{prefix}_{n}"
            self.fields[f"{at}_label"] = words("What is read", most=120)
            sorts = [("", "Choose"), *((sort, SORT_WORDS[sort]) for sort in SORTS)]
            self.fields[f"{at}_type"] = forms.ChoiceField(label="As", choices=sorts, required=False)
            self.fields[f"{at}_unit"] = words("Unit", most=12)
            self.fields[f"{at}_help"] = words("Help beside it")
            self._add_expected(at)
            self.fields[f"{at}_required"] = forms.BooleanField(label="Must be read", required=False)

    def _add_expected(self, at: str, old: Mapping[str, Any] | None = None) -> None:
        old = old or {}
        if not old or old["type"] == "yes_no":
            choices = [("", "Nothing"), ("yes", "Yes"), ("no", "No")]
            self.fields[f"{at}_expected"] = forms.ChoiceField(
                label="Right answer, of a yes or no", choices=choices, required=False, initial=old.get("expected", "")
            )
        if not old or old["type"] == "number":
            for bound, label in BOUND_WORDS.items():
                self.fields[f"{at}_{bound}"] = number(label, initial=plain(old.get(bound)))

    def _row(self, at: str) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith(f"{at}_")]

    def _said(self, at: str, names: Sequence[str]) -> dict[str, Any]:
        return {name: self.cleaned_data[f"{at}_{name}"] for name in names if f"{at}_{name}" in self.cleaned_data}

    def _new_inputs(self, prefix: str, count: int) -> list[dict[str, Any]]:
        names = ("label", "type", "unit", "help", "required", "expected", *BOUNDS)
        rows = [self._said(f"{prefix}_{n}", names) for n in range(count)]
        return [row for row in rows if row.get("label")]

    def new_rows(self) -> list[InputFields]:
        """Return the rows that are still empty, for the template."""
        return [InputFields(f"Reading {n + 1}", "", self._row(f"new_{n}")) for n in range(self.rows)]

    rows = NEW_INPUTS


class ProcedureForm(_OwnInputs):
    """One procedure, all of its words, and what the department asks beside what our verdict reads."""

    base = forms.IntegerField(widget=forms.HiddenInput)
    name = words("Name of the check", required=True, most=80)
    first = words("Said above the first step", required=True, rows=2)
    restores = words("What restores after a failure", rows=2)
    void_when = words("What makes it void, one to a line", most=3000, rows=3)
    effective_on = day("In force from", "Today or later. What was recorded before keeps its version.")
    origin = words("Whose words these are", most=200, help_text="A manual and its page, a policy and its date.")
    reason = words(
        "Why, where a caution is taken away", rows=2, help_text="Kept with your name. In other words is no removal."
    )

    def __init__(self, data: Any = None, *, procedure: Procedure, today: date) -> None:
        self.procedure = procedure
        told = procedure.definition
        initial = {
            "base": procedure.version,
            "name": told["name"],
            "first": told["first"],
            "restores": told.get("restores", ""),
            "void_when": "\n".join(told.get("void_when", ())),
            "effective_on": max(today, procedure.effective_on),
        }
        super().__init__(data, initial=initial)
        for n, step in enumerate(told["steps"]):
            self._add_step(str(n), step)
        for n in range(NEW_STEPS):
            self._add_step(f"new{n}", {})
            places = [("", "at the end"), *((str(i), f"before step {i + 1}") for i in range(len(told["steps"])))]
            self.fields[f"step_new{n}_place"] = forms.ChoiceField(label="Where", choices=places, required=False)
        for asked in told["inputs"]:
            self._add_input(asked)
        self._add_rows("new", NEW_INPUTS)
        for n in range(NEW_INPUTS):
            choices = [(str(i), f"in step {i + 1}") for i in range(len(told["steps"]))]
            self.fields[f"new_{n}_step"] = forms.ChoiceField(label="Read", choices=choices, required=False)

    def _add_step(self, at: str, step: Mapping[str, Any]) -> None:
        self.fields[f"step_{at}_text"] = words("What to do", rows=2, initial=step.get("text", ""))
        self.fields[f"step_{at}_caution"] = words("Caution on this step", rows=2, initial=step.get("caution", ""))

    def _add_input(self, asked: Mapping[str, Any]) -> None:
        at = f"in_{asked['key']}"
        self.fields[f"{at}_label"] = words("Label", most=120, initial=asked["label"])
        self.fields[f"{at}_help"] = words("Help", initial=asked.get("help", ""))
        if asked.get("own"):
            self._add_expected(at, asked)
            self.fields[f"{at}_gone"] = forms.BooleanField(label="Ask for it no more", required=False)
        elif asked["type"] in ("number", "integer"):
            self.fields[f"{at}_least"] = number("Refused below", initial=plain(asked.get("least")))
            self.fields[f"{at}_most"] = number("Refused above", initial=plain(asked.get("most")))
        needed = bool(asked.get("required")) and not asked.get("own")
        self.fields[f"{at}_required"] = forms.BooleanField(
            label="Must be read" + (": the verdict needs it" if needed else ""),
            required=False,
            initial=bool(asked.get("required")),
        )

    # What the template draws.

    def steps(self) -> Iterator[StepFields]:
        """Give each step in order, with the readings taken in it; what no step names comes with the last one."""
        told = self.procedure.definition
        asked = {one["key"]: one for one in told["inputs"]}
        named = {key for step in told["steps"] for key in step["inputs"]}
        left = [key for key in asked if key not in named]
        for n, step in enumerate(told["steps"]):
            keys = [*step["inputs"], *(left if n == len(told["steps"]) - 1 else ())]
            fields = [self[f"step_{n}_text"], self[f"step_{n}_caution"]]
            yield StepFields(str(n + 1), fields, [self._input_fields(asked[key]) for key in keys])

    def _input_fields(self, asked: Mapping[str, Any]) -> InputFields:
        unit = f" in {asked['unit']}" if asked.get("unit") else ""
        sort = {"integer": "whole number", "yes_no": "yes or no", "choice": "one of a list"}.get(
            asked["type"], asked["type"]
        )
        return InputFields(asked["label"], f"{sort}{unit}", self._row(f"in_{asked['key']}"))

    def _row(self, at: str) -> list[forms.BoundField]:
        tails = ("label", "type", "unit", "help", "expected", *BOUNDS, "least", "most", "required", "step", "gone")
        return [self[f"{at}_{tail}"] for tail in tails if f"{at}_{tail}" in self.fields]

    def new_steps(self) -> list[list[forms.BoundField]]:
        return [[self[f"step_new{n}_{tail}"] for tail in ("place", "text", "caution")] for n in range(NEW_STEPS)]

    # What comes back.

    def field_of(self, where: str) -> str | None:
        """Return the field that a refusal is about; one of a reading stands at its label."""
        at = {"steps": "step_0_text", "inputs": "new_0_label"}.get(where, where)
        return at if at in self.fields else f"in_{where}_label" if f"in_{where}_label" in self.fields else None

    @property
    def definition(self) -> dict[str, Any]:
        """Return the definition as said."""
        given, told = self.cleaned_data, self.procedure.definition
        said = {name: given[name] for name in ("name", "first", "restores")}
        inputs = [self._input(asked) for asked in told["inputs"] if not given.get(f"in_{asked['key']}_gone")]
        new = self._new_inputs("new", NEW_INPUTS)
        return said | {
            "void_when": given["void_when"].splitlines(),
            "inputs": [*inputs, *new],
            "steps": self._steps_said(),
        }

    def _input(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        names = ("label", "help", "required", "least", "most", "expected", *BOUNDS)
        return dict(asked) | self._said(f"in_{asked['key']}", names)

    def _steps_said(self) -> list[dict[str, Any]]:
        given, told = self.cleaned_data, self.procedure.definition["steps"]
        new_keys = self._keys_by_step()
        added: dict[str, list[dict[str, Any]]] = {}
        for n in range(NEW_STEPS):
            step = {"text": given[f"step_new{n}_text"], "caution": given[f"step_new{n}_caution"], "inputs": []}
            added.setdefault(given[f"step_new{n}_place"], []).append(step)
        steps: list[dict[str, Any]] = []
        for n, step in enumerate(told):
            steps += added.get(str(n), [])
            said = {"text": given[f"step_{n}_text"], "caution": given[f"step_{n}_caution"]}
            steps.append(said | {"inputs": [*step["inputs"], *new_keys.get(str(n), ())]})
        return steps + added.get("", [])

    def _keys_by_step(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        for n in range(NEW_INPUTS):
            if label := self.cleaned_data.get(f"new_{n}_label"):
                found.setdefault(self.cleaned_data.get(f"new_{n}_step") or "0", []).append(key_of(label))
        return found


class OwnCheckForm(_OwnInputs):
    """A check that the department makes itself: what to do, what to read, what is right, and what that shows."""

    rows = OWN_INPUTS
    name = words("Name of the check", required=True, most=80)
    kind = forms.ModelChoiceField(ItemKind.objects.none(), label="Of which kind of thing", empty_label="Choose a kind")
    modes = forms.CharField(
        label="Failure modes that it can see",
        required=False,
        max_length=120,
        help_text="Their codes with a space between, such as XX0. Left empty, the check proves nothing.",
    )
    restores = words("What restores after a failure", rows=2)
    effective_on = day("In force from")
    origin = words("Whose check this is", most=200, help_text="A manual and its page, a policy and its date.")

    def __init__(self, data: Any = None, *, kinds: Any, today: date) -> None:
        super().__init__(data, initial={"effective_on": today})
        self.fields["kind"].queryset = kinds
        for n in range(OWN_STEPS):
            self.fields[f"step_{n}_text"] = words(f"Step {n + 1}", rows=2, required=n == 0)
            self.fields[f"step_{n}_caution"] = words("Caution on this step", rows=2)
        self._add_rows("new", OWN_INPUTS)

    def step_rows(self) -> list[list[forms.BoundField]]:
        return [[self[f"step_{n}_text"], self[f"step_{n}_caution"]] for n in range(OWN_STEPS)]

    def field_of(self, where: str) -> str | None:
        at = {"steps": "step_0_text", "inputs": "new_0_label"}.get(where, where)
        return at if at in self.fields else None

    def clean(self) -> dict[str, Any]:
        """Refuse codes that the kind does not have, by name."""
        given = super().clean()
        kind, codes = given.get("kind"), given.get("modes", "").upper().replace(",", " ").split()
        if kind is not None and (foreign := set(codes) - set(kind.mode_codes)):
            has = ", ".join(kind.mode_codes) or "none"
            self.add_error("modes", f"{kind.name} has no {', '.join(sorted(foreign))}. It has: {has}.")
        given["mode_codes"] = codes
        return given

    @property
    def said(self) -> dict[str, Any]:
        given = self.cleaned_data
        steps = [
            {"text": given[f"step_{n}_text"], "caution": given[f"step_{n}_caution"], "inputs": []}
            for n in range(OWN_STEPS)
        ]
        return {
            "name": given["name"],
            "kind": given["kind"],
            "mode_codes": given["mode_codes"],
            "steps": steps,
            "inputs": self._new_inputs("new", OWN_INPUTS),
            "effective_on": given["effective_on"],
            "restores": given["restores"],
            "origin": given["origin"],
        }


class LimitForm(Refusable):
    """Another figure for a limit, for every kind or for one."""

    kind = forms.ModelChoiceField(ItemKind.objects.none(), label="For", required=False, empty_label="every kind")
    pass_low = number("Passes from")
    pass_high = number("Passes to")
    limits_low = number("Pass with limits from")
    limits_high = number("Pass with limits to")
    origin = forms.ChoiceField(label="Who says so", choices=ORIGINS, initial="policy")
    source = words("Where it says so", most=200, help_text="The manual and its page, the policy and its date.")
    note = words("Note", most=240)
    on = day("In force from")

    def __init__(self, data: Any = None, *, kinds: Any, **more: Any) -> None:
        super().__init__(data, **more)
        self.fields["kind"].queryset = kinds

    def clean(self) -> dict[str, Any]:
        """Ask where a figure that is not the department's own is written."""
        given = super().clean()
        if given.get("origin") in ("maker", "law", "guidance") and not given.get("source", "").strip():
            self.add_error("source", "Say where it is written; a figure without a source is the department's own.")
        return given


class IntervalForm(Refusable):
    """Another interval for a failure mode, for every kind or for one."""

    kind = forms.ModelChoiceField(ItemKind.objects.none(), label="For", required=False, empty_label="every kind")
    months = forms.IntegerField(
        label="Proven every, in months",
        min_value=1,
        max_value=MOST_MONTHS,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    grace_days = forms.IntegerField(
        label="Days past it before the proof is stale",
        min_value=0,
        max_value=MOST_GRACE_DAYS,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        help_text="The law gives none.",
    )
    origin = forms.ChoiceField(
        label="Who says so", choices=[("own", "The department's own decision"), ("maker", "The maker"), ("law", "Law")]
    )
    source = words("Where it says so", most=200)
    on = day("In force from")

    def __init__(self, data: Any = None, *, kinds: Any, **more: Any) -> None:
        super().__init__(data, **more)
        self.fields["kind"].queryset = kinds

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if given.get("origin") in ("maker", "law") and not given.get("source", "").strip():
            self.add_error("source", "Say where it is written.")
        return given


class ChecksForm(Refusable):
    """Which checks a kind has, and which of its failure modes each of them can see."""

    reason = words("Why, where a mode is left that no check sees", rows=2)

    def __init__(
        self, data: Any = None, *, kind: ItemKind, procedures: Mapping[str, Procedure], modes: Mapping[str, FailureMode]
    ) -> None:
        self.kind, self.procedures = kind, procedures
        super().__init__(data)
        choices = [(code, f"{code} {modes[code].name if code in modes else ''}") for code in kind.mode_codes]
        for key, procedure in procedures.items():
            of_kind = key in kind.checks
            self.fields[f"has_{key}"] = forms.BooleanField(label=procedure.name, required=False, initial=of_kind)
            self.fields[f"sees_{key}"] = forms.MultipleChoiceField(
                label=f"{procedure.name} can see",
                choices=choices,
                required=False,
                widget=forms.CheckboxSelectMultiple,
                initial=kind.checks.get(key, []),
            )

    def rows(self, *, held: bool) -> list[tuple[forms.BoundField, forms.BoundField]]:
        keys = [key for key in self.procedures if (key in self.kind.checks) is held]
        return [(self[f"has_{key}"], self[f"sees_{key}"]) for key in keys]

    def held_rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return self.rows(held=True)

    def other_rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return self.rows(held=False)

    @property
    def checks(self) -> dict[str, list[str]]:
        given = self.cleaned_data
        keys = [*self.kind.checks, *(key for key in self.procedures if key not in self.kind.checks)]
        return {
            key: given[f"sees_{key}"] if key in self.procedures else self.kind.checks[key]
            for key in keys
            if key not in self.procedures or given[f"has_{key}"] or given[f"sees_{key}"]
        }


class CalibrationForm(OnceForm, Refusable):
    """A meter held against a reference."""

    quantity = forms.ChoiceField(label="What it reads", choices=[("", "Choose"), *((q, q) for q in QUANTITIES)])
    reference = words("Held against", required=True, most=120, help_text="The reference, and its own certificate.")
    error = number(
        "Off by, as found",
        help_text="Reading less reference: plus is too high. It is stated beside readings and never taken off them.",
    )
    unit = words("In", most=12)
    accepted = forms.ChoiceField(
        label="Accepted",
        choices=[("yes", "Yes"), ("no", "No: what it read since the last good one is in question")],
        help_text="Local policy suggests 2 °F, 0.25 lb, 3 percent of a pressure.",
    )
    due_on = day("Due again on")
    file = forms.FileField(label="Certificate (photo or PDF)", required=False)

    def __init__(self, data: Any = None, files: Any = None) -> None:
        super().__init__(data, files=files, prefix="calibration")

    def field_of(self, where: str) -> str | None:
        return where if where in self.fields else None
