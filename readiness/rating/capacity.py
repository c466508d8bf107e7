"""What each item can give: the last reading where there is one, else its plate, marked claimed. SI."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from itertools import product
from typing import Final

from readiness.rating.evidence import Doubt, Standing
from readiness.rating.facts import Item, Measured
from shared.formulas import electric
from shared.units import to_si

HEATER_EFFICIENCY: Final = 0.80  # where neither a run nor the plate says; common practice, marked claimed
UNIT_COUNTS_FROM: Final = 0.5  # a limited unit is still a unit while it does half its work; common practice
CYLINDER_LB: Final = 100.0
REGULATOR_PSIG: Final = 10.0  # where the regulator's least inlet is not recorded; formulas of propane supply
PUMP_EFFICIENCY: Final = 0.5  # shaft over electric power of a small sump pump; common practice
PUMP_W: Final = 600.0  # 1/3 hp at that efficiency, rounded up; common practice
INFLATOR_W: Final = 1080.0  # 120 V, 9 A; common practice
STRIP_W: Final = 50.0  # 50 ft of sealed LED strip; common practice
FUEL_CAN_GAL: Final = 5.0
CLOSE: Final = 1.0 - 1e-9
# Modes that lower the very figure that is read: a limit of theirs, found by the inspection that took the reading, is in
# it. Any other limit that the same inspection found is not (a capacity test beside a rested voltage).
IN_THE_READING: Final = frozenset({"WH3", "WH7", "SP3", "BA1", "SH1", "FV1", "DV1"})

Shape = Callable[[float, float], float]


@dataclass(frozen=True, eq=False, slots=True)
class Supply:
    """What one item gives to one demand, as a function of how far it is limited.

    Attributes:
        standing: the item as its evidence leaves it.
        units: units of its row that count.
        shape: (ratio of its own capacity, ratio of its standing time) -> capacity of one unit, SI.
        resource: which C modes scale the first ratio, besides those that limit all.
        basis: "measured 2026-11-09", "plate", "assumed" or "count".
        claimed: the figure is no reading.
        inspection: of the reading: a limit of that very figure which the same inspection found is in it already.
        stand_inspection: likewise for the standing time.
        on: day of the reading.
    """

    standing: Standing
    units: int
    shape: Shape
    resource: str = ""
    basis: str = "count"
    claimed: bool = False
    inspection: str = ""
    stand_inspection: str = ""
    on: date | None = None

    @property
    def each(self) -> float:
        """Capacity of one unit with its known limits, and nothing else wrong."""
        return self.shape(*self.known_ratios())

    @property
    def total(self) -> float:
        """Capacity of all its units."""
        return self.units * self.each

    def known_ratios(self) -> tuple[float, float]:
        """Return what proofs have found left of (its capacity, its standing time), 1 where nothing is wrong."""
        own = stand = 1.0
        for limit in self.standing.known:
            read_by = limit.inspection if limit.code in IN_THE_READING else ""
            if self._scales_own(limit.limits) and not (read_by and read_by == self.inspection):
                own *= limit.ratio
            if _scales_stand(limit.limits) and not (read_by and read_by == self.stand_inspection):
                stand *= limit.ratio
        return own, stand

    def states(self) -> dict[float, list[dict[tuple[str, float], bool]]]:
        """Return capacity -> the combinations of open limits, by (resource, fraction left), that leave just that.

        Of several limits at once the worst decides: they are told apart by what is left, not added up.
        """
        own, stand = self.known_ratios()
        groups = sorted({(d.limits, d.fraction) for d in self.limiting()})
        found: dict[float, list[dict[tuple[str, float], bool]]] = {}
        for there in product((False, True), repeat=len(groups)):
            present = [g for g, yes in zip(groups, there, strict=True) if yes]
            left = min((f for limits, f in present if self._scales_own(limits)), default=1.0)
            stands = min((f for limits, f in present if _scales_stand(limits)), default=1.0)
            level = self.shape(own * left, stand * stands)
            found.setdefault(level, []).append(dict(zip(groups, there, strict=True)))
        return found

    def limiting(self) -> tuple[Doubt, ...]:
        """Return the open C modes that could change what it gives here."""
        own, stand = self.known_ratios()
        full = self.shape(own, stand)

        def matters(doubt: Doubt) -> bool:
            left = doubt.fraction if self._scales_own(doubt.limits) else 1.0
            stands = doubt.fraction if _scales_stand(doubt.limits) else 1.0
            return self.shape(own * left, stand * stands) != full

        return tuple(d for d in self.standing.doubts if d.grade == "C" and matters(d))

    @property
    def certain(self) -> bool:
        """Whether nothing unseen could change what it gives here."""
        return not any(d.grade == "I" for d in self.standing.doubts) and not self.limiting()

    def _scales_own(self, limits: str) -> bool:
        return limits == "all" or (limits == self.resource and limits != "stand")


def _scales_stand(limits: str) -> bool:
    return limits in ("all", "stand")


def number(item: Item, key: str) -> float | None:
    """Return a figure of an item's plate, None where it is not on record as a number above 0."""
    value = item.spec.get(key)
    try:
        found = float(str(value).replace(",", "")) if value not in (None, "") else None
    except ValueError:
        return None
    return found if found is not None and found > 0 else None


