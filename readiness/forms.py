"""The mission as a form: asked on Tonight by GET, so that an answer can be linked, or set on a line by its head."""

from collections.abc import Mapping
from datetime import datetime, time
from typing import Any, Final

from django import forms
from django.utils import timezone
from django.utils.dateparse import parse_date, parse_datetime

from readiness.rating.mission import DEFAULTS, MAY_BE_NONE, RANGES, YES_NO, Mission, MissionError
from shared.templatetags.holdair import from_reader, plain_number, spoken
from shared.units import SI_FOR, SIGNS, QuantityError, parse, to_reader

MAIN: Final = ("people_per_hour", "hours", "air_degF", "supply_degF", "wet_min")
LABELS: Final = {
    "people_per_hour": "People an hour",
    "hours": "for hours",
    "air_degF": "air",
    "supply_degF": "supply water",
    "wet_min": "minutes wet each",
    "shower_degF": "Shower wanted",
    "least_shower_degF": "Least shower that counts",
    "handover_min": "Hand-over, minutes",
    "lane_flow_gpm": "Flow of a lane",
    "night": "Light",
    "non_walking_share": "Not walking, share",
    "child_share": "Children, share",
    "xl_share": "Extra-large sizes, share",
    "supply_psi": "Supply pressure",
    "supply_gpm": "Supply flow",
    "elevation_ft": "Heads above supply",
    "tanker_at_min": "Tanker there at minute",
    "tanker_gal": "Tanker takes",
    "space_heat": "Where people undress",
}
CHOICES: Final = {
    "night": [("true", "night"), ("false", "daylight")],
    "space_heat": [("false", "no space heat"), ("true", "space heat")],
}
PLAIN_UNITS: Final = frozenset({"", "1/h", "h", "min", "ratio", "yes/no"})  # said by the label already


def field_name(key: str, uses_si: bool) -> str:
    """Return the name a mission key goes by in the form: ``air_degF``, or ``air_degC`` for a reader of SI."""
    unit = DEFAULTS[key][1]
    if not uses_si or unit not in SI_FOR:
        return key
    return f"{key.removesuffix(unit)}{SI_FOR[unit].replace('/', '_')}"


class NumberField(forms.FloatField):
    """A number typed as people type it, in the field's own unit or with another; what was typed comes back as it was.

    Args:
        unit: that a number alone is in.
    """

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 6})
    default_error_messages = {"invalid": "Write a number, such as 60 or 1.5.", "required": "Write a number."}

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = unit

    def to_python(self, value: Any) -> float | None:
        if not isinstance(value, str) or not value.strip():
            return super().to_python(value)
        try:
            return parse(value, self.unit)
        except QuantityError as refused:
            if "number" in refused.problem:
                raise forms.ValidationError(self.error_messages["invalid"], code="invalid") from None
            said = spoken(f"{refused.problem[:1].upper()}{refused.problem[1:]}. {refused.mend}.")
            raise forms.ValidationError(said, code="unit") from None


class MissionForm(forms.Form):
    """Every key of a mission, in the reader's units; a key left out of the query keeps its value of ``base``.

    Args:
        query: what was asked, None where nothing was. Keys of either unit system are understood.
        base: the mission that fills what was not asked.
        uses_si: whether the reader chose metric units.
    """

    def __init__(self, query: Mapping[str, str] | None, *, base: Mapping[str, Any], uses_si: bool) -> None:
        self.uses_si = uses_si
        names = {key: field_name(key, uses_si) for key in DEFAULTS}
        initial = {names[key]: shown(base.get(key), DEFAULTS[key][1], uses_si) for key in DEFAULTS}
        initial |= {key: "true" if base.get(key) else "false" for key in YES_NO}
        data = None if query is None else initial | {names[k]: v for k, v in self._asked(query).items()}
        super().__init__(data, initial=initial)
        self.fields |= {names[key]: _field(key, uses_si) for key in DEFAULTS}
        self.names = names

    def _asked(self, query: Mapping[str, str]) -> dict[str, str]:
        """Return what was typed by mission key; a number in the other unit system is turned into the reader's."""
        asked = {}
        for key, (_, unit, _, _) in DEFAULTS.items():
            own, other = (field_name(key, si) for si in (self.uses_si, not self.uses_si))
            if own in query:
                asked[key] = query[own]
            elif other in query:
                asked[key] = _turned(query[other], unit, to_si=self.uses_si)
        return asked

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        if self.errors:
            return values
        body = {key: self._in_own_unit(key, values[name]) for key, name in self.names.items()}
        try:
            self.mission = Mission.from_json(body)
        except MissionError as error:
            for key, problem in error.problems:
                self.add_error(self.names.get(key), forms.ValidationError(_sentence(key, problem, self.uses_si)))
        return values

    def _in_own_unit(self, key: str, value: Any) -> Any:
        if value is None or key in YES_NO:
            return value
        return from_reader(value, DEFAULTS[key][1], self.uses_si)

    @property
    def main(self) -> list[forms.BoundField]:
        return [self[self.names[key]] for key in MAIN]

    @property
    def more(self) -> list[forms.BoundField]:
        return [self[name] for key, name in self.names.items() if key not in MAIN]

    @property
    def more_is_open(self) -> bool:
        """Say whether something under "more" was changed or is wrong, and must be seen."""
        return self.is_bound and any(
            bound.errors or self.data.get(bound.name, "") != self.initial[bound.name] for bound in self.more
        )


