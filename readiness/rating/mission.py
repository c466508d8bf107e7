"""The mission a line is asked to carry: its keys, their defaults, and what is refused."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Final

from shared.formulas import people
from shared.units import to_si

MOST_HOURS: Final = 72.0
STANDARD_TANKER_MIN: Final = 60.0  # two 300 gal bladders hold 100 min at 60 an hour
COLD_BELOW_DEGF: Final = 40.0

Value = float | bool | None

# key -> (default, unit, source, note)
DEFAULTS: Final[Mapping[str, tuple[Value, str, str, str]]] = {
    "people_per_hour": (60, "1/h", "rated mission of a two-lane line", "walking people an hour, all lanes together"),
    "hours": (3, "h", "rated mission of a two-lane line", "how long the rate is held"),
    "air_degF": (40, "degF", "rated mission of a two-lane line", "coldest air; sets propane, batteries and blankets"),
    "supply_degF": (40, "degF", "common practice", "water as the hydrant gives it"),
    "shower_degF": (98, "degF", "PRISM, 2nd ed.: about 95 to 100 degF at the head", "wanted at the head"),
    "least_shower_degF": (80, "degF", "cold-weather mass decontamination guidance", "never a reason not to wash"),
    "wet_min": (1.5, "min", "PRISM, 2nd ed.: 90 s", "a local medical setting; published 1.5 to 5 min"),
    "handover_min": (0.5, "min", "common practice", "between two people in a lane; a drill's own figure is better"),
    "lane_flow_gpm": (4, "gpm", "wash head 2 + rinse head 2, common practice", "one lane while somebody is wet"),
    "night": (True, "yes/no", "the harder case", "at night the walking path must be lit"),
    "non_walking_share": (0, "ratio", "rated mission of a two-lane line", "share who need a litter"),
    "child_share": (0.15, "ratio", "planning figure of ours", "sets the sizes of redress kits"),
    "xl_share": (0.10, "ratio", "planning figure of ours", "sets the sizes of redress kits"),
    "supply_psi": (55, "psi", "common practice", "at the hydrant or engine, water flowing"),
    "supply_gpm": (30, "gpm", "common practice", "what the supply can give"),
    "elevation_ft": (0, "ft", "level ground", "shower heads above the supply"),
    "tanker_at_min": (None, "min", "none is promised", "minutes from the first person until a tanker takes waste"),
    "tanker_gal": (None, "gal", "none is promised", "what it takes; none with a time set: all from then on, assumed"),
    "space_heat": (False, "yes/no", "rated mission of a two-lane line", "heated air where people undress and dress"),
}

# key -> (least, most), in the key's own unit
RANGES: Final[Mapping[str, tuple[float, float]]] = {
    "people_per_hour": (1, 2000),
    "hours": (0.25, MOST_HOURS),
    "air_degF": (-60, 130),
    "supply_degF": (32, 110),
    "shower_degF": (60, 110),
    "least_shower_degF": (40, 110),
    "wet_min": (0.25, 30),
    "handover_min": (0, 15),
    "lane_flow_gpm": (0.5, 40),
    "non_walking_share": (0, 1),
    "child_share": (0, 1),
    "xl_share": (0, 1),
    "supply_psi": (0, 250),
    "supply_gpm": (0, 5000),
    "elevation_ft": (-300, 300),
    "tanker_at_min": (0, MOST_HOURS * 60),
    "tanker_gal": (1, 100_000),
}
YES_NO: Final = ("night", "space_heat")
MAY_BE_NONE: Final = ("tanker_at_min", "tanker_gal")


class MissionError(ValueError):
    """A mission that cannot be asked; ``problems`` lists every (key, what is wrong and how to mend it)."""

    def __init__(self, problems: list[tuple[str, str]]) -> None:
        self.problems = tuple(problems)
        super().__init__("This mission cannot be asked: " + "; ".join(f"{key}: {what}" for key, what in problems))


@dataclass(frozen=True, slots=True)
class Mission:
    """What is asked of a line, in the units its keys name."""

    people_per_hour: float = 60
    hours: float = 3
    air_degF: float = 40  # noqa: N815 (keys are spelled as users and files spell them)
    supply_degF: float = 40  # noqa: N815
    shower_degF: float = 98  # noqa: N815
    least_shower_degF: float = 80  # noqa: N815
    wet_min: float = 1.5
    handover_min: float = 0.5
    lane_flow_gpm: float = 4
    night: bool = True
    non_walking_share: float = 0
    child_share: float = 0.15
    xl_share: float = 0.10
    supply_psi: float = 55
    supply_gpm: float = 30
    elevation_ft: float = 0
    tanker_at_min: float | None = None
    tanker_gal: float | None = None
    space_heat: bool = False

    @classmethod
    def from_json(cls, body: Mapping[str, object]) -> "Mission":
        """Return the mission that a JSON object spells; keys left out take their defaults.

        Raises:
            MissionError: unknown keys, wrong types, values out of range; all of them at once.
        """
        problems = [(str(key), _unknown(str(key))) for key in body if key not in DEFAULTS]
        values: dict[str, Any] = {}
        for key, (default, unit, _, _) in DEFAULTS.items():
            value, wrong = _checked(key, body.get(key, default), unit)
            values[key] = value
            if wrong:
                problems.append((key, wrong))
        problems = problems or _together(values)
        if problems:
            raise MissionError(problems)
        return cls(**values)

    def as_json(self) -> dict[str, Value]:
        """Return the mission by key, whole numbers as whole numbers: the same mission gives the same bytes."""
        return {f.name: _tidy(getattr(self, f.name)) for f in fields(self)}

    @property
    def cycle_min(self) -> float:
        """Minutes a lane is taken by one person: wet + hand-over. [min]"""
        return float(people.cycle_min(self.wet_min, self.handover_min))

    @property
    def lanes(self) -> int:
        """Whole lanes that the asked rate takes."""
        return int(people.lanes_for(self.people_per_hour, self.cycle_min))

    @property
    def seconds(self) -> float:
        """How long the rate is held. [s]"""
        return self.hours * 3600.0

    @property
    def lane_flow_m3_s(self) -> float:
        """Flow of one lane while somebody is wet: the peak. [m3/s]"""
        return float(to_si(self.lane_flow_gpm, "gpm"))

    @property
    def person_m3(self) -> float:
        """Water of one person. [m3]"""
        return self.lane_flow_m3_s * self.wet_min * 60.0

    @property
    def air_k(self) -> float:
        """Air temperature, absolute. [K]"""
        return float(to_si(self.air_degF, "degF"))

    @property
    def supply_k(self) -> float:
        """Supply water temperature, absolute. [K]"""
        return float(to_si(self.supply_degF, "degF"))

    @property
    def shower_k(self) -> float:
        """Temperature wanted at the head, absolute. [K]"""
        return float(to_si(self.shower_degF, "degF"))

    @property
    def least_shower_k(self) -> float:
        """Least temperature at the head that counts, absolute. [K]"""
        return float(to_si(self.least_shower_degF, "degF"))

    @property
    def supply_pa(self) -> float:
        """Supply pressure, gauge, water flowing. [Pa]"""
        return float(to_si(self.supply_psi, "psi"))

    @property
    def supply_m3_s(self) -> float:
        """What the supply can give. [m3/s]"""
        return float(to_si(self.supply_gpm, "gpm"))

    @property
    def elevation_m(self) -> float:
        """Shower heads above the supply. [m]"""
        return float(to_si(self.elevation_ft, "ft"))

    @property
    def is_cold(self) -> bool:
        """Whether undressing is a matter of its own: cold air and no heated space."""
        return self.air_degF < COLD_BELOW_DEGF and not self.space_heat


def standard_mission(lanes: int) -> Mission:
    """Return the mission a line of so many lanes is rated for where none was set: 30 an hour a lane for 3 h at 40 degF.

    From two lanes on a tanker by 60 min is a stated part of it: the standard bladders hold 100 min at that rate.
    """
    lanes = max(1, lanes)
    return Mission(people_per_hour=30 * lanes, tanker_at_min=STANDARD_TANKER_MIN if lanes > 1 else None)


def _unknown(key: str) -> str:
    near = [k for k in DEFAULTS if k.lower() == key.lower() or k.split("_")[0] == key.split("_")[0].lower()]
    return "is no key of a mission" + (
        f"; perhaps {' or '.join(near)}" if near else f"; keys are {', '.join(DEFAULTS)}"
    )


def _checked(key: str, value: object, unit: str) -> tuple[Value, str]:
    """Return the value as the mission holds it, and what is wrong with it ("" where nothing is)."""
    if key in YES_NO:
        return (value, "") if isinstance(value, bool) else (None, f"{value!r} is neither true nor false; write one")
    if value is None and key in MAY_BE_NONE:
        return None, ""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None, f"{value!r} is no number; write a number of {unit}, without quotes or unit"
    least, most = RANGES[key]
    if not math.isfinite(value) or not least <= value <= most:
        return None, f"{value!r} is outside {least:g} to {most:g} {unit}; write one within it"
    return value, ""


def _together(values: Mapping[str, Any]) -> list[tuple[str, str]]:
    problems = []
    if values["least_shower_degF"] > values["shower_degF"]:
        problems.append(("least_shower_degF", "is above shower_degF; lower it or raise shower_degF"))
    if values["child_share"] + values["xl_share"] > 1:
        problems.append(("child_share", "and xl_share together exceed 1; they are shares of all people"))
    if values["tanker_gal"] is not None and values["tanker_at_min"] is None:
        problems.append(("tanker_gal", "needs tanker_at_min, the minute the tanker is there"))
    return problems


def _tidy(value: Value) -> Value:
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value
