"""What each van should carry, from the firm's own records, and keeping what was proposed with what it came from."""

from dataclasses import asdict, dataclass, replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from firm.models import User
from inventory.models import Part as CataloguePart
from inventory.models import Place
from inventory.stocking.damping import Damped, Damping, damped
from inventory.stocking.lines import Line
from inventory.stocking.problem import Problem
from inventory.stocking.sensitivity import at_other_costs, cost_of_fixing
from inventory.stocking.standing import Standing, carried_now
from inventory.stocking.van_load import NO_LIMIT, Load, Plan, load_of, plan
from jobs.models import LoadLine, LoadProposal
from jobs.services.firm_problem import HORIZON_DAYS, problem_from_records
from jobs.services.small_steps import LineWords, rules_for, weeks_carried

SHOWN_OF_OTHERS = 15


class NoSuchVan(LookupError):
    """The place is no van, or one that has been retired."""


def propose(
    van: Place,
    *,
    event: UUID,
    by: User | None = None,
    as_of: date | None = None,
    horizon: int | None = None,
    at_once: bool = False,
) -> LoadProposal:
    """Work out the load of one van and keep it with its lines and inputs; the same event gives the first again.

    Of the changes that pay, only those worth their handling now are proposed, unless `at_once`.
    """
    if known := LoadProposal.objects.filter(event=event).first():
        return known
    day, horizon = as_of or timezone.localdate(), horizon or HORIZON_DAYS
    problem, words = problem_from_records(day, horizon)
    alone = _alone(problem, van.key)
    if not alone.vans:
        raise NoSuchVan(f"{van} is no van in use")
    found, [now] = plan(alone, **words), carried_now(alone)
    [best] = found.vans
    rules = None if at_once else rules_for(van, day)
    made = Damped(best.levels, {}) if rules is None else damped(alone, best.levels, rules, weeks_carried(van, day))
    later = {part for part, waits in made.waiting.items() if waits.best > made.levels.get(part, 0)}
    load = load_of(alone, made.levels, binding=best.binding, later=later, **words)
    lost, fixing = cost_of_fixing(alone)
    line_words = LineWords(at_other_costs(alone, best.levels), made.waiting, words["currency"])
    lines = [_line(line, best.levels, line_words, fixing.get(line.part)) for line in load.lines]
    result = _result(load, found, now, lines) | {"cost_of_fixing": lost}
    return _kept(van, event, by, day, lines, _inputs(alone, horizon, rules), result)


def _alone(problem: Problem, key):
    """The problem of one van: its own demand only, or the frontier would divide by that of all vans."""
    needs = (replace(n, demand={key: n.demand[key]}) for n in problem.needs if key in n.demand)
    return replace(problem, vans=tuple(v for v in problem.vans if v.van == key), needs=tuple(needs))


@dataclass(frozen=True)
class ProposedLine:
    """A line with what the page says beside it. gain: of the change, or of the one that waits."""

    line: Line
    best: int
    gain: float
    reason: str
    damped: bool
    flips: bool
    cost_of_fixing: float | None


def _line(line: Line, best, words: LineWords, fixing):
    waits = words.waiting.get(line.part)
    return ProposedLine(
        line,
        best.get(line.part, 0),
        line.gain_per_year if waits is None else waits.gain,
        words.reason(line, fixing),
        waits is not None,
        line.part in words.turning,
        fixing,
    )


@transaction.atomic
def _kept(van, event, by, day, lines: list[ProposedLine], inputs, result):
    proposal = LoadProposal.objects.create(event=event, van=van, as_of=day, made_by=by, inputs=inputs, result=result)
    parts = {p.number: p for p in CataloguePart.objects.filter(number__in=[one.line.part for one in lines])}
    LoadLine.objects.bulk_create(
        LoadLine(
            proposal=proposal,
            part=parts[one.line.part],
            now=one.line.now,
            proposed=one.line.level,
            best=one.best,
            price=_decimal(one.line.price, "0.0001"),
            gain_per_year=_decimal(one.gain, "0.01"),
            reason=one.reason,
            damped=one.damped,
            flips=one.flips,
            cost_of_fixing=None if one.cost_of_fixing is None else _decimal(one.cost_of_fixing, "0.01"),
        )
        for one in _worth_showing(lines)
    )
    return proposal


def _worth_showing(lines: list[ProposedLine]):
    """Every line carried now or to be carried, and of the others those that come nearest to paying."""
    kept = [x for x in lines if x.line.level or x.line.now or x.best]
    others = sorted((x for x in lines if x not in kept), key=lambda x: -(x.line.next_worth_per_year or 0))
    return kept + others[:SHOWN_OF_OTHERS]


def _decimal(amount, step):
    return Decimal(repr(amount)).quantize(Decimal(step), ROUND_HALF_UP)


def _inputs(problem: Problem, horizon, rules: Damping | None):
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
        "damping": None if rules is None else asdict(rules),
    }


def _result(load: Load, found: Plan, now: Standing, lines: list[ProposedLine]):
    [best] = found.vans
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
        "best": {name: getattr(best, name) for name in ("spend", "first_visit_fix_rate", "worth_per_year")},
        "changes": sum(one.line.level != one.line.now for one in lines),
        "waiting": sum(one.damped for one in lines),
        "frontier": [asdict(point) for point in found.frontier],
        "method": found.method,
        "warnings": list(found.warnings),
    }