def as_units(own: float, _stand: float) -> float:
    """Shape of things that are counted: a unit is a unit until it is more than half gone."""
    return 1.0 if own >= UNIT_COUNTS_FROM else 0.0


def scaled(value: float) -> Shape:
    """Shape of what is engineered: capacity times what is left."""
    return lambda own, _stand: value * own


def _measured(item: Item, name: str) -> Measured | None:
    return item.measured.get(name)


def _basis(reading: Measured) -> str:
    return (
        f"{'at least, ' if reading.at_least else ''}measured {reading.on:%Y-%m-%d}{', stale' if reading.stale else ''}"
    )


def counted(standing: Standing) -> Supply:
    """Return a row that is counted in units: cylinders and batteries only while they hold half or more."""
    item = standing.item
    pressure, rated = _measured(item, "air_pressure_pa"), number(item, "rated_psi")
    if pressure is None or not rated:
        return Supply(standing, item.quantity, as_units)
    return _units_by(standing, pressure.value / to_si(rated, "psi"), pressure)


def battery(standing: Standing, air_k: float) -> Supply:
    """Return a battery as a unit: charge last read, less what the cold takes."""
    item = standing.item
    charge = _measured(item, "battery_soc")
    try:
        cold = float(electric.cold_capacity_factor(air_k, str(item.spec.get("chemistry") or "AGM")))
    except ValueError:
        cold = 1.0
    if charge is None:
        return Supply(standing, item.quantity, as_units, basis="count", claimed=True)
    return _units_by(standing, charge.value * cold, charge)


def _units_by(standing: Standing, share: float, reading: Measured) -> Supply:
    """Return a row whose units count by a reading of how much of a unit each is."""

    def shape(own: float, stand: float) -> float:
        return as_units(own * share, stand)

    return _by_reading(standing, shape, "", reading)


def _by_reading(standing: Standing, shape: Shape, resource: str, reading: Measured) -> Supply:
    return Supply(
        standing,
        standing.item.quantity,
        shape,
        resource,
        _basis(reading),
        inspection=reading.inspection,
        on=reading.on,
    )


def shelter(standing: Standing, seconds: float, lanes_else: int) -> Supply:
    """Return the lanes a shelter gives for as long as it is wanted; none where it would sag before."""
    item = standing.item
    lanes = number(item, "lanes")
    stood = _measured(item, "stand_s")
    stands_s = float("inf") if stood is None else stood.value

    def shape(own: float, stand: float) -> float:
        return (lanes or lanes_else) * own if stands_s * stand >= seconds * CLOSE else 0.0

    plate = "plate" if lanes else "assumed"
    basis = plate if stood is None else f"stands as {_basis(stood)}"
    return Supply(
        standing,
        item.quantity,
        shape,
        resource="lanes",
        basis=basis,
        claimed=stood is None or lanes is None,
        stand_inspection=stood.inspection if stood else "",
        on=stood.on if stood else None,
    )


def stand_s(supply: Supply) -> float:
    """Return for how long a shelter stands with its known limits; inf where no hold test says. [s]"""
    stood = _measured(supply.standing.item, "stand_s")
    return float("inf") if stood is None else stood.value * supply.known_ratios()[1]


