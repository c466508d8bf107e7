"""Facts of invented lines, with the project's own catalogue: whole and proven unless a test says otherwise."""

import csv
import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from readiness.rating import facts as f
from readiness.rating.mission import Mission, standard_mission
from shared.units import to_si

AT = datetime(2026, 11, 20, 18, tzinfo=UTC)
YEAR = 365.25
CATALOGUE = Path(__file__).parents[3] / "inventory" / "catalogue"
PEOPLE = ("Quinn", "Casey", "Avery", "Hollis")


@cache
def kinds() -> dict[str, dict[str, Any]]:
    return {row["key"]: row for row in json.loads((CATALOGUE / "kinds.json").read_text())}


@cache
def mode_rows() -> dict[str, dict[str, str]]:
    with (CATALOGUE / "modes.csv").open() as file:
        return {row["code"]: row for row in csv.DictReader(file)}


def mode(kind: str, code: str) -> f.Mode:
    row = mode_rows()[code]

    def number(key: str) -> float | None:
        return float(row[key]) if row[key] else None

    seen = {c for codes in kinds()[kind]["checks"].values() for c in codes} if kind in kinds() else {code}
    return f.Mode(
        code=code,
        name=row["name"],
        grade=row["grade"],
        cls=row["cls"],
        prior=f.Prior(
            rate_median=number("rate_median"),
            rate_error_factor=number("rate_error_factor"),
            demand_mean=number("demand_mean"),
            demand_trials=number("demand_trials"),
        ),
        limited_fraction=number("limited_fraction") or 0.8,
        limits=row["limits"] or "all",
        scheduled=code in seen,
    )


@cache
def modes() -> dict[str, f.Mode]:
    """Return every mode of every kind as the catalogue has it, and the one of the whole line."""
    found = {f"{key}:{code}": mode(key, code) for key, kind in kinds().items() for code in kind["modes"]}
    return found | {"line:PE1": mode("line", "PE1")}


def proof(key: str, days: float = 30, fresh_days: float = 60, **over: Any) -> f.ModeEvidence:
    """Return a mode proven absent some days ago, fresh for some more; with ``days`` None never looked at."""
    return f.ModeEvidence(
        **{
            "mode": key,
            "exposure_years": days / YEAR,
            "outcome": "proven",
            "proven_at": AT - timedelta(days=days),
            "stale_at": AT + timedelta(days=fresh_days),
            "inspection": f"{key} {days}",
        }
        | over
    )


def unproven(key: str, years: float | None = 2.0, outcome: str = "none") -> f.ModeEvidence:
    return f.ModeEvidence(mode=key, exposure_years=years, outcome=outcome)


def item(
    tag: str,
    kind: str,
    quantity: int = 1,
    *,
    days: float = 30,
    spec: Mapping[str, Any] | None = None,
    measured: Mapping[str, float | f.Measured] | None = None,
    evidence: Mapping[str, f.ModeEvidence | None] | None = None,
    **over: Any,
) -> f.Item:
    """Return an item in service, each mode that a check sees proven ``days`` ago, the others open since acceptance.

    ``evidence`` replaces that of single modes by code; None leaves the mode without any record.
    """
    rows = []
    for code in kinds()[kind]["modes"]:
        key = f"{kind}:{code}"
        row = proof(key, days) if modes()[key].scheduled else unproven(key)
        row = (evidence or {}).get(code, row)
        if row is not None:
            rows.append(row)
    readings = {
        name: value if isinstance(value, f.Measured) else f.Measured(value, (AT - timedelta(days=days)).date(), "run")
        for name, value in (measured or {}).items()
    }
    return f.Item(
        **{
            "tag": tag,
            "name": kinds()[kind]["name"],
            "kind": kind,
            "quantity": quantity,
            "state": "in service",
            "modes": tuple(rows),
            "accepted_on": date(2024, 11, 20),
            "claimed": False,
            "spec": dict(spec or {}),
            "measured": readings,
        }
        | over
    )


def stock(kind: str, on_hand: float, **over: Any) -> f.Stock:
    made = kinds()[kind]
    return f.Stock(
        **{
            "lot": f"L-{kind}",
            "name": made["name"],
            "kind": kind,
            "on_hand": on_hand,
            "per_person": made["per_person"],
            "counted_on": date(2026, 11, 9),
            "counted": True,
        }
        | over
    )


def heater(tag: str, output_btu_h: float = 155_800, **over: Any) -> f.Item:
    return item(
        tag,
        "heater",
        spec={"input_btu_h": 190_000, "volts": 120},
        measured={"heater_output_w": to_si(output_btu_h, "BTU/h"), "heater_efficiency": 0.82},
        **over,
    )


def cylinder(tag: str, pounds: float, **over: Any) -> f.Item:
    return item(tag, "propane", spec={"nominal_lb": 100}, measured={"propane_kg": to_si(pounds, "lb")}, **over)


def generator(tag: str, **over: Any) -> f.Item:
    return item(tag, "generator", spec={"watts": 5000, "tank_gal": 7}, **over)


