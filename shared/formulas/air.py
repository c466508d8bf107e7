"""Air in beams and cylinders: hold tests with the weather taken out, standing time, sun on a shut beam, fills."""

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from shared.formulas._ranges import FloatArray, Value, shaped, temperature, within

STANDARD_ATMOSPHERE_PA: Final = 101325.0

# Residual part of the Helmholtz energy of air as one fluid: n delta^d tau^t exp(-delta^l), no exponential where l is 0.
# Lemmon, Jacobsen, Penoncello and Friend (2000), table of the pseudo-pure fluid; columns n, d, t, l.
_AIR_TERMS: Final = np.array(
    [
        (0.118160747229, 1, 0, 0),
        (0.713116392079, 1, 0.33, 0),
        (-1.61824192067, 1, 1.01, 0),
        (0.0714140178971, 2, 0, 0),
        (-0.0865421396646, 3, 0, 0),
        (0.134211176704, 3, 0.15, 0),
        (0.0112626704218, 4, 0, 0),
        (-0.0420533228842, 4, 0.2, 0),
        (0.0349008431982, 4, 0.35, 0),
        (0.000164957183186, 6, 1.35, 0),
        (-0.101365037912, 1, 1.6, 1),
        (-0.17381369097, 3, 0.8, 1),
        (-0.0472103183731, 5, 0.95, 1),
        (-0.0122523554253, 6, 1.25, 1),
        (-0.146629609713, 1, 3.6, 2),
        (-0.0316055879821, 3, 6.0, 2),
        (0.000233594806142, 11, 3.25, 2),
        (0.0148287891978, 1, 3.5, 3),
        (-0.00938782884667, 3, 15.0, 3),
    ]
)
_AIR_REDUCING_K: Final = 132.6312
_AIR_REDUCING_MOL_M3: Final = 10447.7
_AIR_GAS_CONSTANT: Final = 8.31451  # the equation's own [J/(mol K)]
_AIR_HIGHEST_PA: Final = 50e6

# Lowest layer of the standard atmosphere.
_SEA_LEVEL_K: Final = 288.15
_LAPSE_K_M: Final = 0.0065
_LAPSE_EXPONENT: Final = 5.25588


class TimeToPressure(NamedTuple):
    """Two extrapolations of one leak, each counted from the first reading; math.inf where nothing is lost. [s]"""

    linear_s: float
    exponential_s: float

    @property
    def shorter_s(self) -> float:
        """The one to decide on. [s]"""
        return min(self)


class LeakFit(NamedTuple):
    """A leak fitted through a series of readings, as a share of the air at the start of the clock. [1/s]"""

    leak_per_s: float
    scatter_per_s: float  # standard error that the scatter about the line shows
    instrument_per_s: float  # standard uncertainty that the steps of gauge and thermometer bring
    upper_per_s: float  # one-sided upper limit, by the larger of the two


class SunLoad(NamedTuple):
    """What a beam filled in the cool and shut shows once it has warmed."""

    gauge_pa: float  # were no valve to lift [Pa gauge]
    over_relief_pa: float  # above the relief's setting; negative while there is room [Pa]
    lifts_at_k: float  # temperature of the beam at which the relief lifts [K]
    lifts: bool


def pressure_at(
    gauge_pa: Value,
    t_from_k: Value | float,
    baro_from_pa: Value | float,
    t_to_k: Value | float,
    baro_to_pa: Value | float,
) -> Value:
    """Gauge pressure that tight, unmoved air shows once temperature and barometer have changed.

    Args:
        gauge_pa: first gauge pressure, scalar or shape (n,); with the barometer, above zero absolute. [Pa gauge]
        t_from_k: temperature of the air at the first reading, 200 to 400. [K]
        baro_from_pa: station pressure at the first reading, never reduced to sea level, > 0. [Pa absolute]
        t_to_k: temperature at the second reading, 200 to 400. [K]
        baro_to_pa: station pressure at the second reading, > 0. [Pa absolute]

    Returns:
        Expected gauge pressure at the second reading. [Pa gauge]

    Raises:
        ValueError: an argument is out of range.

    Source: ideal gas at constant volume, (p1 + b1)/T1 = (p2 + b2)/T2; better than 0.1 % below 70 kPa gauge.
    """
    within("baro_from_pa", baro_from_pa, 0.0, unit="Pa", above=True)
    within("baro_to_pa", baro_to_pa, 0.0, unit="Pa", above=True)
    temperature("t_from_k", t_from_k)
    temperature("t_to_k", t_to_k)
    within("gauge_pa + baro_from_pa", gauge_pa + baro_from_pa, 0.0, unit="Pa absolute", above=True)
    return (gauge_pa + baro_from_pa) * (t_to_k / t_from_k) - baro_to_pa


