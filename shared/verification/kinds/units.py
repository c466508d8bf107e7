"""Check values of the units at the edge: what is converted, what is typed, what a reader is shown."""

from shared import units
from shared.verification.registry import Case, kind


@kind(units.to_si, units.from_si)
def unit_conversion(case: Case) -> Case:
    return {"value": units.from_si(units.to_si(float(case["value"]), case["from_unit"]), case["to_unit"])}


@kind(units.parse, units.typed, units.unit_in)
def typed_quantity(case: Case) -> Case:
    text, unit = case["text"], case["unit"]
    return {"value": units.parse(text, unit), "step": units.typed(text, unit).step, "unit_named": units.unit_in(text)}


@kind(units.to_reader)
def readers_unit(case: Case) -> Case:
    value, unit = units.to_reader(float(case["value"]), case["unit"], case["uses_si"])
    return {"value": value, "unit": unit}
