"""Check values of trends and of the day on which they cross a limit."""

from typing import Any

from shared.formulas import drift
from shared.verification.registry import Case, kind

LEVEL = 0.95  # where a case asks for no other


@kind(drift.least_squares, drift.prediction_range, drift.slope_range)
def ols(case: Case) -> Case:
    """The band is of one or several ``x_new``; two readings have a line and no scatter."""
    line, level = drift.least_squares(case["x"], case["y"]), case.get("level", LEVEL)
    found: dict[str, Any] = {"slope": line.slope, "intercept": line.intercept, "resid_sd": line.scatter}
    if "x_new" in case:
        found["fit"] = line.at(case["x_new"]).tolist()
    if line.scatter is not None:
        found["slope_low"], found["slope_high"] = drift.slope_range(line, level)
        if "x_new" in case:
            low, high = drift.prediction_range(line, case["x_new"], level)
            found |= {"pi_low": low.tolist(), "pi_high": high.tolist()}
    return found


@kind(drift.crossing)
def crossing(case: Case) -> Case:
    found = drift.crossing(case["x"], case["y"], case["limit"], case["direction"], case.get("level", LEVEL))
    return {"x_cross": found.time, "x_earliest": found.earliest}


@kind(drift.median_line)
def theil_sen(case: Case) -> Case:
    found = drift.median_line(case["x"], case["y"], case.get("level", LEVEL))
    return dict(found._asdict())


@kind(drift.forecast)
def forecast(case: Case) -> Case:
    found = drift.forecast(
        case["x"], case["y"], case["limit"], case["direction"], case.get("level", LEVEL), case.get("since")
    )
    return {
        "outcome": found.outcome,
        "enough": found.enough,
        "x_cross": found.crossing,
        "x_earliest": found.earliest,
        "x_cross_robust": found.robust_crossing,
        "x_horizon": found.horizon,
        "outlier_suspected": found.outlier_suspected,
    }