def was_asked(query: Mapping[str, str]) -> bool:
    return any(field_name(key, si) in query for key in DEFAULTS for si in (False, True))


def shown(value: Any, unit: str, uses_si: bool) -> str:
    """Return a mission's value as a form shows it: empty for none, no more digits than it takes to come back."""
    if value is None or isinstance(value, bool):
        return ""
    return plain_number(to_reader(float(value), unit, uses_si)[0], 5).replace(",", "")


def _turned(text: str, unit: str, *, to_si: bool) -> str:
    try:
        number = float(text.replace(",", ""))
    except ValueError:
        return text
    turned = to_reader(number, unit, True)[0] if to_si else from_reader(number, unit, True)
    return plain_number(turned, 5).replace(",", "")


def _field(key: str, uses_si: bool) -> forms.Field:
    _, unit, _, note = DEFAULTS[key]
    if key in YES_NO:
        return forms.TypedChoiceField(label=LABELS[key], choices=CHOICES[key], coerce=lambda said: said == "true")
    _, reader_unit = to_reader(0.0, unit, uses_si)
    sign = "" if unit in PLAIN_UNITS else f" {SIGNS.get(reader_unit, reader_unit)}"
    hint = "" if key in MAIN else spoken(note)
    return NumberField(unit=reader_unit, label=f"{LABELS[key]}{sign}", required=key not in MAY_BE_NONE, help_text=hint)


def _sentence(key: str, problem: str, uses_si: bool) -> str:
    if key in RANGES and " is outside " in problem:
        unit = DEFAULTS[key][1]
        (least, shown), (most, _) = (to_reader(float(bound), unit, uses_si) for bound in RANGES[key])
        sign = "" if unit in PLAIN_UNITS else f" {SIGNS.get(shown, shown)}"
        return f"Write {least:.4g} to {most:.4g}{sign}."
    # The rating names keys as files do; beside its field a sentence needs only the rest.
    text = spoken(problem)
    for other, label in LABELS.items():
        text = text.replace(other, label.lower())
    return f"{LABELS[key]} {text}." if key in LABELS else text


class SetMissionForm(MissionForm):
    """The mission that a head sets for a line, with why."""

    def __init__(self, query: Mapping[str, str] | None, *, base: Mapping[str, Any], uses_si: bool) -> None:
        super().__init__(query, base=base, uses_si=uses_si)
        self.fields["note"] = forms.CharField(label="Why", required=False, max_length=240)
        if self.is_bound:
            self.data = {**self.data, "note": (query or {}).get("note", "")}

    @property
    def more(self) -> list[forms.BoundField]:
        return [bound for bound in super().more if bound.name != "note"]


class InstantField(forms.CharField):
    """A day, or a day and time, on the department's clock; a bare day means the end of it."""

    def to_python(self, value: Any) -> datetime | None:
        text = super().to_python(value)
        if not text:
            return None
        try:
            # A bare day first: read as an instant it would be the day's beginning.
            if day := parse_date(text.strip()):
                moment = datetime.combine(day, time(23, 59, 59))  # noqa: DTZ001 made aware below
            else:
                moment = parse_datetime(text.strip().replace(" ", "T"))
        except ValueError:
            moment = None
        if moment is None:
            raise forms.ValidationError("Write a day as 2026-11-20, or a day and time as 2026-11-20T18:00.")
        return timezone.make_aware(moment) if timezone.is_naive(moment) else moment


class ThenForm(forms.Form):
    """A past instant, and in which voice: as known then, or as known since."""

    at = InstantField(label="Day, or day and time", widget=forms.TextInput(attrs={"placeholder": "2026-11-20T18:00"}))
    known = forms.ChoiceField(
        label="In whose knowledge", choices=[("then", "as known then"), ("now", "as known since")], required=False
    )

    def __init__(self, *args: object, now: datetime, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.now = now

    def clean_at(self) -> datetime:
        at = self.cleaned_data["at"]
        # The bare day of today ends later than now; what is meant is today as far as it has gone.
        if at > self.now and timezone.localtime(at).date() == timezone.localtime(self.now).date():
            return self.now
        if at > self.now:
            raise forms.ValidationError("That day has not come.")
        return at

    def clean_known(self) -> str:
        return self.cleaned_data["known"] or "then"