def line_items() -> tuple[f.Item, ...]:
    """Return the items of a whole two-lane line, as the standard list has them."""
    return (
        item("SH-01", "shelter", spec={"lanes": 2}, measured={"stand_s": 6 * 3600.0}),
        *(item(f"IN-{n:02}", "inflator", spec={"volts": 120, "amps": 9}) for n in (1, 2)),
        item("CK-01", "inflation_kit"),
        *(item(f"AC-{n:02}", "air_cylinder", spec={"rated_psi": 4500}) for n in (1, 2, 3)),
        item("TD-01", "tie_down", 12),
        item("BG-01", "ballast", 8),
        item("HOC-01", "hose_cold", 6, spec={"length_ft": 50, "bore_in": 0.625}),
        item("HOW-01", "hose_whip", 4, spec={"length_ft": 15, "bore_in": 0.625}),
        item("FT-01", "fittings"),
        item("RP-01", "backflow"),
        heater("WH-01"),
        heater("WH-02"),
        *(cylinder(f"LP-{n:02}", 100) for n in (1, 2, 3, 4)),
        item("MR-01", "regulator", spec={"min_inlet_psig": 0}),
        *(item(f"MV-{n:02}", "mixing_valve") for n in (1, 2)),
        item("HOH-01", "hose_hot", 4, spec={"length_ft": 25, "bore_in": 0.625}),
        *(item(f"IJ-{n:02}", "injector", spec={"ratio_pct": 0.3}) for n in (1, 2)),
        item("BP-01", "sprayer", 2),
        *(item(f"BE-{n:02}", "berm") for n in (1, 2)),
        item("TP-01", "tarp", 2),
        *(
            item(f"SP-{n:02}", "pump", spec={"hp": 0.333}, measured={"pump_flow_m3_s": to_si(8, "gpm")})
            for n in (1, 2, 3)
        ),
        *(item(f"BL-{n:02}", "bladder", spec={"gal": 300}) for n in (1, 2)),
        item("HWA-01", "hose_waste", 3),
        *(item(f"LT-{n:02}", "light_strip", spec={"watts": 40}) for n in (1, 2)),
        item("PS-01", "light_supply", 2),
        generator("GN-01"),
        generator("GN-02"),
        *(item(f"GF-{n:02}", "gfci") for n in (1, 2, 3)),
        item("CD-01", "cord", 6),
        item("FC-01", "fuel_can", 4, spec={"gal": 5}),
        *(item(f"BA-{n:02}", "battery", spec={"chemistry": "AGM"}, measured={"battery_soc": 1.0}) for n in (1, 2)),
        item("GR-01", "grid", 24),
        item("MT-01", "mat", 4),
        item("SU-01", "suit", 12),
        item("PA-01", "papr", 6),
        item("RD-01", "radio", 6),
        item("SG-01", "signs"),
        item("TR-01", "trailer"),
    )


def line_stocks() -> tuple[f.Stock, ...]:
    return (
        stock("soap", 4, spec={"gal_each": 1}),
        stock("cloth", 200),
        stock("kit_adult", 150),
        stock("kit_child", 30),
        stock("kit_xl", 20),
        stock("towel", 400, name="Towel, bath"),
        stock("blanket", 180),
    )


@cache
def requirements(which: str = "two_lanes") -> tuple[f.Requirement, ...]:
    rows = json.loads((CATALOGUE / "standard_lists.json").read_text())[which]["rows"]
    return tuple(f.Requirement(**row) for row in rows)


def line(items: Iterable[f.Item] | None = None, **over: Any) -> f.Facts:
    """Return a two-lane line of Tarn Hollow, whole, proven and rated for its standard mission."""
    return f.Facts(
        **{
            "line": "Line A",
            "at": AT,
            "known_at": AT,
            "rated_lanes": 2,
            "items": tuple(line_items() if items is None else items),
            "stocks": line_stocks(),
            "crew": tuple(f.CrewFact(f"{PEOPLE[n % 4]} {n}", True) for n in range(10)),
            "requirements": requirements(),
            "modes": modes(),
            "line_modes": (proof("line:PE1"),),
            "rated_mission": standard_mission(2).as_json(),
        }
        | over
    )


def but(facts: f.Facts, *changed: f.Item, without: Iterable[str] = ()) -> f.Facts:
    """Return the line with some items changed by tag, added, or taken off the register."""
    new = {one.tag: one for one in changed}
    gone = set(without)
    kept = [new.pop(one.tag, one) for one in facts.items if one.tag not in gone]
    return replace(facts, items=(*kept, *new.values()))


def of(facts: f.Facts, tag: str) -> f.Item:
    return next(one for one in facts.items if one.tag == tag)


def with_stock(facts: f.Facts, kind: str, **over: Any) -> f.Facts:
    return replace(facts, stocks=tuple(replace(s, **over) if s.kind == kind else s for s in facts.stocks))


def with_mode(facts: f.Facts, tag: str, code: str, **over: Any) -> f.Facts:
    """Return the line with one mode's evidence on one item changed."""
    one = of(facts, tag)
    rows = tuple(replace(row, **over) if row.mode.endswith(f":{code}") else row for row in one.modes)
    return but(facts, replace(one, modes=rows))


COLD_NIGHT = Mission(people_per_hour=60, hours=3, air_degF=20)


def worked_case(least_inlet_psig: float | None = 0) -> f.Facts:
    """Return worked case 1: heater 2 of 2 out of service, two cylinders of four at 50 lb and two empty, 300 towels."""
    spec = {} if least_inlet_psig is None else {"min_inlet_psig": least_inlet_psig}
    facts = but(
        line(),
        heater("WH-02", state="out of service", state_reason="does not light"),
        cylinder("LP-01", 50),
        cylinder("LP-02", 50),
        cylinder("LP-03", 0),
        cylinder("LP-04", 0),
        item("MR-01", "regulator", spec=spec),
    )
    return with_stock(facts, "towel", on_hand=300)
