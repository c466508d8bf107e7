"""Check values of equipment that waits, of groups of it, and of what is believed of its rates.

Times and rates keep the unit of their suffix (per hour with hours): the formulas take any one unit.
"""

from shared.formulas import beliefs, capacity_sums, reliability
from shared.formulas.beliefs import ModeHistory, Prior
from shared.verification.registry import Case, kind

CREDIBILITY = 0.9  # where a case asks for no other


@kind(
    reliability.mean_unavailability,
    reliability.mean_unavailability_approx,
    reliability.partial_unavailability,
    reliability.partial_unavailability_approx,
)
def standby_q(case: Case) -> Case:
    rate, interval = case["lambda_per_h"], case["tau_h"]
    asked = case.get("q_demand", 0.0)
    coverage = case.get("coverage", 1.0)
    if coverage == 1.0:
        exact = reliability.mean_unavailability(rate, interval, asked)
        approx = reliability.mean_unavailability_approx(rate, interval)
    else:
        overhaul = case["overhaul_h"]
        waiting = reliability.partial_unavailability(rate, coverage, interval, overhaul)
        exact = asked + (1.0 - asked) * waiting
        approx = reliability.partial_unavailability_approx(rate, coverage, interval, overhaul)
    return {"q_exact": exact, "q_approx": min(approx + asked, 1.0)}


@kind(reliability.mode_absent)
def mode_absent(case: Case) -> Case:
    found = reliability.mode_absent(case["lambda_per_year"], case["t_years"], case.get("q_demand", 0.0))
    return {"p_absent": found}


@kind(reliability.availability_after_proofs)
def availability_after_proofs(case: Case) -> Case:
    proofs = list(zip(case["proofs_h"], case["coverages"], strict=True))
    return {"a": reliability.availability_after_proofs(case["lambda_per_h"], proofs, case["t_h"])}


@kind(reliability.proof_interval, reliability.proof_interval_approx)
def test_interval(case: Case) -> Case:
    rate, target = case["lambda_per_h"], case["q_target"]
    return {
        "tau_h_approx": reliability.proof_interval_approx(rate, target),
        "tau_h_exact": reliability.proof_interval(rate, target),
    }


@kind(reliability.koon, reliability.capacity_reached)
def koon(case: Case) -> Case:
    """Of n alike, or of n unlike where ``p`` is a list."""
    if isinstance(case["p"], list):
        items = [[1.0 - p, p] for p in case["p"]]
        return {"r": reliability.capacity_reached([[0.0, 1.0]] * case["n"], items, case["k"]).probability}
    return {"r": reliability.koon(case["k"], case["n"], case["p"])}


@kind(reliability.capacity_reached, capacity_sums.reach, capacity_sums.whole_number)
def capacity_reached(case: Case) -> Case:
    """Of items in several states (levels, weights), or of items that work or do not (capacities, p)."""
    if "levels" in case:
        levels, weights = case["levels"], case["weights"]
    else:
        levels = [[0.0, capacity] for capacity in case["capacities"]]
        weights = [[1.0 - p, p] for p in case["p"]]
    return {"r": reliability.capacity_reached(levels, weights, case["need"]).probability}


@kind(reliability.series_of_parallel)
def series_of_parallel(case: Case) -> Case:
    return {"r": reliability.series_of_parallel(case["groups_p"])}


@kind(reliability.parallel_failure_rare)
def ccf_parallel(case: Case) -> Case:
    return {"q_sys": reliability.parallel_failure_rare(case["q"], case["beta"], case["n"])}


@kind(reliability.koon_common_cause, reliability.common_cause_probability, reliability.apart_probability)
def ccf_koon(case: Case) -> Case:
    return {"r": reliability.koon_common_cause(case["k"], case["n"], case["q"], case["beta"])}


@kind(reliability.pfd_1oo1)
def pfd_1oo1(case: Case) -> Case:
    return {
        "pfd": reliability.pfd_1oo1(case["lambda_d_per_h"], case["dc"], case["t1_h"], case["mttr_h"], case.get("mrt_h"))
    }


