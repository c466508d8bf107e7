"""Which formulas stand behind a figure of a line, so that whoever asks why can follow it to a published equation."""

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

from shared.verification.catalogue import Formula, catalogue

# Behind "so many people an hour": the same for every function, since all of them are asked for the same lanes.
PEOPLE_AN_HOUR: Final = ("people.throughput_per_hour", "people.cycle_min", "people.lanes_for")
# Behind how sure a figure is: from what is known of each failure mode to the chance that enough is left.
HOW_SURE: Final = (
    "reliability.mode_absent",
    "reliability.common_cause_probability",
    "capacity_sums.reach",
    "capacity_sums.whole_number",
)
# Behind what a function needs and has, in the rating itself and in the verdicts whose measured values it takes.
FORMULAS_OF: Final[dict[str, tuple[str, ...]]] = {
    "shelter": ("air.corrected_loss_pa", "air.time_to_pressure_s", "air.loss_uncertainty_pa"),
    "inflation": ("air.pressure_at",),
    "water": ("hydraulics.hazen_williams_pa", "hydraulics.elevation_pa"),
    "heat": (
        "heat.heat_output_w",
        "heat.head_temperature_k",
        "heat.head_connection",
        "heat.heater_efficiency",
        "propane.vapour_rate_w",
        "propane.regulator_factor",
        "propane.saturation_temperature_k",
        "propane.burn_kg",
        "manifold.manifold_rate_w",
        "manifold.manifold_end",
    ),
    "light": ("electric.charge_from_rest_voltage", "electric.cold_capacity_factor"),
    "crew": ("people.crew_for",),
    "power": ("electric.cold_capacity_factor", "dates.add_months"),
}


@lru_cache(maxsize=1)
def _by_name() -> dict[str, Formula]:
    return {formula.name: formula for formula in catalogue()}


def formulas_of(names: Sequence[str]) -> list[Formula]:
    """Return the formulas that bear these names, in their order.

    Raises:
        KeyError: no public formula bears one of the names.
    """
    return [_by_name()[name] for name in names]
