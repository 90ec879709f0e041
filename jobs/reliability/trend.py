"""Is a stream of failures speeding up or slowing down? Laplace and the power-law test of MIL-HDBK-189."""

from dataclasses import dataclass

import numpy as np
from scipy.special import gammainc, gammaincc, ndtr

Array = np.ndarray


@dataclass(frozen=True)
class Trend:
    """Per stream, arrays (n,), nan where too few failures say nothing.

    laplace: standard normal if the rate is even, > 0 when failures crowd late. mil: chi-square with
    `df` degrees of freedom if even. power_shape: maximum likelihood exponent of M(t) = (t / c) ** shape,
    above 1 worsening. Both p are two-sided.
    """

    failures: Array
    laplace: Array
    laplace_p: Array
    mil: Array
    df: Array
    mil_p: Array
    power_shape: Array


def trend(times, end, stream=None, *, failure_terminated=False) -> Trend:
    """Laplace's and the MIL-HDBK-189 test of every stream at once.

    times: (m,) of failures on each stream's own clock, 0 < time <= end; end: (n,) or a scalar, when watching
    stopped; stream: (m,) stream number of each failure, default one stream. With failure_terminated watching
    stopped at the last failure, which then says nothing by itself. For pooled appliances of changing age
    the clock must be accumulated expected failures, else an ageing fleet raises false alarms.
    Source: Cox & Lewis (1966), The Statistical Analysis of Series of Events, 3.3; MIL-HDBK-189 (1981), 5.3;
    Ascher & Feingold (1984), Repairable Systems Reliability.
    """
    times, end = np.asarray(times, float), np.atleast_1d(np.asarray(end, float))
    stream = np.zeros(times.size, int) if stream is None else np.asarray(stream)
    failures = np.bincount(stream, minlength=end.size)
    telling = failures - 1 if failure_terminated else failures
    place = times / end[stream]
    place_sum = np.bincount(stream, place, end.size)
    with np.errstate(divide="ignore"):
        log_sum = np.bincount(stream, -np.log(place), end.size)
    if failure_terminated:
        place_sum = place_sum - 1
    enough = telling >= 1
    n = np.where(enough, telling, 1)
    laplace = np.where(enough, (place_sum - n / 2) / np.sqrt(n / 12), np.nan)
    mil = np.where(enough, 2 * log_sum, np.nan)
    p_mil = 2 * np.minimum(gammainc(n, mil / 2), gammaincc(n, mil / 2))
    usable = enough & (log_sum > 0)
    shape = np.where(usable, failures / np.where(usable, log_sum, 1), np.nan)
    return Trend(
        failures,
        laplace,
        2 * ndtr(-np.abs(laplace)),
        mil,
        np.where(enough, 2 * telling, 0),
        np.where(enough, np.minimum(1.0, p_mil), np.nan),
        shape,
    )
