"""Check values of people through lanes, and of the queue before them."""

from shared.formulas import people, queues
from shared.units import to_si
from shared.verification.registry import Case, kind, si

HOUR_MIN = 60.0


@kind(people.cycle_min, people.throughput_per_hour)
def lanes(case: Case) -> Case:
    cycle = people.cycle_min(case["wash_min"], case["changeover_min"])
    return {"persons_per_h": people.throughput_per_hour(case["lanes"], cycle, case["persons_per_lane"])}


@kind(people.lanes_for)
def lanes_needed(case: Case) -> Case:
    return {"lanes": people.lanes_for(case["persons_per_h"], case["cycle_min"])}


@kind(people.mean_flow_share)
def flow_share(case: Case) -> Case:
    return {"share": people.mean_flow_share(case["wash_min"], case["changeover_min"])}


@kind(people.party_per_hour)
def walking_share(case: Case) -> Case:
    rates = case["walking_per_h"], case["carried_per_h"]
    return {"persons_per_h": people.party_per_hour(case["walking_share"], *rates)}


@kind(people.mixed_cycle_min)
def mixed_cycle(case: Case) -> Case:
    return {"cycle_min": people.mixed_cycle_min(case["walking_share"], case["walking_min"], case["carried_min"])}


@kind(people.crew_for)
def crew(case: Case) -> Case:
    table = {int(lanes): int(staff) for lanes, staff in case["table"].items()}
    return {"crew": people.crew_for(case["lanes"], table, case["each_more"])}


@kind(people.people_served, people.heat_per_person_j, people.throughput_per_hour, people.binding)
def binding(case: Case) -> Case:
    hours, over = case["horizon_h"], si(case, "horizon_h", "h")
    water, efficiency = si(case, "gal_per_person", "gal"), si(case, "efficiency_pct", "percent")
    warmth = people.heat_per_person_j(water, si(case, "rise_degF", "ddegF"))
    fuel = si(case, "propane_lb", "lb") * si(case, "btu_per_lb", "BTU/lb")
    per_hour = people.throughput_per_hour(case["lanes"], case["cycle_min"], case["persons_per_lane"])
    limits = {
        "lanes": per_hour * hours,
        "water": people.people_served(0.0, water, si(case, "supply_gpm", "gpm"), over),
        "heat": people.people_served(0.0, warmth, si(case, "heater_btu_per_h", "BTU/h") * efficiency, over),
        "propane": people.people_served(fuel * efficiency, warmth),
        "waste": people.people_served(
            si(case, "waste_capacity_gal", "gal"), water, si(case, "waste_pumpout_gpm", "gpm"), over
        ),
        "detergent": people.people_served(case["detergent_oz"], case["detergent_oz_per_person"]),
        "power": per_hour * min(hours, case["power_h"]),
    }
    found = people.binding(limits)
    return {
        "persons_total": found.people,
        "persons_per_h": found.people / hours,
        "binding": found.by,
        "next": found.next_by,
        "limits": limits,
    }


@kind(people.people_served)
def stock_people(case: Case) -> Case:
    meanwhile = case["added_per_h"] / to_si(1.0, "h"), si(case, "horizon_h", "h")
    return {"persons": people.people_served(case["stock"], case["per_person"], *meanwhile)}


@kind(queues.random_service_queue, queues.load)
def mmc(case: Case) -> Case:
    try:
        found = queues.random_service_queue(case["lambda_per_h"], case["mu_per_h"], int(case["c"]))
    except queues.NoSteadyState as refused:
        return _refused(refused)
    return _told(found, HOUR_MIN)


@kind(queues.fixed_service_queue, queues.load)
def mdc(case: Case) -> Case:
    try:
        found = queues.fixed_service_queue(case["lambda_per_h"] / HOUR_MIN, case["service_min"], int(case["c"]))
    except queues.NoSteadyState as refused:
        return _refused(refused)
    return _told(found, 1.0)


def _told(queue: queues.Queue, minutes: float) -> Case:
    """Return a queue whose unit of time is so many minutes."""
    return {
        "rho": queue.load,
        "p0": queue.empty,
        "p_wait": queue.waits,
        "lq": queue.waiting,
        "l": queue.there,
        "wq_min": queue.wait * minutes,
        "w_min": queue.stay * minutes,
    }


def _refused(refused: queues.NoSteadyState) -> Case:
    """Return the load and the words; every mean is null, since there is none."""
    means: Case = dict.fromkeys(("p0", "p_wait", "lq", "l", "wq_min", "w_min"))
    return {"rho": refused.load, **means, "refused": str(refused)}


@kind(queues.surge)
def surge(case: Case) -> Case:
    found = queues.surge(case["arrival_per_h"], case["duration_h"], case["service_per_h"])
    return {
        "max_queue": found.longest,
        "clear_h": found.cleared,
        "max_wait_min": found.longest_wait * HOUR_MIN,
    }