def corrected_loss_pa(
    p1_pa: Value,
    t1_k: Value | float,
    b1_pa: Value | float,
    p2_pa: Value | float,
    t2_k: Value | float,
    b2_pa: Value | float,
) -> Value:
    """Gauge pressure truly lost in a hold: what the second reading should have been, less what it was.

    Args:
        p1_pa: first gauge reading, scalar or shape (n,). [Pa gauge]
        t1_k: temperature of the beam at the first reading, 200 to 400. [K]
        b1_pa: station pressure at the first reading, > 0. [Pa absolute]
        p2_pa: second gauge reading; with b2, above zero absolute. [Pa gauge]
        t2_k: temperature of the beam at the second reading, 200 to 400. [K]
        b2_pa: station pressure at the second reading, > 0. [Pa absolute]

    Returns:
        Loss at the conditions of the second reading; negative where the beam reads more than tight air would. [Pa]

    Raises:
        ValueError: an argument is out of range.

    Source: ideal gas at constant volume, see pressure_at.
    """
    _reading(1, p1_pa, t1_k, b1_pa)
    _reading(2, p2_pa, t2_k, b2_pa)
    return pressure_at(p1_pa, t1_k, b1_pa, t2_k, b2_pa) - p2_pa


def air_lost(
    p1_pa: Value,
    t1_k: Value | float,
    b1_pa: Value | float,
    p2_pa: Value | float,
    t2_k: Value | float,
    b2_pa: Value | float,
) -> Value:
    """Share of the air, by mass, that left between two readings.

    Args:
        p1_pa: first gauge reading, scalar or shape (n,); with b1, above zero absolute. [Pa gauge]
        t1_k: temperature of the beam at the first reading, 200 to 400. [K]
        b1_pa: station pressure at the first reading, > 0. [Pa absolute]
        p2_pa: second gauge reading; with b2, above zero absolute. [Pa gauge]
        t2_k: temperature of the beam at the second reading, 200 to 400. [K]
        b2_pa: station pressure at the second reading, > 0. [Pa absolute]

    Returns:
        1 - (m2 / m1); negative where air came in. [ratio]

    Raises:
        ValueError: an argument is out of range.

    Source: ideal gas at constant volume, mass proportional to P/T.
    """
    loss = corrected_loss_pa(p1_pa, t1_k, b1_pa, p2_pa, t2_k, b2_pa)
    # The loss at (t2, b2) over what the absolute pressure there would have been is the lost share of the mass.
    return loss / ((p1_pa + b1_pa) * (t2_k / t1_k))


def loss_uncertainty_pa(
    resolution_pa: float,
    t_resolution_k: float,
    gauge_pa: Value,
    t_k: Value | float,
    baro_pa: Value | float,
) -> Value:
    """Expanded uncertainty of a corrected loss that comes from the gauge's and the thermometer's resolution alone.

    Args:
        resolution_pa: smallest step of the gauge that can be read, >= 0. [Pa]
        t_resolution_k: smallest step of the thermometer, a difference, >= 0. [K]
        gauge_pa: gauge pressure of the test, scalar or shape (n,). [Pa gauge]
        t_k: temperature of the test, 200 to 400. [K]
        baro_pa: station pressure of the test, > 0. [Pa absolute]

    Returns:
        U95 = 2 sqrt(2 u_p^2 + 2 (P u_T / T)^2), with u = step / sqrt(12). [Pa]

    Raises:
        ValueError: an argument is out of range.

    Source: JCGM 100:2008 (GUM) F.2.2.1, rectangular distribution (clause from memory); two readings, coverage factor 2.
    """
    within("resolution_pa", resolution_pa, 0.0, unit="Pa")
    within("t_resolution_k", t_resolution_k, 0.0, unit="K")
    temperature("t_k", t_k)
    within("baro_pa", baro_pa, 0.0, unit="Pa", above=True)
    within("gauge_pa + baro_pa", gauge_pa + baro_pa, 0.0, unit="Pa absolute", above=True)
    pressure_variance = resolution_pa**2 / 12
    slope: Value = (gauge_pa + baro_pa) / t_k
    temperature_variance: Value = slope**2 * (t_resolution_k**2 / 12)
    spread: Value = (2 * pressure_variance + 2 * temperature_variance) ** 0.5
    return 2 * spread


