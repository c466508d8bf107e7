"""Air beside reference libraries: real gas, the standard atmosphere, the line of a leak."""

import numpy as np
import statsmodels.api as sm
from CoolProp.CoolProp import PropsSI
from fluids.atmosphere import ATMOSPHERE_1976

from shared.formulas import air
from shared.units import to_si
from tests.check_values.references import Reference

GAUGE = to_si(np.linspace(0.0, 5000.0, 51), "psi") + air.STANDARD_ATMOSPHERE_PA
AIR_F = np.arange(32.0, 121.0, 8.0)


def compressibility() -> tuple[np.ndarray, np.ndarray]:
    pressure, warmth = (grid.ravel() for grid in np.meshgrid(GAUGE, to_si(AIR_F, "degF")))
    return air.air_compressibility(pressure, warmth), np.asarray(PropsSI("Z", "T", warmth, "P", pressure, "Air"))


def cylinder_air() -> tuple[np.ndarray, np.ndarray]:
    def theirs(warmth: float) -> np.ndarray:
        density = np.asarray(PropsSI("D", "T", warmth, "P", GAUGE[5:], "Air"))
        left = PropsSI("D", "T", warmth, "P", GAUGE[4], "Air")
        return (density - left) / PropsSI("D", "T", warmth, "P", air.STANDARD_ATMOSPHERE_PA, "Air")

    start, left = GAUGE[5:] - air.STANDARD_ATMOSPHERE_PA, float(GAUGE[4] - air.STANDARD_ATMOSPHERE_PA)
    warmths = to_si(AIR_F, "degF").tolist()
    ours = [air.cylinder_air_m3(1.0, start, left, warmth, air.STANDARD_ATMOSPHERE_PA) for warmth in warmths]
    return np.concatenate(ours), np.concatenate([theirs(warmth) for warmth in warmths])


def station_pressure() -> tuple[np.ndarray, np.ndarray]:
    heights = np.linspace(-500.0, 4000.0, 46)
    return air.station_pressure_pa(heights), np.array([ATMOSPHERE_1976(height).P for height in heights])


def leak_line() -> tuple[np.ndarray, np.ndarray]:
    chance = np.random.default_rng(4)
    ours, theirs = [], []
    for readings in range(3, 40):
        clock = np.sort(chance.uniform(0.0, 1e5, readings))
        gauge, warmth = 17e3 - 0.02 * clock + chance.normal(0, 60, readings), chance.normal(293, 4, readings)
        found = air.leak_fit(clock, gauge, warmth, 1e5)
        line = sm.OLS((gauge + 1e5) / warmth, sm.add_constant(clock)).fit()
        ours += [found.leak_per_s, found.scatter_per_s]
        theirs += [-line.params[1] / line.params[0], line.bse[1] / line.params[0]]
    return np.array(ours), np.array(theirs)


REFERENCES = [
    Reference("air.air_compressibility", "CoolProp", "32 to 120 degF, 0 to 5,000 psig", compressibility, 1e-8),
    Reference("air.cylinder_air_m3", "CoolProp", "32 to 120 degF, 500 to 5,000 psig down to 400", cylinder_air, 1e-7),
    Reference("air.station_pressure_pa", "fluids", "-500 to 4,000 m", station_pressure, 5e-4),
    Reference("air.leak_fit", "statsmodels", "3 to 39 readings, leak and standard error", leak_line, 1e-8),
]