def heater(standing: Standing) -> Supply:
    """Return a heater's output [W]: of its last run below set-point, else of its plate.

    A run held at set-point shows a least output only; the plate then stands where it says more.
    """
    item = standing.item
    ran, plate = _measured(item, "heater_output_w"), number(item, "input_btu_h")
    efficiency, _ = heater_efficiency(item)
    claimed_w = to_si(plate, "BTU/h") * efficiency if plate else 0.0
    if ran is not None and (not ran.at_least or ran.value >= claimed_w):
        return _by_reading(standing, scaled(ran.value), "heat", ran)
    return Supply(standing, item.quantity, scaled(claimed_w), "heat", "plate" if plate else "no figure", True)


def heater_efficiency(item: Item) -> tuple[float, bool]:
    """Return (efficiency, whether measured): of a run, else of the plate, else the usual 0.80."""
    ran, plate = _measured(item, "heater_efficiency"), number(item, "efficiency")
    if ran is not None:
        return ran.value, True
    if plate is not None:
        return (plate / 100.0 if plate > 1.0 else plate), False
    return HEATER_EFFICIENCY, False


def propane(standing: Standing) -> Supply:
    """Return a cylinder's contents [kg]: as last weighed, else full by its plate, claimed."""
    item = standing.item
    weighed = _measured(item, "propane_kg")
    if weighed is not None:
        return _by_reading(standing, scaled(weighed.value), "propane", weighed)
    return Supply(standing, item.quantity, scaled(nominal_kg(item)), "propane", "plate, not weighed", True)


def nominal_kg(item: Item) -> float:
    """Return what a cylinder holds when full. [kg]"""
    return float(to_si(number(item, "nominal_lb") or CYLINDER_LB, "lb"))


def pump(standing: Standing, lane_peak_m3_s: float) -> Supply:
    """Return the lanes a pump serves: one to a lane, and only while its flow is at least the lane's peak."""
    item = standing.item
    tested, plate = _measured(item, "pump_flow_m3_s"), number(item, "gpm")
    flow = tested.value if tested is not None else (to_si(plate, "gpm") if plate else float("inf"))

    def shape(own: float, _stand: float) -> float:
        return 1.0 if flow * own >= lane_peak_m3_s * CLOSE else 0.0

    if tested is not None:
        return _by_reading(standing, shape, "flow", tested)
    return Supply(standing, item.quantity, shape, "flow", "plate" if plate else "assumed", True)


def bladder(standing: Standing) -> Supply:
    """Return the room of a bladder by its plate; none where the plate is not on record. [m3]"""
    plate = number(standing.item, "gal")
    return Supply(
        standing,
        standing.item.quantity,
        scaled(to_si(plate, "gal") if plate else 0.0),
        "volume",
        "plate" if plate else "no figure",
        plate is None,
    )


def generator(standing: Standing) -> Supply:
    """Return a generator's output [W]: of its plate; a loaded run proves at least its load."""
    item = standing.item
    plate, ran = number(item, "watts") or 0.0, _measured(item, "generator_w")
    if ran is not None and ran.value >= plate:
        return _by_reading(standing, scaled(ran.value), "power", ran)
    return Supply(standing, item.quantity, scaled(plate), "power", "plate" if plate else "no figure", True)


def fuel_can(standing: Standing) -> Supply:
    """Return what is in the fuel cans, taken as full: they are counted, not measured. [m3]"""
    gallons = number(standing.item, "gal") or FUEL_CAN_GAL
    return Supply(standing, standing.item.quantity, scaled(to_si(gallons, "gal")), "fuel", "count, taken as full")


def inflator_w(item: Item) -> float:
    """Return an inflator's running power. [W]"""
    volts, amps = number(item, "volts"), number(item, "amps")
    return volts * amps if volts and amps else INFLATOR_W


def pump_w(item: Item) -> float:
    """Return a pump's running power: plate watts, else its horsepower over a small pump's efficiency. [W]"""
    watts, horsepower = number(item, "watts"), number(item, "hp")
    if watts:
        return watts
    return horsepower * 745.7 / PUMP_EFFICIENCY if horsepower else PUMP_W


def strip_w(item: Item) -> float:
    """Return a strip's power. [W]"""
    return number(item, "watts") or STRIP_W
