"""Check values of depreciation and replacement."""

from shared.formulas import money
from shared.verification.registry import Case, kind


@kind(money.straight_line)
def straight_line(case: Case) -> Case:
    found = money.straight_line(case["cost"], case["salvage"], case["life_months"], case["months_elapsed"])
    return {name: float(amount) for name, amount in found._asdict().items()}


@kind(money.composite_rate)
def composite_rate(case: Case) -> Case:
    found = money.composite_rate(case["costs"], case["lives_years"], case.get("salvage_pct", 0) / 100)
    return {"rate_pct": float(100 * found.rate), "rate_net_salvage_pct": float(100 * found.net_of_salvage)}


@kind(money.replacement)
def replacement(case: Case) -> Case:
    inflation, interest = case["inflation_pct"] / 100, case["interest_pct"] / 100
    found = money.replacement(case["cost_now"], inflation, case["years"], interest, case.get("saved", 0))
    return {name: float(amount) for name, amount in found._asdict().items()}
