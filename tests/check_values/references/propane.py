"""Propane beside a reference equation of state."""

import numpy as np
from CoolProp.CoolProp import PropsSI

from shared.formulas import propane
from shared.units import to_si
from tests.check_values.references import Reference

LIQUID_K = to_si(np.arange(-60.0, 161.0, 2.0), "degF")


def saturation_pressure() -> tuple[np.ndarray, np.ndarray]:
    return propane.saturation_pressure_pa(LIQUID_K), np.asarray(PropsSI("P", "T", LIQUID_K, "Q", 0, "Propane"))


def saturation_temperature() -> tuple[np.ndarray, np.ndarray]:
    pressure = np.asarray(PropsSI("P", "T", LIQUID_K, "Q", 0, "Propane"))
    return propane.saturation_temperature_k(pressure), LIQUID_K


def latent_heat() -> tuple[np.ndarray, np.ndarray]:
    vapour, liquid = (np.asarray(PropsSI("H", "T", LIQUID_K, "Q", share, "Propane")) for share in (1, 0))
    return propane.latent_heat_j_kg(LIQUID_K), vapour - liquid


def regulator_share() -> tuple[np.ndarray, np.ndarray]:
    warmth, inlet = (g.ravel() for g in np.meshgrid(to_si(np.arange(0.0, 71.0, 5.0), "degF"), np.arange(0.0, 1e5, 1e4)))
    stops = np.asarray(PropsSI("T", "P", inlet + 101325.0, "Q", 0, "Propane"))
    boils = PropsSI("T", "P", 101325.0, "Q", 0, "Propane")
    return propane.regulator_factor(warmth, inlet), (warmth - stops) / (warmth - boils)


REFERENCES = [
    Reference("propane.saturation_pressure_pa", "CoolProp", "-60 to 160 degF", saturation_pressure, 5e-4),
    Reference("propane.saturation_temperature_k", "CoolProp", "-60 to 160 degF", saturation_temperature, 1e-4),
    Reference("propane.latent_heat_j_kg", "CoolProp", "-60 to 160 degF", latent_heat, 2e-3),
    Reference("propane.regulator_factor", "CoolProp", "0 to 70 degF, 0 to 90 kPa inlet", regulator_share, 1e-3),
]
