"""What each van should carry, from the firm's own records, and keeping what was proposed with what it came from."""

from collections import defaultdict
from dataclasses import asdict, replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from firm.models import User
from inventory.models import Part as CataloguePart
from inventory.models import Place
from inventory.stocking.problem import Problem
from inventory.stocking.standing import Standing, carried_now
from inventory.stocking.van_load import NO_LIMIT, Load, Plan, best_levels, plan
from jobs.models import LoadLine, LoadProposal
from jobs.services.firm_problem import HORIZON_DAYS, problem_from_records

SHOWN_OF_OTHERS = 15


class NoSuchVan(LookupError):
    """The place is no van, or one that has been retired."""


def propose(
    van: Place, *, event: UUID, by: User | None = None, as_of: date | None = None, horizon: int | None = None
) -> LoadProposal:
    """Work out the load of one van and keep it with its lines and inputs; the same event gives the first again."""
    if known := LoadProposal.objects.filter(event=event).first():
        return known
    day, horizon = as_of or timezone.localdate(), horizon or HORIZON_DAYS
    problem, words = problem_from_records(day, horizon)
    alone = _alone(problem, van.key)
    if not alone.vans:
        raise NoSuchVan(f"{van} is no van in use")
    found, [now] = plan(alone, **words), carried_now(alone)
    return _kept(van, event, by, day, alone, found, now, horizon, _turning(alone))


def _turning(problem: Problem):
    """Part to a sentence where its level would be another at half or twice the cost of a second visit."""
    [usual], said = best_levels(problem).values(), defaultdict(list)
    for factor, words in ((0.5, "half"), (2.0, "twice")):
        money = replace(problem.money, second_visit=factor * problem.money.second_visit)
        [other] = best_levels(replace(problem, money=money)).values()
        for part in usual.keys() | other.keys():
            if usual.get(part, 0) != other.get(part, 0):
                said[part].append(f"{other.get(part, 0)} at {words} the cost of a second visit")
    return {part: f" It would be {' and '.join(levels)}." for part, levels in said.items()}


def _alone(problem: Problem, key):
    """The problem of one van: its own demand only, or the frontier would divide by that of all vans."""
    needs = (replace(n, demand={key: n.demand[key]}) for n in problem.needs if key in n.demand)
    return replace(problem, vans=tuple(v for v in problem.vans if v.van == key), needs=tuple(needs))


@transaction.atomic
def _kept(van, event, by, day, problem: Problem, found: Plan, now: Standing, horizon, turning):
    [load] = found.vans
    proposal = LoadProposal.objects.create(
        event=event, van=van, as_of=day, made_by=by, inputs=_inputs(problem, horizon), result=_result(load, found, now)
    )
    parts = {p.number: p for p in CataloguePart.objects.filter(number__in=[line.part for line in load.lines])}
    LoadLine.objects.bulk_create(
        LoadLine(
            proposal=proposal,
            part=parts[line.part],
            now=line.now,
            proposed=line.level,
            price=_decimal(line.price, "0.0001"),
            gain_per_year=_decimal(line.gain_per_year, "0.01"),
            reason=line.reason + turning.get(line.part, ""),
        )
        for line in _worth_showing(load.lines)
    )
    return proposal


def _worth_showing(lines):
    """Every line carried now or to be carried, and of the others those that come nearest to paying."""
    others = sorted((x for x in lines if not (x.level or x.now)), key=lambda x: -(x.next_worth_per_year or 0))
    return [x for x in lines if x.level or x.now] + others[:SHOWN_OF_OTHERS]


def _decimal(amount, step):
    return Decimal(repr(amount)).quantize(Decimal(step), ROUND_HALF_UP)


def _inputs(problem: Problem, horizon):
    [van] = problem.vans
    return {
        "second_visit": problem.money.second_visit,
        "merchant_run": problem.money.merchant_run,
        "holding_per_year": problem.money.holding_per_year,
        "intervals_per_year": problem.intervals_per_year,
        "max_per_part": problem.max_per_part,
        "horizon_days": horizon,
        "budget": van.budget,
        "litres": van.litres,
        "kilograms": van.kilograms,
        "fixed": {p: least for p, (least, _) in van.pins.items()},
    }


def _result(load: Load, found: Plan, now: Standing):
    return {
        "spend": load.spend,
        "litres": load.litres,
        "kilograms": load.kilograms,
        "first_visit_fix_rate": load.first_visit_fix_rate,
        "worth_per_year": load.worth_per_year,
        "binding": "" if load.binding == NO_LIMIT else load.binding,
        "spend_now": now.spend,
        "first_visit_fix_rate_now": now.first_visit_fix_rate,
        "worth_per_year_now": now.worth_per_year,
        "frontier": [asdict(point) for point in found.frontier],
        "method": found.method,
        "warnings": list(found.warnings),
    }
