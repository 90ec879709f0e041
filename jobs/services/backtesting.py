"""Would the proposal have done better? The firm's own past, replayed from days on which only the past was known."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np

from firm.models import Setting
from inventory.models import Place
from inventory.services.worth import holdings
from inventory.stocking.replay import Comparison, compared, replay, simple_rule
from inventory.stocking.van_load import best_levels
from jobs.past_jobs import past_work, use_last_year
from jobs.services.proposing import problem_from_records

WINDOW_DAYS = 90
LOADS = ("proposal", "rule", "fact")


@dataclass
class Period:
    """One window: jobs that needed parts, and of these how many each load finishes. cash: mean per van, of two loads.

    The rule has the cash of the proposal, so one sum stands for both.
    """

    first: date
    last: date
    jobs: int
    proposal: int
    rule: int
    fact: int
    cash: float


@dataclass
class BackTest:
    """Rates: share of jobs with parts that each load would have finished at the first visit. cash: mean per van.

    against_rule, against_fact: what the proposal adds to the simple rule of equal cash, and to what really happened.
    cash_today: mean worth of what the vans hold today, for what they held then is often not in the book.
    """

    first: date
    last: date
    jobs: int
    proposal: float
    rule: float
    fact: float
    cash: float
    cash_today: float
    against_rule: Comparison
    against_fact: Comparison
    periods: list[Period]


@dataclass
class _Run:
    jobs: list = field(default_factory=list)
    results: dict = field(default_factory=lambda: {name: [] for name in LOADS})
    cash: list = field(default_factory=list)
    periods: list = field(default_factory=list)


def back_test(first: date, last: date, *, rng, told: Callable[[date], None] = lambda day: None) -> BackTest:
    """Freeze the records every 90 days from `first`, propose, replay what came up to `last`. rng: for the intervals.

    told: called with each frozen day, for progress. The rule has the cash of the proposal, van by van.
    """
    run, day = _Run(), first
    while day <= last:
        told(day)
        _period(run, day, min(day + timedelta(days=WINDOW_DAYS - 1), last))
        day += timedelta(days=WINDOW_DAYS)
    done = {name: np.array(found, bool) for name, found in run.results.items()}
    rates = {name: float(found.mean()) if len(found) else 0.0 for name, found in done.items()}
    return BackTest(
        first,
        last,
        len(run.jobs),
        **rates,
        cash=float(np.mean(run.cash)) if run.cash else 0.0,
        cash_today=_cash_today(),
        against_rule=compared(run.jobs, done["proposal"], done["rule"], rng=rng),
        against_fact=compared(run.jobs, done["proposal"], done["fact"], rng=rng),
        periods=run.periods,
    )


def _cash_today():
    vans = set(Place.objects.vans().filter(retired_on=None).values_list("pk", flat=True))
    worth = sum(float(one.value or 0) for one in holdings() if one.place in vans)
    return worth / len(vans) if vans else 0.0


def _at_stake(job, problem):
    """What this job costs when the van lacks its parts: a run where a merchant has them the same day, else a visit."""
    same_day = problem.same_day
    best = max((min(same_day.get(part, 0.0) for part in way) for way in job.recipes if way), default=0.0)
    return best * problem.money.merchant_run + (1 - best) * problem.money.second_visit


def _period(run: _Run, day: date, last: date):
    """Replay one window and keep what it adds."""
    before = {name: len(found) for name, found in run.results.items()}, len(run.cash)
    _window(run, day, last)
    finished = {name: int(sum(found[before[0][name] :])) for name, found in run.results.items()}
    cash = run.cash[before[1] :]
    jobs = len(run.results["fact"]) - before[0]["fact"]
    run.periods.append(Period(day, last, jobs, **finished, cash=float(np.mean(cash)) if cash else 0.0))


def _window(run: _Run, day: date, last: date):
    setting, known = Setting.current(), day - timedelta(days=1)
    problem, _ = problem_from_records(known, WINDOW_DAYS)
    levels, price = best_levels(problem), {p.part: p.price for p in problem.parts}
    own, firm = use_last_year(known)
    work = past_work(day, last, as_of=known, second_visit=float(setting.second_visit))
    for van in problem.vans:
        cash = sum(price[part] * n for part, n in levels[van.van].items())
        run.cash.append(cash)
        if van.van not in work:
            continue
        jobs = [replace(job, cost=_at_stake(job, problem)) for job in work[van.van].jobs]
        room = [
            ({p.part: getattr(p, name) for p in problem.parts}, getattr(van, name))
            for name in ("litres", "kilograms")
            if getattr(van, name) is not None
        ]
        rule = simple_rule(own[van.van], firm, price, cash, problem.max_per_part, room)
        run.jobs += jobs
        run.results["fact"] += work[van.van].finished
        for name, load in (("proposal", levels[van.van]), ("rule", rule)):
            run.results[name] += replay(load, jobs, setting.restock_days, day.toordinal()).tolist()
