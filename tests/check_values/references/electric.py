"""Battery and fuel tables beside SciPy's interpolation, the wire gauge beside fluids."""

import numpy as np
from numpy.typing import NDArray

from shared.formulas import electric, generators
from shared.units import to_si
from tests.check_values.references import Reference

Pair = tuple[NDArray[np.float64], NDArray[np.float64]]
GAUGES = range(41)
CURRENTS_A = np.array([0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0])


def _rest_curves() -> Pair:
    from scipy.interpolate import make_interp_spline

    ours, theirs = [], []
    for curve in electric.BAND_CURVES.values():
        volts = np.linspace(curve.volts[0] + 0.2, curve.volts[-1], 60)
        ours.append(electric.charge_on_curve(volts, curve, curve.at_k))
        theirs.append(make_interp_spline(curve.volts, curve.charge, k=1)(volts))
    return np.concatenate(ours), np.concatenate(theirs)


def _cold() -> Pair:
    from scipy.interpolate import make_interp_spline

    ours, theirs = [], []
    for chemistry, (at_k, factors) in electric.COLD_FACTORS.items():
        t_k = np.linspace(at_k[0], at_k[-1], 60)
        ours.append(electric.cold_capacity_factor(t_k, chemistry))
        theirs.append(1 / make_interp_spline(at_k, factors, k=1)(t_k))
    return np.concatenate(ours), np.concatenate(theirs)


def _exponents() -> Pair:
    """The exponent from two tests beside the slope of a regression over seven, on a logarithmic scale."""
    from scipy.stats import linregress

    ours, theirs = [], []
    for k in np.linspace(1.0, 1.5, 11):
        times = electric.peukert_time_s(to_si(100.0, "Ah"), to_si(20.0, "h"), float(k), CURRENTS_A)
        ours.append(electric.peukert_exponent(CURRENTS_A[0], times[0], CURRENTS_A[-1], times[-1]))
        theirs.append(-linregress(np.log(CURRENTS_A), np.log(times)).slope)
    return np.array(ours), np.array(theirs)


def _gauges() -> Pair:
    from fluids.piping import t_from_gauge

    ours = [generators.wire_diameter_m(gauge) for gauge in GAUGES]
    return np.array(ours), np.array([t_from_gauge(gauge, SI=True, schedule="AWG") for gauge in GAUGES])


def _burn() -> Pair:
    from scipy.interpolate import make_interp_spline

    loads, burns = [0.25, 0.5, 0.75, 1.0], [2.6, 4.1, 5.8, 7.4]
    table = [(load, to_si(burn, "gal/h")) for load, burn in zip(loads, burns, strict=True)]
    at = np.linspace(0.25, 1.0, 61)
    ours = [generators.fuel_burn(float(load), table).m3_s for load in at]
    return np.array(ours), to_si(make_interp_spline(loads, burns, k=1)(at), "gal/h")


REFERENCES = [
    Reference("electric.charge_on_curve", "scipy", "four chemistries over their tables", _rest_curves, 1e-9),
    Reference("electric.cold_capacity_factor", "scipy", "four chemistries over their tables, to 77 degF", _cold, 1e-9),
    Reference("electric.peukert_exponent", "scipy", "exponents 1 to 1.5, 0.5 to 50 A", _exponents, 1e-9),
    # Its table is printed to four figures of an inch.
    Reference("generators.wire_diameter_m", "fluids", "0 to 40 AWG", _gauges, 0.005),
    Reference("generators.fuel_burn", "scipy", "a diesel set's table, quarter to full load", _burn, 1e-9),
]
