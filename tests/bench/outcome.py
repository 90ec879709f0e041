"""`manage.py bench outcome`: invented firms' unlived year, proposal beside the load told the true rates and the rule.

FIRMS and SCALE in the environment change how many firms (20) of how many times 3,000 appliances (1).
"""

import os
import tempfile
import time
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
from django.core.management import call_command
from django.db import connection, transaction

from inventory.models import Place
from inventory.stocking.demand import Demand
from inventory.stocking.replay import replay, simple_rule
from inventory.stocking.van_load import best_levels
from jobs import history
from jobs import lives as usual
from jobs.invented import firm as invented
from jobs.invented import lives
from jobs.past_jobs import past_work, use_last_year
from jobs.reliability.history import CLOCKS
from jobs.services.proposing import problem_from_records
from jobs.van_demand import van_shares

DAY, YEAR = date(2026, 6, 30), 365
RESTOCK_DAYS = 7
CERTAIN = 1e9


def run(say):
    """Tell each firm's share of jobs with parts finished at the first visit under the three loads of equal cash."""
    firms, scale = int(os.environ.get("FIRMS", "20")), float(os.environ.get("SCALE", "1"))
    connection.creation.create_test_db(verbosity=0, autoclobber=True)
    call_command("load_trade", verbosity=0)
    rates = []
    for seed in range(firms):
        start = time.perf_counter()
        with transaction.atomic():
            rates.append(_one_firm(seed, scale))
            transaction.set_rollback(True)
        proposal, told, rule, jobs, cash = rates[-1]
        say(
            f"firm {seed}: {jobs:.0f} jobs, {cash:,.0f} a van; proposal {proposal:.1%}, told the true rates "
            f"{told:.1%}, simple rule {rule:.1%} ({time.perf_counter() - start:.0f} s)"
        )
    proposal, told, rule = np.mean(rates, axis=0)[:3]
    say(
        f"mean of {firms} firms of {scale * 3000:,.0f} appliances: {proposal / told:.1%} of the first visits of the "
        f"load told the true rates, {(proposal - rule) / (told - rule):.1%} of the gap between it and the simple rule"
    )


def _one_firm(seed, scale):
    drawn = invented.draw(DAY, 1000 + seed, scale=scale, unlived_days=YEAR)
    with tempfile.TemporaryDirectory() as folder:
        invented.write(folder, drawn.tables)
        call_command("import_firm", folder, verbosity=0)
    problem, _ = problem_from_records(DAY, YEAR)
    price = {p.part: p.price for p in problem.parts}
    proposal = best_levels(problem)
    cash = {van: sum(price[p] * n for p, n in levels.items()) for van, levels in proposal.items()}
    told = best_levels(_told_the_truth(problem, drawn.truth, cash))
    own, firm = use_last_year(DAY)
    work = past_work(DAY + timedelta(days=1), DAY + timedelta(days=YEAR), as_of=DAY, second_visit=90, quoted=True)
    finished, jobs = np.zeros(3), 0
    for van in problem.vans:
        past = work[van.van].jobs if van.van in work else []
        room = [
            ({p.part: getattr(p, name) for p in problem.parts}, getattr(van, name))
            for name in ("litres", "kilograms")
            if getattr(van, name) is not None
        ]
        rule = simple_rule(own[van.van], firm, price, cash[van.van], problem.max_per_part, room)
        loads = (proposal[van.van], told[van.van], rule)
        finished += [replay(load, past, RESTOCK_DAYS, DAY.toordinal() + 1).sum() for load in loads]
        jobs += len(past)
    return [*(finished / jobs), jobs, np.mean(list(cash.values()))]


def _told_the_truth(problem, truth, cash):
    """The same problem with true rates, as certain as can be, and the proposal's cash to spend as does most."""
    here = history.in_care(DAY, silence=usual.SILENCE)  # who is still in care nobody tells: weighed as in the proposal
    vans = list(Place.objects.vans().order_by("key"))
    share, _ = van_shares(here, vans)
    expected = _expected_failures(here, truth) * here.weight
    names = np.array(
        [
            f"{here.names.components[c]} / {here.names.models[m]}"
            for c, m in zip(here.component, here.model, strict=True)
        ]
    )
    needs = []
    for need in problem.needs:
        means = (expected[names == need.need][:, None] * share[names == need.need]).sum(axis=0) * RESTOCK_DAYS / YEAR
        demand = {van.key: Demand.single(CERTAIN, CERTAIN, mean) for van, mean in zip(vans, means, strict=True) if mean}
        needs.append(replace(need, demand=demand))
    return replace(
        problem,
        needs=tuple(needs),
        money=replace(problem.money, holding_per_year=0.0),
        vans=tuple(replace(v, budget=cash[v.van]) for v in problem.vans),
    )


def _expected_failures(here, truth):
    """Failures expected of each position in the year after, from its true law and true age (the bad batch apart)."""
    found = np.zeros(len(here.component))
    known = CLOCKS.index("known")
    for i in range(len(found)):
        component, model = str(here.names.components[here.component[i]]), str(here.names.models[here.model[i]])
        age = here.age[i]
        if here.clock[i] != known:
            age = _true_age(
                truth["appliances"][str(here.names.appliances[here.appliance[i]])], component, int(here.position[i])
            )
        times = truth["rate_factors"].get(model, {}).get(component, 1.0)
        shape, scale = lives.law(component, times)
        found[i] = ((age + 1) / scale) ** shape - (age / scale) ** shape
    return found


def _true_age(appliance, component, number):
    since = appliance["installed_on"]
    for renewal in appliance.get("unseen", ()):
        position, day = renewal.rsplit(" ", 1)
        if position == f"{component}/{number}":
            since = max(since, day)
    return (DAY - date.fromisoformat(since)).days / 365.25
