"""`manage.py bench lives`: 300 Weibull fits of 200 units, late entries, censored exits, beside other libraries."""

import os
import platform
from importlib.util import find_spec
from statistics import median
from time import perf_counter

import numpy as np
from scipy.optimize import minimize

from jobs.reliability.life import fit_weibull
from jobs.reliability.taken_over import fit_taken_over
from jobs.reliability.unseen import taken_over

GROUPS, UNITS, SOME = 300, 200, 15
NONE = tuple(np.zeros(0, kind) for kind in (float, float, bool, float, int))


def draw(rng):
    """entry, exit, failed and group of units that enter late at some age and are watched for a few years."""
    shape, scale = (np.repeat(rng.uniform(*ends, GROUPS), UNITS) for ends in ((1.2, 3.5), (8, 20)))
    entry = rng.uniform(0.5, 12, shape.size)
    life = scale * ((entry / scale) ** shape + rng.exponential(size=shape.size)) ** (1 / shape)
    until = entry + rng.uniform(1, 6, shape.size)
    return entry, np.minimum(life, until), life <= until, np.repeat(np.arange(GROUPS), UNITS)


def directly(entry, exit, failed):
    """The likelihood given to a general optimiser."""

    def against(at):
        b, scale = np.exp(at)
        return (
            -(np.log(b / scale) + (b - 1) * np.log(exit / scale))[failed].sum()
            + ((exit / scale) ** b - (entry / scale) ** b).sum()
        )

    return minimize(against, [0.3, np.log(exit.mean())], method="Nelder-Mead").x


def with_surpyval(entry, exit, failed):
    from surpyval import Weibull

    return Weibull.fit(x=exit, c=(~failed).astype(int), tl=entry)


def with_lifelines(entry, exit, failed):
    from lifelines import WeibullFitter

    return WeibullFitter().fit(exit, failed, entry=entry)


def with_relife(entry, exit, failed):
    from relife.lifetime_model import Weibull

    return Weibull().fit(exit, event=failed, entry=entry)


PEERS = {"scipy": directly, "surpyval": with_surpyval, "lifelines": with_lifelines, "relife": with_relife}


def taken(work, times=5):
    """Median seconds of some runs."""
    found = []
    for _ in range(times):
        begin = perf_counter()
        work()
        found.append(perf_counter() - begin)
    return median(found)


def run(say):
    entry, exit, failed, group = draw(np.random.default_rng(1))
    weight = np.ones(exit.size)
    over = taken_over(np.arange(exit.size), entry, exit, failed, weight, group)
    columns = (entry, exit, failed, weight, group)
    say(f"{GROUPS} groups of {UNITS} units, {failed.sum()} failures; medians\n")
    say(f"{platform.platform()}, {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}\n")
    points = taken(lambda: fit_weibull(*columns, groups=GROUPS, limits=False))
    ours = {
        "ours": points,
        "ours, with profile limits": taken(lambda: fit_weibull(*columns, groups=GROUPS)),
        "ours, taken over in mid-life": taken(
            lambda: fit_taken_over(*NONE, over, groups=GROUPS, lost_rate=0.02, limits=False), 3
        ),
    }
    for name, seconds in ours.items():
        say(f"{name:32} {seconds * 1000:10.1f} ms {seconds / points:8.1f} x ours\n")
    for name, fit in PEERS.items():
        if find_spec(name) is None:
            say(f"{name:32} not installed: the set for it is .ci/lock-reference.txt\n")
            continue
        seconds = _peer(fit, [[column[group == one] for column in columns[:3]] for one in range(SOME)])
        say(f"{name:32} {seconds * 1000:10.1f} ms {seconds / points:8.1f} x ours (from {SOME} groups)\n")


def _peer(fit, groups):
    """Seconds for all groups, from some of them, one after the other; the first fit is not timed."""
    fit(*groups[0])
    return taken(lambda: [fit(*columns) for columns in groups], 1) * GROUPS / len(groups)