def time_to_pressure_s(p0_pa: float, p1_pa: float, elapsed_s: float, least_pa: float) -> TimeToPressure:
    """How long a leaking beam stands above its least supporting pressure, by a straight line and by a decay.

    The decay is right for a leak in proportion to gauge pressure, the line for one that does not slacken. Each is
    counted from the first reading. A beam already at or under the least pressure stands 0 s.

    Args:
        p0_pa: first gauge pressure, > 0. [Pa gauge]
        p1_pa: second gauge pressure, corrected to the first one's temperature and barometer, >= 0. [Pa gauge]
        elapsed_s: time between them, > 0. [s]
        least_pa: least supporting pressure, > 0. [Pa gauge]

    Returns:
        Both times; math.inf in both where no pressure was lost. [s]

    Raises:
        ValueError: an argument is out of range.

    Source: dp/dt = -c gives dt (p0 - pl)/(p0 - p1); dp/dt = -k p gives dt ln(p0/pl)/ln(p0/p1).
    """
    within("p0_pa", p0_pa, 0.0, unit="Pa", above=True)
    within("p1_pa", p1_pa, 0.0, unit="Pa")
    within("elapsed_s", elapsed_s, 0.0, unit="s", above=True)
    within("least_pa", least_pa, 0.0, unit="Pa", above=True)
    if p0_pa <= least_pa:
        return TimeToPressure(0.0, 0.0)
    # Two pressures equal but for rounding have no leak between them; without this the decay would divide by zero.
    decay = math.log(p0_pa / p1_pa) if p1_pa > 0 else math.inf
    if p1_pa >= p0_pa or decay == 0.0:
        return TimeToPressure(math.inf, math.inf)
    linear = elapsed_s * (p0_pa - least_pa) / (p0_pa - p1_pa)
    return TimeToPressure(linear, elapsed_s * math.log(p0_pa / least_pa) / decay)


def leak_standard_m3_s(
    volume_m3: float,
    lost: float,
    gauge_pa: float,
    t_k: float,
    baro_pa: float,
    elapsed_s: float,
    standard_t_k: float,
    standard_p_pa: float,
) -> float:
    """Mean leak of a beam as a flow of air at a stated standard condition.

    Args:
        volume_m3: volume of the beam, > 0. [m3]
        lost: share of the air lost, see air_lost. [ratio]
        gauge_pa: first gauge reading. [Pa gauge]
        t_k: temperature at the first reading, 200 to 400. [K]
        baro_pa: station pressure at the first reading, > 0. [Pa absolute]
        elapsed_s: time between the readings, > 0. [s]
        standard_t_k: the standard temperature to print beside the flow, 200 to 400. [K]
        standard_p_pa: the standard pressure to print beside the flow, > 0. [Pa absolute]

    Returns:
        Mean flow at the standard condition; negative where air came in. [m3/s]

    Raises:
        ValueError: an argument is out of range.

    Source: ideal gas, Q = V (P1/T1) lost (Ts/Ps) / dt.
    """
    within("volume_m3", volume_m3, 0.0, unit="m3", above=True)
    within("lost", lost, high=1.0, unit="ratio")
    within("elapsed_s", elapsed_s, 0.0, unit="s", above=True)
    within("baro_pa", baro_pa, 0.0, unit="Pa", above=True)
    within("gauge_pa + baro_pa", gauge_pa + baro_pa, 0.0, unit="Pa absolute", above=True)
    within("standard_p_pa", standard_p_pa, 0.0, unit="Pa", above=True)
    temperature("t_k", t_k)
    temperature("standard_t_k", standard_t_k)
    return volume_m3 * (gauge_pa + baro_pa) / t_k * lost * standard_t_k / standard_p_pa / elapsed_s


