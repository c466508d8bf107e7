"""Check values of people through lanes."""

from shared.formulas import people
from shared.verification.registry import Case, kind


@kind(people.cycle_min, people.throughput_per_hour)
def lanes(case: Case) -> Case:
    cycle = people.cycle_min(case["wash_min"], case["changeover_min"])
    places = case["lanes"] * case["persons_per_lane"]
    return {"persons_per_h": people.throughput_per_hour(places, cycle)}
