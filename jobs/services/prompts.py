"""What deserves a look at the next service, what to renew ahead of failure, and what while somebody is there."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import numpy as np

from firm.models import Setting
from inventory.models import ComponentType, Part
from inventory.services.pricing import offers_of
from jobs import lives
from jobs.reliability.replacement import age_replacement
from jobs.services.positions_ahead import positions_ahead

ASKED = 0.01  # failures until the next service that an answer must change to be worth the asking


@dataclass(frozen=True)
class ServicePrompt:
    """One position of an appliance. age: mean years, `seen` False where not known. hazard_per_year: today's rate, with
    the range (90%) that doubt about the life leaves; expected: failures until the next service; if_original,
    if_renewed: the same if it is as old as the appliance, and if it was renewed before care; None where its age is
    known or only one of both can be.
    """

    component: str
    position: int
    age: float
    seen: bool
    hazard_per_year: float
    expected: float
    if_original: float | None = None
    if_renewed: float | None = None
    hazard_low: float | None = None
    hazard_high: float | None = None

    @property
    def spread(self):
        """How much knowing its age would change."""
        if self.if_original is None or self.if_renewed is None:
            return 0.0
        return abs(self.if_original - self.if_renewed)


@dataclass(frozen=True)
class PlannedReplacement:
    """at_age: years, None where it never pays. saving: share of the cost of running to failure."""

    component: str
    pays: bool
    at_age: float | None
    saving: float | None
    why: str


@dataclass(frozen=True)
class RenewalCosts:
    """What renewing one costs ahead of failure, at a visit made anyway, and after a failure. part, price: the cheapest
    that may be advised; planned, failure: None without a price. again: share of failures that need a second visit.
    """

    part: Part | None
    price: Decimal | None
    hours: Decimal
    labour: Decimal
    call_out: Decimal
    second_visit: Decimal
    again: Decimal
    planned: Decimal | None
    failure: Decimal | None


@dataclass(frozen=True)
class WhileThere:
    """A part that could be renewed at an open visit. saved: call-out and labour x the chance of a failure before the
    next service; worth: saved exceeds the price.
    """

    component: str
    position: int
    part: Part
    price: float
    chance: float
    saved: float
    worth: bool


def service_prompts(appliance, as_of: date) -> tuple[ServicePrompt, ...]:
    """The positions of an appliance in care, the likeliest to fail before the next service first."""
    prompts = [ServicePrompt(*figures) for figures in positions_ahead(as_of).of(appliance.number)]
    return tuple(sorted(prompts, key=lambda prompt: -prompt.expected))


def worth_asking(prompts) -> ServicePrompt | None:
    """The position whose age, once read or remembered, would change the outlook most; None where none matters."""
    best = max(prompts, key=lambda prompt: prompt.spread, default=None)
    return best if best is not None and best.spread >= ASKED else None


def renewal_costs(component: ComponentType, as_of: date) -> RenewalCosts:
    """Cheapest part and fitting hours as charged; after a failure a call-out too, and now and then a second visit."""
    money = Setting.current()
    hours = component.hours_usual or Decimal(1)
    parts = _advisable(Part.objects.living().filter(covers=component))
    price, part = min(_priced(parts, as_of).values(), key=lambda one: one[0], default=(None, None))
    again = 1 - money.target_first_visit_fix_rate
    planned = None if price is None else price + hours * money.labour_charge
    failure = None if planned is None else planned + money.call_out + again * money.second_visit
    labour, call_out, second = money.labour_charge, money.call_out, money.second_visit
    return RenewalCosts(part, price, hours, labour, call_out, second, again, planned, failure)


def replacement_plan(component: str, as_of: date, *, planned_cost, failure_cost) -> PlannedReplacement:
    """When renewing ahead of failure costs least; never where wear is not shown by the limits of the shape."""
    group = next((one for one in lives.report(as_of).groups if one.group == component), None)
    if group is None or group.status != "fitted":
        return PlannedReplacement(component, False, None, None, "No life could be drawn.")
    if not (group.shape_low or 0) > 1:
        return PlannedReplacement(component, False, None, None, "That they wear out is not shown.")
    found = age_replacement(group.shape, group.scale, float(planned_cost), float(failure_cost))
    if np.isnan(found.age):
        return PlannedReplacement(component, False, None, None, "It costs less to wait until they fail.")
    saving = float(1 - found.cost_rate / found.run_to_failure)
    return PlannedReplacement(component, True, float(found.age), saving, "They wear out, and a failure costs more.")


def while_you_are_there(appliance, as_of: date, prompts=None) -> tuple[WhileThere, ...]:
    """Cheap parts to renew at an open visit, the best first. Only living parts that fit and may be advised.

    prompts: as `service_prompts` gives them, where they are at hand.
    """
    prompts = service_prompts(appliance, as_of) if prompts is None else prompts
    money, found = Setting.current(), []
    types = {one.key: one for one in ComponentType.objects.filter(key__in={p.component for p in prompts})}
    fitting = Part.objects.living().fitting(appliance.model).filter(covers__in=types.values())
    parts = _advisable(fitting.prefetch_related("covers"))
    priced = _priced(parts, as_of)
    cheapest: dict[str, tuple] = {}
    for part in parts:
        for covered in part.covers.all() if part.pk in priced else ():
            known = cheapest.get(covered.key)
            cheapest[covered.key] = priced[part.pk] if known is None or priced[part.pk][0] < known[0] else known
    for prompt in prompts:
        if prompt.component not in cheapest:
            continue
        price, part = cheapest[prompt.component]
        chance = float(-np.expm1(-prompt.expected))
        visit = float(money.call_out + money.labour_charge * (types[prompt.component].hours_usual or 1))
        saved = chance * visit
        found.append(
            WhileThere(prompt.component, prompt.position, part, float(price), chance, saved, saved > float(price))
        )
    return tuple(sorted(found, key=lambda one: one.price - one.saved))


def _advisable(parts):
    """Those of a grade that may be fitted where the class demands approved new parts."""
    return [part for part in parts.distinct() if part.advisable_where_approved_new]


def _priced(parts, on):
    """{primary key: (cheapest price per piece, part)} of the parts that have a price, in one query."""
    found, by_pk = {}, {part.pk: part for part in parts}
    for offer in offers_of(parts, on):
        found.setdefault(offer.part_id, (offer.now_price_per_piece, by_pk[offer.part_id]))
    return found
