"""Which limit of the catalogue a reading is held against, so that a form can print it beside the field.

The judges decide; this only says where to look. A reading that several limits touch names the first that bites.
"""

from collections.abc import Mapping
from typing import Final

from inspections.verdicts.core import Limit as JudgedLimit
from inspections.verdicts.own import limit_of
from inventory.models import Limit
from shared.templatetags.holdair import plain_number, spoken
from shared.units import SIGNS, to_reader

LIMIT_OF: Final[Mapping[tuple[str, str], str]] = {
    ("hold", "rest_min"): "hold_rest",
    ("hold", "p2_psi"): "hold_loss_1h",
    ("hold", "t2_degF"): "hold_temp_change",
    ("hold", "hold_min"): "hold_time",
    ("relief", "lift_psi"): "relief_lift",
    ("relief", "reseat_psi"): "relief_reseat",
    ("inflate", "min_to_set"): "inflate_time",
    ("cylinder_kit", "outlet_after_psi"): "kit_creep",
    ("cylinder_kit", "min_to_set"): "inflate_time",
    ("heat", "tries"): "tries",
    ("heat", "outlet_degF"): "heat_output",
    ("heat", "head_degF"): "head_temp",
    ("heat", "off_after_flow_s"): "flame_off",
    ("heat", "co_ppm"): "co_entrance",
    ("heat", "away_ft"): "heater_distance",
    ("heat", "drained"): "drained",
    ("propane", "gross_lb"): "propane_contents",
    ("propane", "empty_lb"): "propane_tare_loss",
    ("propane", "planning_degF"): "propane_rate",
    ("propane", "upright_outdoors"): "propane_indoors",
    ("cylinder", "psi"): "air_pressure",
    ("sump", "starts"): "sump_cycles",
    ("sump", "fill_s"): "sump_flow",
    ("sump", "refill_in"): "sump_refill",
    ("bladder", "hold_min"): "bladder_hold",
    ("bladder", "drop_in"): "berm_hold",
    ("sprayer", "hold_min"): "sprayer_hold",
    ("sprayer", "flow_ml_min"): "sprayer_nozzle",
    ("sprayer", "drawn_ml"): "sprayer_nozzle",
    ("hose", "drips_min"): "hose_drip",
    ("injector", "drawn_ml"): "inject_ratio",
    ("injector", "idle_rise_ml"): "inject_backflow",
    ("battery", "rest_h"): "battery_rest",
    ("battery", "ocv_v"): "battery_agm",
    ("battery", "capacity_pct"): "battery_capacity",
    ("generator", "v1_v"): "generator_volts",
    ("generator", "hz1_hz"): "generator_hz",
    ("generator", "run_min"): "generator_run",
    ("generator", "exhaust_ft"): "generator_distance",
    ("generator", "start_tries"): "tries",
    ("generator", "v_end_v"): "generator_volts",
    ("gfci", "ground_ohm"): "ground",
    ("light", "lit"): "light_path",
    ("drypack", "wet_packed_h"): "wet_packed",
    ("setup", "gust_mph"): "wind_stop",
    ("setup", "generator_ft"): "generator_distance",
    ("setup", "heater_ft"): "heater_distance",
    ("setup", "co_ppm"): "co_entrance",
    ("trailer", "key_s"): "key_time",
}
# A limit on something worked out from the reading has to say what it limits.
WORKED_OUT: Final = frozenset(
    {
        "hold_loss_1h", "hold_temp_change", "relief_lift", "relief_reseat", "inflate_time", "kit_creep", "heat_output",
        "propane_contents", "propane_tare_loss", "air_pressure", "sump_flow", "inject_ratio", "light_path",
        "propane_rate", "propane_indoors", "sprayer_nozzle",
    }
)  # fmt: skip
# Where the plate names the chemistry, its own row is meant.
BY_CHEMISTRY: Final[Mapping[str, str]] = {"flooded": "battery_flooded"}


def limit_beside(
    check_key: str, input_key: str, limits: Mapping[str, Limit], spec: Mapping[str, object], uses_si: bool = False
) -> str:
    """Return the limit printed beside a field, with where it comes from; nothing where none is known."""
    key = LIMIT_OF.get((check_key, input_key), "")
    if key == "battery_agm":
        key = BY_CHEMISTRY.get(str(spec.get("chemistry", "")).casefold(), key)
        if str(spec.get("chemistry", "")).casefold() == "lithium":
            return ""
    limit = limits.get(key)
    if limit is None:
        return ""
    said = in_words(limit, uses_si)
    if not said:
        return ""
    what = f"{capital(limit.quantity)}: {said}" if key in WORKED_OUT else capital(said)
    return spoken(f"{what}. {capital(origin_of(limit))}.")


def in_words(limit: Limit | JudgedLimit, uses_si: bool = False) -> str:
    """Return the range that passes, and how far beyond it a pass with limits reaches, in the reader's units."""
    unit = to_reader(0.0, limit.unit, uses_si)[1]
    sign = "" if unit in ("ratio", "yes/no", "count") else f" {SIGNS.get(unit, unit)}"
    low, high, wide_low, wide_high = (
        bound if bound is None else to_reader(bound, limit.unit, uses_si)[0]
        for bound in (limit.pass_low, limit.pass_high, limit.limits_low, limit.limits_high)
    )
    wide = " ".join(
        f"{word} {_number(bound)}" for word, bound in (("from", wide_low), ("to", wide_high)) if bound is not None
    )
    return ", ".join(part for part in (_range(low, high, sign), f"with limits {wide}{sign}" if wide else "") if part)


def _range(low: float | None, high: float | None, sign: str) -> str:
    if low is not None and high is not None:
        return f"exactly {_number(low)}{sign}" if low == high else f"{_number(low)} to {_number(high)}{sign}"
    if low is not None:
        return f"at least {_number(low)}{sign}"
    return f"at most {_number(high)}{sign}" if high is not None else ""


def origin_of(limit: Limit) -> str:
    """Return where a limit comes from: law, standard, maker, guidance or policy, with its source."""
    return f"{limit.origin}, {limit.source}" if limit.source else limit.origin


def _number(value: float | None) -> str:
    return plain_number(value, 4)


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def own_bounds(asked: Mapping[str, object], uses_si: bool = False) -> str:
    """Return what a department expects of a reading of its own, as it stands beside the field."""
    if not asked.get("own"):
        return ""
    origin = str(asked.get("origin") or "local policy")
    if asked.get("expected"):
        return f"{capital(str(asked['expected']))} is right. {capital(origin)}."
    limit = limit_of(asked)
    return f"{capital(in_words(limit, uses_si))}. {capital(origin)}." if limit else ""
