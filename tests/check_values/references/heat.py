"""Water and hoses beside reference libraries."""

import numpy as np
from CoolProp.CoolProp import PropsSI
from scipy.integrate import solve_ivp

from shared.formulas import heat
from shared.units import to_si
from tests.check_values.references import Reference

WATER_K = to_si(np.arange(33.0, 211.0, 1.0), "degF")
AT = ("P", 101325.0, "Water")


def density() -> tuple[np.ndarray, np.ndarray]:
    return heat.water_density_kg_m3(WATER_K), np.asarray(PropsSI("D", "T", WATER_K, *AT))


def heat_capacity() -> tuple[np.ndarray, np.ndarray]:
    return heat.water_heat_capacity_j_kg_k(WATER_K), np.asarray(PropsSI("C", "T", WATER_K, *AT))


def runs() -> tuple[np.ndarray, np.ndarray]:
    cold, hot = np.meshgrid(to_si(np.arange(33.0, 81.0, 3.0), "degF"), to_si(np.arange(85.0, 141.0, 5.0), "degF"))
    return cold.ravel(), hot.ravel()


def output_by_enthalpy() -> np.ndarray:
    cold, hot = runs()
    return np.asarray(PropsSI("D", "T", cold, *AT) * (PropsSI("H", "T", hot, *AT) - PropsSI("H", "T", cold, *AT)))


def output_by_properties() -> tuple[np.ndarray, np.ndarray]:
    return heat.heat_output_exact_w(np.ones_like(runs()[0]), *runs()), output_by_enthalpy()


def output_by_the_rule() -> tuple[np.ndarray, np.ndarray]:
    cold, hot = runs()
    return heat.heat_output_w(np.ones_like(cold), hot - cold), output_by_enthalpy()


def hose_ends() -> tuple[np.ndarray, np.ndarray]:
    """Kelvin lost along a hose, against the differential equation with the heat capacity of each place."""
    ours, theirs = [], []
    for flow in to_si(np.array([0.5, 2.0, 4.0, 8.0]), "gpm").tolist():
        for air_k in to_si(np.array([-10.0, 30.0, 60.0]), "degF").tolist():
            start, conductance, length = to_si(105.0, "degF"), 0.9, 30.0
            carried = flow * PropsSI("D", "T", start, *AT)

            def slope(_x, t, air_k=air_k, conductance=conductance, carried=carried):
                return [-conductance * (t[0] - air_k) / (carried * PropsSI("C", "T", t[0], *AT))]

            end = solve_ivp(slope, (0.0, length), [start], rtol=1e-9, atol=1e-9).y[0, -1]
            ours.append(start - heat.hose_outlet_k(start, air_k, flow, length, conductance))
            theirs.append(start - end)
    return np.array(ours), np.array(theirs)


REFERENCES = [
    Reference("heat.water_density_kg_m3", "CoolProp", "33 to 210 degF, 1 atm", density, 5e-5),
    Reference("heat.water_heat_capacity_j_kg_k", "CoolProp", "33 to 210 degF, 1 atm", heat_capacity, 1e-3),
    Reference("heat.heat_output_exact_w", "CoolProp", "33-80 to 85-140 degF, 1 atm", output_by_properties, 1e-3),
    Reference("heat.heat_output_w", "CoolProp", "33-80 to 85-140 degF, 1 atm", output_by_the_rule, 5e-3),
    Reference("heat.hose_outlet_k", "scipy", "0.5 to 8 gpm, -10 to 60 degF, kelvin lost", hose_ends, 2e-3),
]
