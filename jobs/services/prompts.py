"""What deserves a look at the next service, what to renew ahead of failure, and what while somebody is there."""

from dataclasses import dataclass
from datetime import date

import numpy as np

from firm.models import Setting
from inventory.models import ComponentType, Part
from inventory.services.pricing import price_at
from jobs import lives
from jobs.reliability.forecast import forecast
from jobs.reliability.replacement import age_replacement
from jobs.services.life_grids import life_grids
from jobs.van_demand import month_shares

DAYS_PER_MONTH = 30.4375


@dataclass(frozen=True)
class ServicePrompt:
    """One position of an appliance. age: mean years, `seen` False where not known. hazard_per_year: today's rate;
    expected: failures until the next service.
    """

    component: str
    position: int
    age: float
    seen: bool
    hazard_per_year: float
    expected: float


@dataclass(frozen=True)
class PlannedReplacement:
    """at_age: years, None where it never pays. saving: share of the cost of running to failure."""

    component: str
    pays: bool
    at_age: float | None
    saving: float | None
    why: str


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
    grids, today = life_grids(as_of), life_grids(as_of).today
    own = np.flatnonzero(today.appliance == appliance.number)
    if not own.size:
        return ()
    days = round(Setting.current().service_interval_months * DAYS_PER_MONTH)
    kind, age, whole = today.component[own], today.age[own], today.whole[own]
    keys, cell = np.unique(kind * (1 << 16) + today.position[own], return_inverse=True)
    season = (grids.season @ month_shares(as_of, days))[kind]
    found = forecast(grids.grid, age, kind, days / 365.25, cell=cell, cells=keys.size, weight=whole, season=season).mean
    hazard = np.bincount(cell, whole * _hazard(grids.grid, kind, age))
    mean_age = np.bincount(cell, whole * age)
    seen = np.bincount(cell, today.seen[own]) > 0
    prompts = [
        ServicePrompt(grids.components[key >> 16], key & 0xFFFF, *figures)
        for key, *figures in zip(
            keys.tolist(), mean_age.tolist(), seen.tolist(), hazard.tolist(), found.tolist(), strict=True
        )
    ]
    return tuple(sorted(prompts, key=lambda prompt: -prompt.expected))


def _hazard(grid, kind, age):
    """Failures a year of each position at its age, averaged over the grid of shapes."""
    place = np.maximum(age / grid.unit[kind], 1e-3)[:, None]
    shape = grid.shape[kind]
    rate = (grid.failures[:, None] / grid.hazard)[kind]
    return np.sum(grid.weight[kind] * rate * shape * place ** (shape - 1), axis=1) / grid.unit[kind]


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


def while_you_are_there(appliance, as_of: date) -> tuple[WhileThere, ...]:
    """Cheap parts to renew at an open visit, the best first. Only living parts that fit and may be advised."""
    money, found = Setting.current(), []
    prompts = service_prompts(appliance, as_of)
    types = {one.key: one for one in ComponentType.objects.filter(key__in={p.component for p in prompts})}
    for prompt in prompts:
        component = types[prompt.component]
        cheapest = _cheapest(component, appliance.model, as_of)
        if cheapest is None:
            continue
        price, part = cheapest
        chance = float(-np.expm1(-prompt.expected))
        visit = float(money.call_out + money.labour_charge * (component.hours_usual or 1))
        saved = chance * visit
        found.append(WhileThere(component.key, prompt.position, part, price, chance, saved, saved > price))
    return tuple(sorted(found, key=lambda one: one.price - one.saved))


def _cheapest(component, model, on):
    """(price per piece, part) of the cheapest part that may be advised, None where none has a price."""
    parts = Part.objects.living().fitting(model).filter(covers=component)
    allowed = [part for part in parts if part.advisable_where_approved_new]
    priced = [(price_at(part, on), part) for part in allowed]
    return min(((float(p[0]), part) for p, part in priced if p), key=lambda one: one[0], default=None)