def free_air_m3(volume_m3: float, gauge_pa: Value, baro_pa: float) -> Value:
    """Air of the room that an empty, limp volume takes to reach a gauge pressure at room temperature.

    Args:
        volume_m3: volume when full, > 0. [m3]
        gauge_pa: pressure to reach, scalar or shape (n,), >= 0. [Pa gauge]
        baro_pa: station pressure, > 0. [Pa absolute]

    Returns:
        Volume of free air. [m3]

    Raises:
        ValueError: an argument is out of range.

    Source: Boyle's law, V (p + b) / b.
    """
    within("volume_m3", volume_m3, 0.0, unit="m3", above=True)
    within("gauge_pa", gauge_pa, 0.0, unit="Pa")
    within("baro_pa", baro_pa, 0.0, unit="Pa", above=True)
    return volume_m3 * (gauge_pa + baro_pa) / baro_pa


def inflation_time_s(volume_m3: float, gauge_pa: Value, baro_pa: float, free_air_m3_s: float) -> Value:
    """Time that an inflator takes from limp to a gauge pressure, by its free air flow.

    Args:
        volume_m3: volume when full, > 0. [m3]
        gauge_pa: pressure to reach, scalar or shape (n,), >= 0. [Pa gauge]
        baro_pa: station pressure, > 0. [Pa absolute]
        free_air_m3_s: air of the room that the inflator moves, mean over the fill, > 0. [m3/s]

    Returns:
        Time to fill. [s]

    Raises:
        ValueError: an argument is out of range.

    Source: free_air_m3 over the flow.
    """
    within("free_air_m3_s", free_air_m3_s, 0.0, unit="m3/s", above=True)
    return free_air_m3(volume_m3, gauge_pa, baro_pa) / free_air_m3_s


def loss_rate_pa_s(loss_pa: Value, elapsed_s: float) -> Value:
    """Mean rate at which a beam loses pressure.

    Args:
        loss_pa: corrected loss, scalar or shape (n,), see corrected_loss_pa. [Pa]
        elapsed_s: time between the readings, > 0. [s]

    Returns:
        Loss for each second; negative where the beam gained. [Pa/s]

    Raises:
        ValueError: an argument is out of range.

    Source: difference quotient.
    """
    within("loss_pa", loss_pa, unit="Pa")
    within("elapsed_s", elapsed_s, 0.0, unit="s", above=True)
    return loss_pa / elapsed_s


