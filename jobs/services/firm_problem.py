"""The firm's records as a Problem: what may be needed where, which parts would do, what each van holds and may hold."""

from collections import defaultdict
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
from django.db.models import Q, Sum
from django.utils import timezone

from firm.models import Setting
from firm.words import SIGNS
from inventory.models import CarryLevel, Movement, Place, Stock
from inventory.stocking.demand import Demand
from inventory.stocking.explain import Window
from inventory.stocking.problem import Money, Need, Part, Problem, Van
from jobs import lives
from jobs.reliability.history.spells import DAYS_PER_YEAR
from jobs.services.need_demand import VanDemand, van_demand
from jobs.van_parts import VanParts, van_parts

HORIZON_DAYS, YEAR = 90, 365


def problem_from_records(as_of: date | None = None, horizon: int | None = None) -> tuple[Problem, dict]:
    """The firm's vans as a Problem, and the window and currency for its words (`plan(problem, **words)`).

    Nothing later than as_of (today by default) is known. horizon: days ahead whose seasons are averaged.
    """
    day, horizon = as_of or timezone.localdate(), horizon or HORIZON_DAYS
    setting = Setting.current()
    vans = _vans(day)
    demand = van_demand(vans, as_of=day, horizon_days=horizon)
    now, pins = _held(vans, day), _fixed(vans, day)
    kept = {p for levels in (*now.values(), *pins.values()) for p in levels}
    parts = van_parts(list(zip(demand.component, demand.model, strict=True)), as_of=day, also=kept)
    problem = Problem(
        money=Money(float(setting.second_visit), float(setting.merchant_run), float(setting.holding_per_year)),
        intervals_per_year=DAYS_PER_YEAR / setting.restock_days,
        max_per_part=setting.max_per_part,
        parts=tuple(_part(number, parts) for number in parts.parts),
        needs=_needs(demand, parts, vans, setting.restock_days / horizon),
        vans=tuple(_van(van, now[van.pk], pins[van.pk], parts.parts) for van in vans),
        warnings=tuple(_warnings(demand, parts, vans, as_of, day)),
    )
    restocks = horizon / setting.restock_days
    window = Window(f"the next {horizon} days ({restocks:.0f} restocks)", restocks)
    return problem, {"window": window, "currency": SIGNS.get(setting.currency, setting.currency + " ")}


def firm_season(day: date):
    """The firm's month factors as known on that day, January first, mean one, (12,)."""
    return van_demand(_vans(day), as_of=day, horizon_days=HORIZON_DAYS).months


def _vans(day):
    return list(Place.objects.vans().filter(Q(retired_on=None) | Q(retired_on__gt=day)).order_by("key"))


def with_free_stock(problem: Problem) -> Problem:
    """The same, each van's `now` being what it holds today and keeps for no job, whole pieces, opened ones too."""
    held: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    rows = Stock.objects.filter(place__key__in=[v.van for v in problem.vans]).there().free()
    known = {p.part for p in problem.parts}
    for row in rows.select_related("place", "part"):
        free = row.free if row.condition == "new" else row.on_hand
        if row.part.number in known and free >= 1:
            held[row.place.key][row.part.number] += int(free)
    return replace(problem, vans=tuple(replace(v, now=dict(held[v.van])) for v in problem.vans))


def _part(number, parts: VanParts):
    part = parts.parts[number]
    return Part(
        number,
        parts.prices[number],
        float(part.litres or 0),
        float(part.kilograms or 0),
        1.0 if number in parts.same_day else 0.0,
    )


def _needs(demand: VanDemand, parts: VanParts, vans, share):
    """share: of the horizon in one restock interval. The exposure is such that the mean is what is expected."""
    found = []
    for i, pair in enumerate(zip(demand.component, demand.model, strict=True)):
        if not np.isfinite(demand.failures[i]):
            continue
        numbers = {van.key: float(n) for van, n in zip(vans, demand.in_area[i], strict=True) if n > 0}
        per_van = {
            van.key: Demand.single(demand.failures[i], demand.exposure[i], float(expected) * share, demand.snaps)
            for van, expected in zip(vans, demand.expected[i], strict=True)
            if expected > 0
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
