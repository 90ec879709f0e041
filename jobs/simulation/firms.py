"""Component positions of many invented firms: what happens to them, and what a firm's book would show of it."""

from dataclasses import dataclass

import numpy as np

Array = np.ndarray
FAILED, REPAIRED, PLANNED = 0, 1, 2  # renewed after a failure; repaired in place; renewed without a failure
MOST_EVENTS = 400


@dataclass(frozen=True)
class Law:
    """How the components of each group live, arrays (groups,).

    shape, scale (years): Weibull. planned: renewals without a failure, per year. repaired: share of failures
    that are repaired in place, as bad as old.
    """

    shape: Array
    scale: Array
    planned: Array
    repaired: Array

    def of(self, rows) -> "Law":
        return Law(self.shape[rows], self.scale[rows], self.planned[rows], self.repaired[rows])


@dataclass(frozen=True)
class Town:
    """How customers come, call and leave. Years and yearly rates; all invented."""

    years: float = 10.0  # that the book covers
    begun: tuple[float, float] = (0.0, 0.95)  # share of these years that had passed when a customer came: even between
    from_new: float = 0.25  # share of appliances in care from their installation
    oldest: float = 16.0  # age at the start of care of the others: even from 0.5 to this
    brought: float = 0.08  # share that came because this very component had broken down
    serviced: float = 0.3  # share of customers on a yearly service
    other_contacts: float = 0.3  # a customer and year, about other components
    leaving: float = 0.075
    leaving_serviced: float = 0.03
    tells: float = 0.3  # share of those leaving who say so
    remembered: float = 0.0  # share of positions whose last renewal before care is recorded
    ahead: float = 0.0  # years after the day of analysis of which the failures to come are drawn too


@dataclass(frozen=True)
class Events:
    """What happens to positions, sorted by position and age of the appliance; kind: FAILED, REPAIRED, PLANNED."""

    unit: Array
    age: Array
    kind: Array


@dataclass(frozen=True)
class Book:
    """Positions (n,) of appliances in care and what their firm knows; ages are the appliance's, in years.

    group; start: age when care began; end: on the day of analysis; left: when it left (inf: has not); told: says
    so; serviced; last: last contact; contacts: after the start; known_from: age at which the position's clock
    is known to have begun when care did (nan: not known). coming: failures in the years ahead of those still in care
    (whoever leaves then takes his failures along). events: those seen in care.
    """

    group: Array
    start: Array
    end: Array
    left: Array
    told: Array
    serviced: Array
    last: Array
    contacts: Array
    known_from: Array
    coming: Array
    events: Events

    @property
    def care(self):
        """Years that each position was really in care."""
        return np.minimum(self.left, self.end) - self.start


def draw_book(rng, town: Town, law: Law, group) -> Book:
    """Invent one position per appliance of each group number in `group` (n,); some never come into care.

    A renewal before care is real but nobody recorded it. An appliance that came because this component failed
    is in care from that failure on, which is in no count; a renewal then starts a known clock.
    """
    count = len(group)
    new = rng.random(count) < town.from_new
    age = np.where(new, 0.0, rng.uniform(0.5, town.oldest, count))
    end = age + town.years * (1 - rng.uniform(*town.begun, count))
    events = draw_events(rng, law.of(group), end + town.ahead)
    past = events.age <= end[events.unit]
    later = events.unit[~past & (events.kind != PLANNED)]
    events = Events(events.unit[past], events.age[past], events.kind[past])
    brought = ~new & (rng.random(count) < town.brought)
    start, known_from, comes = _openings(events, age, new, brought)
    remembered = rng.random(count) < town.remembered
    known_from = np.where(remembered & np.isnan(known_from), _last_renewal(events, start), known_from)
    serviced = rng.random(count) < town.serviced
    leaving = np.where(serviced, town.leaving_serviced, town.leaving)
    left = start + rng.exponential(1, count) / np.maximum(leaving, 1e-12)
    left[left > end] = np.inf
    seen = (events.age > start[events.unit]) & (events.age <= np.minimum(left, end)[events.unit]) & comes[events.unit]
    events = Events(events.unit[seen], events.age[seen], events.kind[seen])
    last, contacts = _contacts(rng, town, start, np.minimum(left, end) - start, serviced, events)
    told = np.isfinite(left) & (rng.random(count) < town.tells)
    number = np.cumsum(comes) - 1
    events = Events(number[events.unit], events.age, events.kind)
    coming = np.where(np.isinf(left), np.bincount(later, minlength=count), 0)
    columns = (np.asarray(group), start, end, left, told, serviced, last, contacts, known_from, coming)
    return Book(*(column[comes] for column in columns), events)


def draw_events(rng, law: Law, end) -> Events:
    """All events of positions (n,) new at age 0 up to `end`: failures by their age, planned renewals at a rate."""
    found, unit = [], np.arange(end.size)
    now, since = np.zeros(end.size), np.zeros(end.size)
    for _ in range(MOST_EVENTS):
        own = law.of(unit)
        worn = ((now - since) / own.scale) ** own.shape + rng.exponential(size=unit.size)
        fails = since + own.scale * worn ** (1 / own.shape)
        planned = now + rng.exponential(size=unit.size) / np.maximum(own.planned, 1e-12)
        now = np.minimum(fails, planned)
        repaired = rng.random(unit.size) < own.repaired
        kind = np.where(planned < fails, PLANNED, np.where(repaired, REPAIRED, FAILED))
        inside = now <= end[unit]
        unit, now, since, kind = (column[inside] for column in (unit, now, since, kind))
        if not unit.size:
            break
        found.append((unit, now, kind))
        since = np.where(kind == REPAIRED, since, now)
    if not found:
        return Events(np.zeros(0, int), np.zeros(0), np.zeros(0, int))
    unit, age, kind = (np.concatenate(column) for column in zip(*found, strict=True))
    order = np.lexsort((age, unit))
    return Events(unit[order], age[order], kind[order])


def _openings(events: Events, age, new, brought):
    """Age at the start of care, age from which the clock is known (nan), and whether the appliance comes at all."""
    start, known_from, comes = age.copy(), np.where(new, 0.0, np.nan), ~brought
    opens = np.flatnonzero(brought[events.unit] & (events.kind != PLANNED) & (events.age > age[events.unit]))
    unit, first = np.unique(events.unit[opens], return_index=True)
    opens = opens[first]
    start[unit], comes[unit] = events.age[opens], True
    renewed = events.kind[opens] == FAILED
    known_from[unit[renewed]] = start[unit[renewed]]
    return start, known_from, comes


def _last_renewal(events: Events, start):
    """Age at which each position was last renewed before `start`, 0 where it is the original."""
    earlier, found = (events.kind != REPAIRED) & (events.age <= start[events.unit]), np.zeros(start.size)
    np.maximum.at(found, events.unit[earlier], events.age[earlier])
    return found


def _contacts(rng, town: Town, start, care, serviced, events: Events):
    """Last contact of each position and how many came after the start of care."""
    others = rng.poisson(town.other_contacts * np.maximum(care, 0))
    last = start + care * rng.random(start.size) ** (1 / np.maximum(others, 1)) * (others > 0)
    first_service = rng.uniform(0.3, 1.0, start.size)
    services = np.where(serviced, np.maximum(np.floor(care - first_service) + 1, 0), 0).astype(int)
    last = np.where(services > 0, np.maximum(last, start + first_service + services - 1), last)
    np.maximum.at(last, events.unit, events.age)
    return last, others + services + np.bincount(events.unit, minlength=start.size)
