"""Dimensions: where one argument grows by a factor, the answer grows by that factor to a known power."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import air, electric, greywater, heat, hydraulics, people, propane, reliability

# Formula, arguments, then the power with which the answer goes as each of them; None where it follows no power.
LAWS = [
    (air.leak_standard_m3_s, (2.0, 0.1, 2e4, 290.0, 1e5, 3600.0, 288.0, 1e5), (1, 1, None, -1, None, -1, 1, -1)),
    (air.free_air_m3, (2.0, 2e4, 1e5), (1, None, None)),
    (air.inflation_time_s, (2.0, 2e4, 1e5, 0.01), (1, None, None, -1)),
    (air.loss_rate_pa_s, (500.0, 3600.0), (1, -1)),
    (air.cylinder_fills, (0.01, 2e7, 1e6, 290.0, 1e5, 2.0, 2e4), (1, None, None, None, None, -1, None)),
    (electric.capacity_shown, (20_000.0, 25_000.0, 0.9), (1, -1, -1)),
    (electric.peukert_time_at_one_ampere_s, (3e5, 1.2, 5.0), (1, None, -1.2)),
    (greywater.berm_capacity_m3, (3.0, 3.0, 0.2, 0.0), (1, 1, 1, None)),
    (greywater.bladder_room_m3, (0.6, 0.9, 0.0), (1, 1, None)),
    (heat.heater_efficiency, (3e4, 1.0, 1200.0, 5e7), (1, -1, 1, -1)),
    (heat.batch_heat_j, (0.2, 998.0, 4186.0, 30.0), (1, 1, 1, 1)),
    (hydraulics.reynolds, (3e-4, 0.019, 998.0, 1e-3), (1, -1, 1, -1)),
    (hydraulics.fire_loss_pa, (3e-3, 30.0, 24.0), (2, 1, 1)),
    (hydraulics.k_loss_pa, (3e-4, 0.019, 2.0, 998.0), (2, -4, 1, 1)),
    (hydraulics.velocity_m_s, (3e-4, 0.019), (1, -2)),
    (hydraulics.hose_content_m3, (0.019, 15.0), (2, 1)),
    (hydraulics.spray_k_m3_s_pa05, (3e-4, 2e5), (1, -0.5)),
    (hydraulics.nozzle_flow_m3_s, (0.02, 3e5, 0.5, 29.84), (2, 0.5, 1, 1)),
    (hydraulics.pump_power_w, (1e-3, 10.0, 0.4, 998.0), (1, 1, -1, 1)),
    (people.heat_per_person_j, (0.05, 30.0), (1, 1)),
    (propane.heat_balance_w, (10.0, 1.0, 300.0, 250.0, 4e5, 5e7), (1, 1, None, None, -1, 1)),
    (propane.fuel_energy_j, (9.0, 5e7), (1, 1)),
    (propane.vapour_volume_m3, (9.0, 0.54), (1, 1)),
    (propane.fill_limit_kg, (20.0, 0.4), (1, 1)),
    (propane.fill_limit_m3, (0.4, 0.4, 0.51, 1.02), (1, 1, -1, -1)),
    (reliability.mean_unavailability_approx, (1e-5, 720.0), (1, 1)),
    (reliability.pfd_1oo1, (1e-6, 0.5, 8760.0, 8.0), (1, None, None, None)),
]
EACH = [(made, given_, place, power) for made, given_, powers in LAWS for place, power in enumerate(powers) if power]


@pytest.mark.parametrize(("made", "given_", "place", "power"), EACH, ids=lambda part: getattr(part, "__name__", None))
@given(factor=st.floats(0.75, 1.05))
def test_the_answer_goes_as_its_arguments_do(made, given_, place, power, factor):
    scaled = [value * factor if at == place else value for at, value in enumerate(given_)]
    assert made(*scaled) == pytest.approx(made(*given_) * factor**power, rel=1e-9)


@pytest.mark.parametrize(
    ("made", "at"),
    [
        (propane.latent_heat_j_kg, np.linspace(200.0, 360.0, 33)),
        (heat.water_heat_capacity_j_kg_k, np.linspace(274.0, 373.0, 33)),
        (heat.water_density_kg_m3, np.linspace(274.0, 373.0, 33)),
        (propane.saturation_temperature_k, np.linspace(1e5, 2e6, 33)),
    ],
)
def test_an_array_gives_what_each_of_its_numbers_gives(made, at):
    assert made(at).tolist() == pytest.approx([made(float(one)) for one in at], rel=1e-12)


@given(colder=st.floats(200.0, 359.0), step=st.floats(0.1, 100.0))
def test_warmer_propane_takes_less_heat_to_boil(colder, step):
    assert propane.latent_heat_j_kg(min(colder + step, 360.0)) < propane.latent_heat_j_kg(colder)