@kind(reliability.pfd_1oo2)
def pfd_1oo2(case: Case) -> Case:
    return {
        "pfd": reliability.pfd_1oo2(
            case["lambda_d_per_h"],
            case["dc"],
            case["beta"],
            case["beta_d"],
            case["t1_h"],
            case["mttr_h"],
            case.get("mrt_h"),
        )
    }


@kind(reliability.cut_sets_fail, reliability.cut_sets_bound)
def cut_sets(case: Case) -> Case:
    stopped = reliability.cut_sets_fail(case["cuts"], case["q"])
    return {"q_exact": stopped, "r": 1.0 - stopped, "q_bound": reliability.cut_sets_bound(case["cuts"], case["q"])}


@kind(beliefs.rate_range)
def gamma_poisson(case: Case) -> Case:
    found = beliefs.rate_range(case["alpha0"], case["beta0_h"], case["x"], case["t_h"], case.get("cred", CREDIBILITY))
    return {f"{name}_per_h": value for name, value in found._asdict().items()}


@kind(beliefs.probability_range)
def beta_binomial(case: Case) -> Case:
    found = beliefs.probability_range(
        case["alpha0"], case["beta0"], case["x"], case["n"], case.get("cred", CREDIBILITY)
    )
    return dict(found._asdict())


@kind(beliefs.alpha_factors)
def dirichlet_ccf(case: Case) -> Case:
    found = beliefs.alpha_factors(case["counts"], case["prior"])
    return {"alpha_mean": list(found), "beta_mean": sum(found[1:])}


@kind(beliefs.mean_time_range, beliefs.mean_time_exceeds)
def mtbf_bayes(case: Case) -> Case:
    seen = case["a"], case["b_h"], case["r"], case["t_h"]
    median, lower = beliefs.mean_time_range(*seen, case.get("conf", CREDIBILITY))
    found = {"median_h": median, "lower_h": lower}
    if "m_h" in case:
        found["p_mtbf_gt_m"] = beliefs.mean_time_exceeds(*seen, case["m_h"])
    return found


@kind(beliefs.proving_time)
def bayes_test_time(case: Case) -> Case:
    return {"test_h": beliefs.proving_time(case["m_h"], case["conf"], case["a"], case["b_h"], case["r"])}


@kind(beliefs.upper_bound_without_failure, beliefs.probability_range)
def zero_failures(case: Case) -> Case:
    jeffreys = beliefs.probability_range(0.5, 0.5, 0, case["n"], CREDIBILITY)
    return {
        "p_upper": beliefs.upper_bound_without_failure(case["n"], case["conf"]),
        "jeffreys_mean": jeffreys.mean,
    }


@kind(beliefs.exact_probability_bounds)
def clopper_pearson(case: Case) -> Case:
    low, high = beliefs.exact_probability_bounds(case["x"], case["n"], case["conf"])
    return {"low": low, "high": high}


@kind(beliefs.log_normal)
def log_normal(case: Case) -> Case:
    found = beliefs.log_normal(case["median_per_h"], case["error_factor"])
    return {
        "log_sd": found.log_sd,
        "mean_per_h": found.mean,
        "p5_per_h": found.low,
        "p95_per_h": found.high,
    }


@kind(beliefs.mean_absent, beliefs.posterior, beliefs.log_likelihood)
def mode_absent_believed(case: Case) -> Case:
    """What is believed of a mode, by the grid on which the rating stands."""
    gamma = (case["alpha0"], case["beta0_years"]) if "alpha0" in case else None
    prior = Prior(
        case.get("median_per_year"),
        case.get("error_factor"),
        gamma,
        case.get("demand_mean"),
        case.get("demand_trials"),
    )
    history = ModeHistory(case.get("passes", 0), case.get("pass_years", 0.0), tuple(case.get("failures_years", ())))
    return {"p_absent": beliefs.mean_absent(prior, history, case["exposure_years"])}


@kind(beliefs.absent_under_gamma)
def mode_absent_gamma(case: Case) -> Case:
    return {
        "p_absent": beliefs.absent_under_gamma(
            case["alpha0"],
            case["beta0_years"],
            case.get("pass_years", 0.0),
            case.get("failures_years", []),
            case["exposure_years"],
        )
    }