def leak_fit(
    time_s: Sequence[float] | FloatArray,
    gauge_pa: Sequence[float] | FloatArray,
    t_k: Sequence[float] | FloatArray,
    baro_pa: Sequence[float] | FloatArray | float,
    resolution_pa: float = 0.0,
    t_resolution_k: float = 0.0,
    level: float = 0.95,
) -> LeakFit:
    """Leak by a straight line through any number of readings, three or more, with what it is worth.

    Scatter already holds what the instruments add at random, so the upper limit takes the larger of the two
    uncertainties and not their sum. Readings that a coarse dial rounds to one value lie on a line without scatter,
    and only the instruments' part then says how little that line knows.

    Args:
        time_s: clock of the test, 0 at its start, at least two different times, shape (n,), n >= 3. [s]
        gauge_pa: readings, shape (n,); with the barometer, above zero absolute. [Pa gauge]
        t_k: temperature of the beam, shape (n,), 200 to 400. [K]
        baro_pa: station pressure, shape (n,) or one for all, > 0. [Pa absolute]
        resolution_pa: smallest step of the gauge, >= 0. [Pa]
        t_resolution_k: smallest step of the thermometer, a difference, >= 0. [K]
        level: of the one-sided upper limit, 0.5 to 0.9999. [ratio]

    Returns:
        Leak, its two uncertainties and its upper limit; negative where air came in. [1/s]

    Raises:
        ValueError: an argument is out of range, or the readings do not pair.

    Source: mass-point method, form of ANSI/ANS-56.8 (from memory): W = P/T = B + A t by least squares, leak -A/B,
        limit by Student's t of n - 2, uncertainty of B left out; steps as rectangular, JCGM 100:2008 (GUM) F.2.2.1
        (from memory), carried through the weights of the line.
    """
    from scipy.special import ndtri, stdtrit

    clock = np.asarray(time_s, dtype=np.float64)
    if clock.ndim != 1 or clock.size < 3:
        raise ValueError(f"time_s must hold at least 3 readings in one row, got shape {clock.shape}")
    within("time_s", clock, unit="s")
    gauge, air = np.asarray(gauge_pa, dtype=np.float64), np.asarray(t_k, dtype=np.float64)
    baro = np.asarray(baro_pa, dtype=np.float64)
    for name, row in (("gauge_pa", gauge), ("t_k", air), ("baro_pa", baro)):
        if row.shape != clock.shape and not (name == "baro_pa" and row.ndim == 0):
            raise ValueError(f"{name} must hold one value for each of {clock.size} times, got shape {row.shape}")
    temperature("t_k", air)
    within("baro_pa", baro, 0.0, unit="Pa", above=True)
    within("gauge_pa + baro_pa", gauge + baro, 0.0, unit="Pa absolute", above=True)
    within("resolution_pa", resolution_pa, 0.0, unit="Pa")
    within("t_resolution_k", t_resolution_k, 0.0, unit="K")
    within("level", level, 0.5, 0.9999, unit="ratio")
    off = clock - clock.mean()
    spread = float(off @ off)
    if spread <= 0.0:
        raise ValueError(f"time_s must hold at least two different times, got {clock[0]:g} s for all")
    mass = (gauge + baro) / air
    slope = float(off @ mass) / spread
    start = float(mass.mean() - slope * clock.mean())
    within("mass at the start by the line", start, 0.0, unit="Pa/K", above=True)
    residual = mass - start - slope * clock
    scatter = math.sqrt(float(residual @ residual) / (clock.size - 2) / spread) / start
    step = mass**2 * ((resolution_pa / (gauge + baro)) ** 2 + (t_resolution_k / air) ** 2) / 12
    instrument = math.sqrt(float(off**2 @ step)) / spread / start
    margin = max(float(stdtrit(clock.size - 2, level)) * scatter, float(ndtri(level)) * instrument)
    leak = -slope / start
    return LeakFit(leak, scatter, instrument, leak + margin)


def sun_load(
    fill_gauge_pa: float,
    t_fill_k: float,
    baro_fill_pa: float,
    t_beam_k: float,
    baro_pa: float,
    relief_gauge_pa: float,
) -> SunLoad:
    """What warming does to a shut beam: its pressure, and the temperature at which its relief valve lifts.

    Args:
        fill_gauge_pa: pressure it was filled to, >= 0. [Pa gauge]
        t_fill_k: temperature of the beam when filled, 200 to 400. [K]
        baro_fill_pa: station pressure when filled, > 0. [Pa absolute]
        t_beam_k: temperature of the beam in the sun, 200 to 400. [K]
        baro_pa: station pressure then, > 0. [Pa absolute]
        relief_gauge_pa: setting of the relief valve, > 0. [Pa gauge]

    Returns:
        Pressure without a valve [Pa gauge], how far that is over the setting [Pa], the lifting temperature [K].

    Raises:
        ValueError: an argument is out of range.

    Source: ideal gas at constant volume, see pressure_at; T = Tfill (relief + b)/(fill + bfill). Fabric stretches, so
        the real pressure is a little lower.
    """
    within("fill_gauge_pa", fill_gauge_pa, 0.0, unit="Pa")
    within("relief_gauge_pa", relief_gauge_pa, 0.0, unit="Pa", above=True)
    gauge = pressure_at(fill_gauge_pa, t_fill_k, baro_fill_pa, t_beam_k, baro_pa)
    lifts_at = t_fill_k * (relief_gauge_pa + baro_pa) / (fill_gauge_pa + baro_fill_pa)
    return SunLoad(gauge, gauge - relief_gauge_pa, lifts_at, gauge >= relief_gauge_pa)


