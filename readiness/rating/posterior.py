"""What is believed of one failure mode's rate and demand probability; each belief is worked out once and kept."""

from dataclasses import replace
from functools import lru_cache

from readiness.rating.facts import ModeHistory, Prior
from shared.formulas import beliefs
from shared.formulas.beliefs import Posterior

_SHORTEST = 1.0 / 365.25  # records know the day: a failure found on the day of a proof happened within that day [years]


@lru_cache(maxsize=4096)
def posterior(prior: Prior, history: ModeHistory) -> Posterior:
    """Return the joint posterior of a mode's rate and demand probability.

    Raises:
        ValueError: the prior or the history is out of range, or the two together are improper.
    """
    # A negative exposure is left as it is, to be refused.
    failures = tuple(max(exposure, _SHORTEST) if exposure >= 0 else exposure for exposure in history.failures)
    return beliefs.posterior(prior, replace(history, failures=failures))
