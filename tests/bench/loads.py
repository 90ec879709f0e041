"""`manage.py bench loads`: 300 parts, 20 vans, ten frontier points and more, beside the plain whole-problem MILP."""

import os
import platform
import time
from contextlib import contextmanager

import numpy as np
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from inventory.stocking.problem import from_plain
from inventory.stocking.tables import tables_of
from inventory.stocking.van_load import plan
from tests.random_problems import wide_problem

CASES = {
    "cash binds": {"litres": 400, "kilograms": 800, "budget": 1500},
    "cash, litres and kilograms bind": {"litres": 90, "kilograms": 120, "budget": 1500},
    "one budget of 25,000 for all vans": {"litres": 400, "kilograms": 800, "shared": 25_000},
}


def problem(rng, *, parts=300, vans=20, shared=None, **limits):
    """Invented parts, one need each, rates and areas drawn anew; shared: money for all vans together."""
    data = wide_problem(rng, parts, vans, **limits)
    data["money"]["budget"] = shared
    return from_plain(data)


def whole(stated, gap):
    """(bound, best) of all vans in one MILP, every (van, part, level) a binary."""
    tables = tables_of(stated, np.random.default_rng(1))
    value = np.concatenate([t.worth * 52 - 0.25 * t.use[:, 0] for t in tables])
    starts = np.cumsum([0] + [len(t.clusters) for t in tables])
    cluster = np.concatenate([t.cluster + s for t, s in zip(tables, starts, strict=False)])
    rows = [LinearConstraint(sparse.csr_array((np.ones(len(value)), (cluster, np.arange(len(value))))), 1, 1)]
    use = sparse.block_diag([t.use.T for t in tables], format="csr")
    rows.append(LinearConstraint(use, -np.inf, np.concatenate([t.limits() for t in tables])))
    if stated.money.budget is not None:
        cash = np.concatenate([t.use[:, 0] for t in tables])
        rows.append(LinearConstraint(sparse.csr_array(cash[None]), -np.inf, stated.money.budget))
    answer = milp(
        -value,
        integrality=np.ones(len(value)),
        bounds=Bounds(0, 1),
        constraints=rows,
        options={"mip_rel_gap": gap, "time_limit": 120},
    )
    return -answer.mip_dual_bound, -answer.fun


def run(say):
    """Print seconds of wall and processor, the growth with the vans, and the distance from the MILP's bound."""
    machine = f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}"
    say(f"{machine}, load {os.getloadavg()[0]:.1f}")
    for name, details in CASES.items():
        for vans in (5, 20):
            share = {"shared": details["shared"] * vans / 20} if "shared" in details else {}
            stated = problem(np.random.default_rng(3), vans=vans, **{**details, **share})
            with clock() as ours:
                found = plan(stated)
            with clock() as theirs:
                bound, best = whole(stated, 1e-3)
            value = sum(v.worth_per_year - 0.25 * v.spend for v in found.vans)
            say(
                f"{name}, {vans} vans: plan, reasons and {len(found.frontier)} frontier points {ours['wall']:.2f} s "
                f"({ours['processor']:.2f} s of processor); one MILP, loads only, gap 0.1 %: {theirs['wall']:.2f} s, "
                f"ratio {theirs['wall'] / ours['wall']:.2f}; ours {100 * (1 - value / bound):.3f} % below its bound, "
                f"the MILP {100 * (1 - best / bound):.3f} %"
            )


@contextmanager
def clock():
    """Seconds of wall and of processor, in a dict filled at the end."""
    taken, wall, processor = {}, time.perf_counter(), time.process_time()
    yield taken
    taken.update(wall=time.perf_counter() - wall, processor=time.process_time() - processor)