def station_pressure_pa(elevation_m: Value, sea_level_pa: float = STANDARD_ATMOSPHERE_PA) -> Value:
    """Barometer at an elevation, from the sea-level figure that airports and weather reports give.

    Args:
        elevation_m: above sea level, scalar or shape (n,), -500 to 5,000. [m]
        sea_level_pa: pressure reduced to sea level, 85,000 to 110,000. [Pa absolute]

    Returns:
        Station pressure. [Pa absolute]

    Raises:
        ValueError: an argument is out of range.

    Source: U.S. Standard Atmosphere 1976, lowest layer, p = p0 (1 - 0.0065 h / 288.15)^5.25588.
    """
    within("elevation_m", elevation_m, -500.0, 5000.0, unit="m")
    within("sea_level_pa", sea_level_pa, 85_000.0, 110_000.0, unit="Pa")
    cooler: Value = 1.0 - _LAPSE_K_M * elevation_m / _SEA_LEVEL_K
    result: Value = sea_level_pa * cooler**_LAPSE_EXPONENT
    return result


def air_compressibility(abs_pa: Value, t_k: Value | float) -> Value:
    """Compressibility of dry air, Z = p V / (n R T).

    Args:
        abs_pa: pressure, scalar or shape (n,), above 0 to 50 MPa. [Pa absolute]
        t_k: temperature, scalar or shape (n,), 200 to 400. [K]

    Returns:
        Z; 1 is the ideal gas. [ratio]

    Raises:
        ValueError: an argument is out of range.

    Source: Lemmon, Jacobsen, Penoncello and Friend, J. Phys. Chem. Ref. Data 29 (2000) 331, pseudo-pure air, solved for
        density by Newton's method. Within 1e-8 of that equation in a reference library from 32 to 120 degF and 0 to
        5,000 psig; the equation itself is good to 0.1 % in density.
    """
    within("abs_pa", abs_pa, 0.0, _AIR_HIGHEST_PA, unit="Pa absolute", above=True)
    temperature("t_k", t_k)
    tau = _AIR_REDUCING_K / np.asarray(t_k, dtype=np.float64)
    ideal = np.asarray(abs_pa) * tau / (_AIR_GAS_CONSTANT * _AIR_REDUCING_K * _AIR_REDUCING_MOL_M3)
    delta = ideal
    # Far above its critical temperature air has one density at a pressure, and p rises with it all the way.
    for _ in range(50):
        z, slope = _reduced_air(delta, tau)
        step = (delta * z - ideal) / (z + delta * slope)
        delta = delta - step
        if np.max(np.abs(step), initial=0.0) < 1e-13:
            break
    result: Value = shaped(ideal / delta, abs_pa, t_k)
    return result


def cylinder_air_m3(
    water_m3: float,
    start_gauge_pa: Value,
    end_gauge_pa: Value | float,
    t_k: float,
    baro_pa: float,
    *,
    ideal: bool = False,
) -> Value:
    """Air of the room that a cylinder gives between two pressures.

    The temperature is one for both readings: a cylinder emptied in minutes is colder at the end, and gives less until
    it has warmed.

    Args:
        water_m3: inside volume of the cylinder, > 0. [m3]
        start_gauge_pa: pressure at the start, scalar or shape (n,), 0 to 50 MPa less the barometer. [Pa gauge]
        end_gauge_pa: pressure left, 0 to the start. [Pa gauge]
        t_k: temperature of the air in it and of the room, 200 to 400. [K]
        baro_pa: station pressure, > 0. [Pa absolute]
        ideal: leave compressibility out, as the trade's rule does; 12 % too much at 4,500 psi. [-]

    Returns:
        Free air at t_k and baro_pa. [m3]

    Raises:
        ValueError: an argument is out of range.

    Source: mass balance, V (n1 - n2) / n0, with the amount in a volume p / (Z T), see air_compressibility.
    """
    within("water_m3", water_m3, 0.0, unit="m3", above=True)
    temperature("t_k", t_k)
    within("baro_pa", baro_pa, 0.0, unit="Pa", above=True)
    within("end_gauge_pa", end_gauge_pa, 0.0, unit="Pa")
    within("start_gauge_pa - end_gauge_pa", start_gauge_pa - end_gauge_pa, 0.0, unit="Pa")
    if ideal:
        return water_m3 * (start_gauge_pa - end_gauge_pa) / baro_pa
    start = _amount(start_gauge_pa + baro_pa, t_k)
    end = _amount(np.asarray(end_gauge_pa) + baro_pa, t_k)
    free = _amount(np.asarray(baro_pa), t_k)
    result: Value = shaped(water_m3 * (start - end) / free, start_gauge_pa, end_gauge_pa)
    return result


