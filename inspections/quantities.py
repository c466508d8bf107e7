"""What is measured on an item and drawn over time: its unit, its limit, what is corrected before a line is laid. Pure.

Every quantity that a judge keeps, and every limit of the catalogue, stands in one of the tables: with a trend, or
without one and why.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, Protocol

from shared.formulas.electric import cold_capacity_factor
from shared.units import to_si

Side = Literal["low", "high"]
DAY_MIN: Final = 24 * 60


class Bounds(Protocol):
    """A limit as the catalogue keeps it."""

    unit: str
    pass_low: float | None
    pass_high: float | None


@dataclass(frozen=True, slots=True)
class Given:
    """What stands beside a value on its record: other readings, the nameplate, the limits in force."""

    readings: Mapping[str, float | str] = field(default_factory=dict)
    spec: Mapping[str, object] = field(default_factory=dict)
    limits: Mapping[str, Bounds] = field(default_factory=dict)

    def number(self, key: str) -> float | None:
        value = self.readings.get(key)
        return value if isinstance(value, float) else None


Correct = Callable[[float, Given], float | None]


@dataclass(frozen=True, slots=True)
class Quantity:
    """One series of readings of an item.

    Attributes:
        key: its name in addresses.
        unit: that people read it in.
        checks: that read it; void ones are marked on its chart.
        measured: its name among what a judge keeps; else
        finding: the reading whose weighed number it is.
        limit: key of the limit it is held against; empty where there is none.
        sides: which ends of that limit it may cross.
        is_share: the limit is a share of something that the record names: a baseline, a rating, an inflow.
        share_of: what that is.
        not_forecast: why no date is told, where none is.
        no_limit: why it has no limit, where it has none.
        use_breaks: use and refill begin a new series, as a repair does.
        correct: carries a value to one condition; None for one that is no reading of this series.
        corrected: what was corrected, in words.
        formulas: that stand behind the value.
    """

    key: str
    label: str
    unit: str
    checks: tuple[str, ...]
    measured: str = ""
    finding: str = ""
    limit: str = ""
    sides: tuple[Side, ...] = ()
    is_share: bool = False
    share_of: str = ""
    not_forecast: str = ""
    no_limit: str = ""
    use_breaks: bool = False
    correct: Correct | None = None
    corrected: str = ""
    formulas: tuple[str, ...] = ()


# Corrections ---------------------------------------------------------------------------------------------------------


def _hold_sort(given: Given) -> str:
    """Return which figure binds a hold: the hour's while it is the stricter one, the day's from 24 h on."""
    minutes = given.number("hold_min")
    hour, day = given.limits.get("hold_loss_1h"), given.limits.get("hold_loss_24h")
    if not minutes or minutes < 0:
        return "unknown"
    if minutes >= DAY_MIN:
        return "day"
    if hour is None or day is None or hour.pass_high is None or day.pass_high is None:
        return "hour"
    return "hour" if hour.pass_high * minutes / 60 <= day.pass_high else "between"


def _in_an_hour(value: float, given: Given) -> float | None:
    return value * 60 / (given.number("hold_min") or 60) if _hold_sort(given) == "hour" else None


def _in_a_day(value: float, given: Given) -> float | None:
    return value * DAY_MIN / (given.number("hold_min") or DAY_MIN) if _hold_sort(given) == "day" else None


def _in_between(value: float, given: Given) -> float | None:
    return value if _hold_sort(given) in ("between", "unknown") else None


def _at_77(value: float, given: Given) -> float | None:
    """Carry a capacity run down in the cold to the temperature of its rating; one stated as at 77 °F stands."""
    degrees = given.number("temp_degF")
    said = str(given.readings.get("chemistry") or given.spec.get("chemistry") or "agm").casefold()
    if given.number("capacity_pct") is not None or degrees is None or "primary" in said:
        return value
    chemistry = next((name for part, name in CHEMISTRIES if part in said), "agm")
    share = float(cold_capacity_factor(to_si(degrees, "degF"), chemistry))
    return value / share if share > 0 else value


CHEMISTRIES: Final = (("li", "lifepo4"), ("flood", "flooded"), ("wet", "flooded"), ("gel", "gel"))
# Readings that a correction asks for, beside the value itself.
BESIDE: Final = ("hold_min", "temp_degF", "capacity_pct", "chemistry")

# The quantities ------------------------------------------------------------------------------------------------------

_HELD = "corrected for temperature and barometer"
_HOLD = ("air.corrected_loss_pa", "air.loss_uncertainty_pa")
_FILLED = "What it holds changes by use and filling: it is weighed before it is relied on, not foretold."
_SET = "It is set on the heater and moves with the season's inlet water: a season is not drift."
_BASELINE = "this unit's baseline"

QUANTITIES: Final[tuple[Quantity, ...]] = (
    Quantity(
        "hold-loss", "True loss in an hour", "percent", ("hold",), measured="hold_loss_fraction",
        limit="hold_loss_1h", sides=("high",), correct=_in_an_hour,
        corrected=f"{_HELD}, carried to one hour", formulas=_HOLD,
    ),
    Quantity(
        "hold-loss-day", "True loss in a day", "percent", ("hold",), measured="hold_loss_fraction",
        limit="hold_loss_24h", sides=("high",), correct=_in_a_day,
        corrected=f"{_HELD}, carried to 24 hours", formulas=_HOLD,
    ),
    Quantity(
        "hold-loss-between", "True loss over holds of some hours", "percent", ("hold",), measured="hold_loss_fraction",
        limit="hold_loss_24h", sides=("high",), correct=_in_between, corrected=_HELD, formulas=_HOLD,
        not_forecast="Holds of different length are not one series: hold for an hour, or for a day.",
    ),
    Quantity(
        "stands", "Stands for", "h", ("hold",), measured="stand_s",
        no_limit="How long it has to stand is the mission's to say, not a limit of the check.",
        formulas=("air.time_to_pressure_s",),
    ),
    Quantity(
        "heat", "Heat delivered", "BTU/h", ("heat",), measured="heater_output_w", limit="heat_output",
        sides=("low",), is_share=True, share_of=_BASELINE, formulas=("heat.heat_output_w",),
    ),
    Quantity(
        "efficiency", "Heater efficiency", "percent", ("heat",), measured="heater_efficiency",
        no_limit="No limit for it is published, and none is set: read it beside the heat delivered.",
        formulas=("heat.heater_efficiency",),
    ),
    Quantity(
        "hose-loss", "Lost between heater and head", "ddegF", ("heat",), measured="hose_loss_k",
        no_limit="It hangs on the air and the length of hose; what counts is the temperature at the head.",
    ),
    Quantity(
        "head", "Temperature at the head", "degF", ("heat",), finding="head_degF", limit="head_temp",
        sides=("low", "high"), not_forecast=_SET,
    ),
    Quantity(
        "tries", "Tries to light", "count", ("heat",), finding="tries", limit="tries", sides=("high",),
    ),
    Quantity(
        "flame-off", "Flame off after flow stops", "s", ("heat",), finding="off_after_flow_s", limit="flame_off",
        sides=("high",),
    ),
    Quantity(
        "monoxide", "Carbon monoxide at the entrance", "ppm", ("heat",), finding="co_ppm", limit="co_entrance",
        sides=("high",),
        not_forecast="Wind and where the burner stood decide it more than the burner's age: each set-up is read anew.",
    ),
    Quantity(
        "propane", "Propane held", "lb", ("propane",), measured="propane_kg", limit="propane_contents",
        sides=("low", "high"), is_share=True, share_of="what it may hold", not_forecast=_FILLED, use_breaks=True,
        formulas=("propane.fill_limit_kg",),
    ),
    Quantity(
        "tare", "Empty weight over stamped tare", "percent", ("propane",), finding="empty_lb",
        limit="propane_tare_loss", sides=("low",),
    ),
    Quantity(
        "cylinder", "Pressure at 70 °F", "psi", ("cylinder",), measured="air_pressure_pa", limit="air_pressure",
        sides=("low",), is_share=True, share_of="its rated pressure", use_breaks=True,
        corrected="carried to 70 °F", formulas=("air.pressure_at",),
    ),
    Quantity(
        "inflate", "Time to set pressure", "min", ("inflate", "cylinder_kit"), measured="inflate_s",
        limit="inflate_time", sides=("high",), is_share=True, share_of=_BASELINE,
    ),
    Quantity(
        "creep", "Outlet rise in 5 min", "percent", ("cylinder_kit",), finding="outlet_after_psi",
        limit="kit_creep", sides=("high",),
    ),
    Quantity(
        "lift", "Lift pressure over plate", "percent", ("relief",), finding="lift_psi", limit="relief_lift",
        sides=("low", "high"),
    ),
    Quantity(
        "reseat", "Reseat over lift", "percent", ("relief",), finding="reseat_psi", limit="relief_reseat",
        sides=("low",),
    ),
    Quantity(
        "pump", "Flow at the real lift", "gpm", ("sump",), measured="pump_flow_m3_s", limit="sump_flow",
        sides=("low",), is_share=True, share_of="the peak inflow of its lanes",
    ),
    Quantity(
        "water-back", "Water back after stop", "in", ("sump",), finding="refill_in", limit="sump_refill",
        sides=("high",),
    ),
    Quantity(
        "level-drop", "Level drop in 30 min", "in", ("bladder",), finding="drop_in", limit="berm_hold",
        sides=("high",),
    ),
    Quantity(
        "drips", "Drips a minute", "count", ("hose",), finding="drips_min", limit="hose_drip", sides=("high",),
    ),
    Quantity(
        "detergent", "Detergent by volume", "percent", ("injector",), measured="injector_ratio",
        limit="inject_ratio", sides=("low", "high"),
    ),
    Quantity(
        "nozzle", "Flow over the nozzle's rating", "percent", ("sprayer",), finding="flow_ml_min",
        limit="sprayer_nozzle", sides=("low", "high"),
    ),
    Quantity(
        "charge", "Charge", "percent", ("battery",), measured="battery_soc", use_breaks=True,
        no_limit="Its limits are rested volts, by chemistry; charging and use move it, so it is not foretold.",
        formulas=("electric.charge_from_rest_voltage",),
    ),
    Quantity(
        "capacity", "Capacity over rated", "percent", ("battery",), finding="capacity_pct",
        limit="battery_capacity", sides=("low",), correct=_at_77, corrected="carried to 77 °F",
        formulas=("electric.cold_capacity_factor",),
    ),
    Quantity(
        "load", "Load carried", "W", ("generator",), measured="generator_w",
        no_limit="It is what was plugged in that day: it shows that so much was carried, not what can be.",
    ),
    Quantity(
        "starts", "Tries to start", "count", ("generator",), finding="start_tries", limit="tries", sides=("high",),
    ),
    Quantity(
        "volts", "Volts under load", "V", ("generator",), finding="v1_v", limit="generator_volts",
        sides=("low", "high"),
    ),
    Quantity(
        "hertz", "Frequency under load", "Hz", ("generator",), finding="hz1_hz", limit="generator_hz",
        sides=("low", "high"),
    ),
    Quantity(
        "ground", "Grounding conductor", "ohm", ("gfci",), finding="ground_ohm", limit="ground", sides=("high",),
    ),
    Quantity(
        "lit", "Segments lit", "percent", ("light",), finding="lit", limit="light_path", sides=("low",),
    ),
    Quantity(
        "key", "From go to open door", "s", ("trailer",), finding="key_s", limit="key_time", sides=("high",),
        not_forecast="It is what people did that day, not what a lock does.",
    ),
    Quantity(
        "wet", "Hours packed wet", "h", ("drypack",), finding="wet_packed_h", limit="wet_packed", sides=("high",),
        not_forecast="It is how one run ended, not a property of the fabric.",
    ),
)  # fmt: skip
BY_KEY: Final[Mapping[str, Quantity]] = {quantity.key: quantity for quantity in QUANTITIES}

_CONDITION = "a condition of the test, not a property of the thing"
_LINE = "of a line and its crew, not of one item: see the line's drills"
# Measured, and not drawn over time.
NOT_DRAWN: Final[Mapping[str, str]] = {
    "sound_units": "how many of a row are sound: counted anew, and told as a count",
    "fuel_made_on": "a date: the age of the fuel falls due by the calendar",
    "relief_plate_pa": "a figure read off a plate",
    "setup_erect_s": _LINE,
    "water_warm_s": _LINE,
    "first_person_s": _LINE,
    "takt_s": _LINE,
    "nonwalking_takt_s": _LINE,
    "handover_s": _LINE,
    "head_gpm": _LINE,
}
# Limits that no quantity here is held against.
NO_TREND: Final[Mapping[str, str]] = {
    "hold_rest": _CONDITION,
    "hold_time": _CONDITION,
    "hold_temp_change": _CONDITION,
    "hold_resolution": _CONDITION,
    "head_temp_least": "of a mission, not of a check",
    "drained": "yes or no",
    "propane_rate": "worked out anew from what the cylinder holds and the coldest planned air",
    "cylinder_date": "a date",
    "sump_cycles": "three of three, or not",
    "bladder_hold": _CONDITION,
    "inject_backflow": "any rise at all is an impairment: nothing to drift towards",
    "sprayer_hold": "how long somebody watched: a lower bound each time",
    "battery_flooded": "its charge is drawn, worked out from these volts",
    "battery_agm": "its charge is drawn, worked out from these volts",
    "battery_rest": _CONDITION,
    "generator_load_diesel": _CONDITION,
    "generator_run": _CONDITION,
    "fuel_age_gasoline": "the age of fuel falls due by the calendar",
    "fuel_age_diesel": "the age of fuel falls due by the calendar",
    "gfci": "yes or no",
    "wind_stop": "of the weather",
    "generator_distance": "where it was put that day",
    "heater_distance": "where it was put that day",
    "propane_indoors": "of a place, not of one item",
    "inventory_age": "a date",
}
