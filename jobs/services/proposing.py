"""What each van should carry, from the firm's own records, and keeping what was proposed with what it came from."""

from collections import defaultdict
from dataclasses import asdict, replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from uuid import UUID

import numpy as np
from django.db import transaction
from django.db.models import Q, Sum
from django.utils import timezone

from firm.models import Setting, User
from firm.words import SIGNS
from inventory.models import CarryLevel, Movement, Place, Stock
from inventory.models import Part as CataloguePart
from inventory.stocking.demand import Demand
from inventory.stocking.explain import Window
from inventory.stocking.problem import Money, Need, Part, Problem, Van
from inventory.stocking.standing import Standing, carried_now
from inventory.stocking.van_load import NO_LIMIT, Load, Plan, best_levels, plan
from jobs import lives
from jobs.models import LoadLine, LoadProposal
from jobs.reliability.history.spells import DAYS_PER_YEAR
from jobs.van_demand import VanDemand, van_demand
from jobs.van_parts import VanParts, van_parts

HORIZON_DAYS = 90
SHOWN_OF_OTHERS = 15


def problem_from_records(as_of: date | None = None, horizon: int | None = None) -> tuple[Problem, dict]:
    """The firm's vans as a Problem, and the window and currency for its words (`plan(problem, **words)`).

    Nothing later than as_of (today by default) is known. horizon: days ahead whose seasons are averaged.
    """
    day, horizon = as_of or timezone.localdate(), horizon or HORIZON_DAYS
    setting = Setting.current()
    vans = list(Place.objects.vans().filter(Q(retired_on=None) | Q(retired_on__gt=day)).order_by("key"))
    demand = van_demand(vans, as_of=day, horizon_days=horizon)
    now, pins = _held(vans, day), _fixed(vans, day)
    kept = {p for levels in (*now.values(), *pins.values()) for p in levels}
    parts = van_parts(list(zip(demand.component, demand.model, strict=True)), as_of=day, also=kept)
    problem = Problem(
        money=Money(float(setting.second_visit), float(setting.merchant_run), float(setting.holding_per_year)),
        intervals_per_year=DAYS_PER_YEAR / setting.restock_days,
        max_per_part=setting.max_per_part,
        parts=tuple(_part(number, parts) for number in parts.parts),
        needs=_needs(demand, parts, vans, setting.restock_days),
        vans=tuple(_van(van, now[van.pk], pins[van.pk], parts.parts) for van in vans),
        warnings=tuple(_warnings(demand, parts, vans, as_of, day)),
    )
    restocks = horizon / setting.restock_days
    window = Window(f"the next {horizon} days ({restocks:.0f} restocks)", restocks)
    return problem, {"window": window, "currency": SIGNS.get(setting.currency, setting.currency + " ")}


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


def _part(number, parts: VanParts):
    part = parts.parts[number]
    return Part(
        number,
        parts.prices[number],
        float(part.litres or 0),
        float(part.kilograms or 0),
        1.0 if number in parts.same_day else 0.0,
    )


def _needs(demand: VanDemand, parts: VanParts, vans, restock_days):
    interval = restock_days / DAYS_PER_YEAR
    found = []
    for i, pair in enumerate(zip(demand.component, demand.model, strict=True)):
        if not np.isfinite(demand.failures[i]):
            continue
        numbers = {van.key: float(n) for van, n in zip(vans, demand.in_area[i], strict=True) if n > 0}
        per_van = {
            van: Demand.single(demand.failures[i], demand.exposure[i], n * interval * demand.season[i])
            for van, n in numbers.items()
        }
        if per_van:
            found.append(Need(" / ".join(pair), parts.recipes[pair], per_van, numbers))
    return tuple(found)


def _van(van, now, pins, parts):
    return Van(
        van.key,
        *(None if limit is None else float(limit) for limit in (van.litres, van.kilograms, van.budget)),
        now={p: n for p, n in now.items() if p in parts},
        pins={p: (n, n) for p, n in pins.items() if p in parts},
    )


def _held(vans, day):
    """Van to part number to its carry level, else what it holds at the end of that day (whole pieces)."""
    found: dict[int, dict[str, int]] = {van.pk: {} for van in vans}
    held: dict[tuple[int, str], Decimal] = defaultdict(Decimal)
    rows = Stock.objects.filter(place__in=vans).values_list("place_id", "part__number").annotate(n=Sum("on_hand"))
    for place, number, quantity in rows:
        held[place, number] += quantity
    later = Movement.objects.filter(happened_at__date__gt=day)
    for side, sign in (("source", 1), ("destination", -1)):
        moved = later.filter(**{f"{side}__in": vans}).values_list(f"{side}_id", "part__number")
        for place, number, quantity in moved.annotate(n=Sum("quantity")).order_by():
            held[place, number] += sign * quantity
    for (place, number), quantity in held.items():
        if quantity >= 1:
            found[place][number] = int(quantity)
    for level in CarryLevel.objects.filter(place__in=vans).select_related("part"):
        found[level.place_id][level.part.number] = level.level
    return found


def _fixed(vans, day):
    """Van to part number to the level that somebody fixed and that still holds."""
    found: dict[int, dict[str, int]] = {van.pk: {} for van in vans}
    fixed = CarryLevel.objects.filter(place__in=vans, fixed=True).exclude(until__lt=day)
    for level in fixed.select_related("part"):
        found[level.place_id][level.part.number] = level.level
    return found


def _warnings(demand: VanDemand, parts: VanParts, vans, as_of, day):
    if as_of is None and (stale := lives.stale_warning(day)):
        yield stale
    yield from demand.warnings
    yield from parts.warnings
    unknown = [
        f"{c} / {m}"
        for c, m, f in zip(demand.component, demand.model, demand.failures, strict=True)
        if not np.isfinite(f)
    ]
    if unknown:
        yield f"left out, because nothing is known of how often they fail: {', '.join(unknown[:5])}"
    for name in ("litres", "kilograms"):
        bare = [number for number, part in parts.parts.items() if getattr(part, name) is None]
        if bare and any(getattr(van, name) is not None for van in vans):
            yield f"{len(bare)} parts without {name} take no room in this plan, among them {', '.join(bare[:3])}"
