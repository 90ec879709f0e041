"""`manage.py bench lives`: 300 Weibull fits of 200 units, late entries, censored exits, beside other libraries."""

import os
import platform
import subprocess
import sys
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from statistics import median
from time import process_time

import numpy as np
from scipy.optimize import minimize

from jobs.reliability.life import fit_weibull
from jobs.reliability.taken_over import fit_taken_over
from jobs.reliability.unseen import taken_over

GROUPS, UNITS, SOME, ROUNDS, AGREE = 300, 200, 15, 5, 1e-4
ROOT = Path(__file__).resolve().parents[2]
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

    exact = {"xatol": 1e-7, "fatol": 1e-9}
    return np.exp(minimize(against, [0.3, np.log(exit.mean())], method="Nelder-Mead", options=exact).x)


def with_surpyval(entry, exit, failed):
    from surpyval import Weibull

    scale, shape = Weibull.fit(x=exit, c=(~failed).astype(int), tl=entry).params
    return shape, scale


def with_lifelines(entry, exit, failed):
    from lifelines import WeibullFitter

    found = WeibullFitter().fit(exit, failed, entry=entry)
    return found.rho_, found.lambda_


def with_relife(entry, exit, failed):
    from relife.lifetime_models import Weibull

    fitted = Weibull().fit(exit, event=failed, entry=entry, covariance_method=False)  # estimates alone
    shape, rate = fitted.get_params()
    return shape, 1 / rate


PEERS = {"relife": with_relife, "lifelines": with_lifelines, "surpyval": with_surpyval, "scipy": directly}


def run(say):
    """In a process of its own with one thread: two fight over so small problems, which slows a peer twentyfold."""
    env = os.environ | dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"), "1")
    command = [sys.executable, "-m", "tests.bench.lives"]
    with subprocess.Popen(command, cwd=ROOT, env=env, stdout=subprocess.PIPE, text=True) as measuring:
        for line in measuring.stdout:
            say(line)
    if measuring.returncode:
        raise RuntimeError("a peer differs from ours, or could not be run")


def measure(say):
    entry, exit, failed, group = draw(np.random.default_rng(1))
    weight = np.ones(exit.size)
    over = taken_over(np.arange(exit.size), entry, exit, failed, weight, group)
    columns = (entry, exit, failed, weight, group)
    say(f"{GROUPS} groups of {UNITS} units, {failed.sum()} failures")
    say(f"processor time of one thread, medians of {ROUNDS} rounds, all in turn")
    say(f"{platform.platform()}, {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    some = [[column[group == one] for column in columns[:3]] for one in range(SOME)]
    work = {
        "ours": lambda: fit_weibull(*columns, groups=GROUPS, limits=False),
        "ours, with profile limits": lambda: fit_weibull(*columns, groups=GROUPS),
        "ours, taken over in mid-life": lambda: fit_taken_over(
            *NONE, over, groups=GROUPS, lost_rate=0.02, limits=False
        ),
    }
    found = work["ours"]()
    for name, fit in PEERS.items():
        if find_spec(name) is None:
            say(f"{name} is not installed: the set for it is .ci/lock-reference.txt")
            continue
        say(f"{name} {version(name)}: differs from ours by {_differs(fit, some, found):.1e} at most")
        work[name] = lambda fit=fit: [fit(*columns) for columns in some]
    seconds = {name: taken * (GROUPS / SOME if name in PEERS else 1) for name, taken in _medians(work).items()}
    points, limits = seconds["ours"], seconds["ours, with profile limits"]
    for name, taken in seconds.items():
        times = f"{taken / points:9.1f} x ours {taken / limits:9.1f} x ours with limits"
        say(f"{name:32} {taken * 1000:10.1f} ms {times}")


def _differs(fit, some, found):
    """The largest relative difference between a peer's estimates and ours, which must be below 1e-4."""
    theirs = np.array([fit(*columns) for columns in some])
    ours = np.stack([found.shape[:SOME], found.scale[:SOME]], axis=1)
    most = float(np.max(np.abs(theirs / ours - 1)))
    assert most < AGREE, f"{fit.__name__}: {most:.1e} away from ours"
    return most


def _medians(work):
    """Median seconds of the processor of each, all of them in turn; each ran once before."""
    seconds = {name: [] for name in work}
    for _ in range(ROUNDS):
        for name, each in work.items():
            begin = process_time()
            each()
            seconds[name].append(process_time() - begin)
    return {name: median(taken) for name, taken in seconds.items()}


if __name__ == "__main__":
    measure(lambda line: print(line, flush=True))
