"""Air in a beam: what a hold test shows once weather is taken out of it, and how long the beam will stand."""

import math
from typing import NamedTuple

from shared.formulas._ranges import Value, temperature, within


class TimeToPressure(NamedTuple):
    """Two extrapolations of one leak, each counted from the first reading; math.inf where nothing is lost. [s]"""

    linear_s: float
    exponential_s: float

    @property
    def shorter_s(self) -> float:
        """The one to decide on. [s]"""
        return min(self)


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
    expected = pressure_at(p1_pa, t1_k, b1_pa, t2_k, b2_pa)
    within("p2_pa + b2_pa", p2_pa + b2_pa, 0.0, unit="Pa absolute", above=True)
    return expected - p2_pa


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