def cylinder_fills(
    water_m3: float,
    start_gauge_pa: Value,
    least_inlet_gauge_pa: float,
    t_k: float,
    baro_pa: float,
    shelter_m3: float,
    fill_gauge_pa: float,
) -> Value:
    """Shelters that one cylinder fills from limp before its regulator lacks inlet pressure; whole ones are its floor.

    Args:
        water_m3: inside volume of the cylinder, > 0. [m3]
        start_gauge_pa: pressure in the cylinder, scalar or shape (n,), 0 to 50 MPa less the barometer. [Pa gauge]
        least_inlet_gauge_pa: least inlet pressure of the regulator, >= 0. [Pa gauge]
        t_k: temperature of the air, 200 to 400. [K]
        baro_pa: station pressure, > 0. [Pa absolute]
        shelter_m3: volume of all beams of one shelter, > 0. [m3]
        fill_gauge_pa: the maker's set pressure, >= 0. [Pa gauge]

    Returns:
        Fills, with the part of one; none where the cylinder is under the least inlet. [fills]

    Raises:
        ValueError: an argument is out of range.

    Source: cylinder_air_m3 over free_air_m3.
    """
    within("start_gauge_pa", start_gauge_pa, 0.0, unit="Pa")
    within("least_inlet_gauge_pa", least_inlet_gauge_pa, 0.0, unit="Pa")
    within("shelter_m3", shelter_m3, 0.0, unit="m3", above=True)
    within("fill_gauge_pa", fill_gauge_pa, 0.0, unit="Pa")
    usable: Value = shaped(np.maximum(start_gauge_pa, least_inlet_gauge_pa), start_gauge_pa)
    given = cylinder_air_m3(water_m3, usable, least_inlet_gauge_pa, t_k, baro_pa)
    return given / free_air_m3(shelter_m3, fill_gauge_pa, baro_pa)


def _reading(which: int, gauge_pa: float | FloatArray, t_k: float | FloatArray, baro_pa: float | FloatArray) -> None:
    """Refuse a reading of a hold that is no pressure of air, by the names of its arguments."""
    temperature(f"t{which}_k", t_k)
    within(f"b{which}_pa", baro_pa, 0.0, unit="Pa", above=True)
    within(f"p{which}_pa", gauge_pa, unit="Pa")
    within(f"p{which}_pa + b{which}_pa", gauge_pa + baro_pa, 0.0, unit="Pa absolute", above=True)


def _amount(abs_pa: float | FloatArray, t_k: float) -> FloatArray:
    """p / Z: what a volume holds at a temperature, but for a factor that cancels."""
    pressure = np.asarray(abs_pa, dtype=np.float64)
    return pressure / air_compressibility(pressure, t_k)


def _reduced_air(delta: FloatArray, tau: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Z of the equation at a reduced density and an inverse reduced temperature, and its slope by density."""
    n, d, t, power = (column.reshape(-1, *(1 for _ in np.broadcast(delta, tau).shape)) for column in _AIR_TERMS.T)
    damping = np.where(power > 0, delta**power, 0.0)
    weight = n * delta**d * tau**t * np.exp(-damping)
    order = d - power * damping
    z = 1.0 + np.sum(weight * order, axis=0)
    slope = np.sum(weight * (order**2 - power**2 * damping), axis=0) / delta
    return np.asarray(z), np.asarray(slope)
