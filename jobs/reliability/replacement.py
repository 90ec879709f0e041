"""When does planned replacement pay? The age-replacement policy for a Weibull life."""

from dataclasses import dataclass

import numpy as np
from scipy.special import gamma, gammainc

Array = np.ndarray
NEVER = 40.0  # cumulative hazard beyond which nothing is left to replace: exp(-40)


@dataclass(frozen=True)
class AgeReplacement:
    """Arrays (n,): best age (nan: it never pays), cost per unit of time there, and when run to failure."""

    age: Array
    cost_rate: Array
    run_to_failure: Array


def age_replacement(shape, scale, planned, failure) -> AgeReplacement:
    """Age at which replacing ahead of failure costs least in the long run.

    shape, scale: Weibull, (n,) or scalars, scale in any unit of time. planned, failure: cost of one planned
    renewal and of one after a failure, > 0. Minimises [planned R(t) + failure F(t)] / integral of R to t. It
    never pays if shape <= 1 or if the failure is no dearer; then age is nan and the cost is that of running
    to failure. Assumes that a renewal is as good as new and that costs and life do not change with the calendar.
    Source: Barlow & Hunter (1960), Operations Research 8, 90-100.

    >>> age_replacement(2.5, 1000.0, 1.0, 5.0).age.round(2)
    array(493.05)
    """
    shape, scale, planned, failure = np.broadcast_arrays(
        *(np.asarray(value, float) for value in (shape, scale, planned, failure))
    )
    run = failure / (scale * gamma(1 + 1 / shape))
    may_pay = (shape > 1) & (failure > planned)
    b = np.where(may_pay, shape, 2.0)
    wanted = np.where(may_pay, planned, 1.0) / np.where(may_pay, failure - planned, 1.0)
    log_z, pays = _solve(b, wanted)
    pays &= may_pay
    hazard = b / scale * np.exp(log_z * (b - 1) / b)
    return AgeReplacement(
        age=np.where(pays, scale * np.exp(log_z / b), np.nan),
        cost_rate=np.where(pays, (failure - planned) * hazard, run),
        run_to_failure=run,
    )


def _gain(log_z, shape):
    """h(t) x integral of R to t, less F(t), at cumulative hazard z: rises from 0 for shape > 1."""
    z = np.exp(log_z)
    mean_life = gamma(1 + 1 / shape)
    return shape * np.exp(log_z * (shape - 1) / shape) * mean_life * gammainc(1 / shape, z) + np.expm1(-z)


def _solve(shape, wanted):
    """log z at which the gain equals `wanted`, by bisection, and whether it lies before NEVER."""
    low = np.full(shape.shape, -200.0)
    high = np.full(shape.shape, np.log(NEVER))
    pays = _gain(high, shape) > wanted
    for _ in range(70):
        middle = (low + high) / 2
        above = _gain(middle, shape) > wanted
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return (low + high) / 2, pays
