"""The component positions of one appliance: how long each has been in it, and how we know."""

from collections import defaultdict
from dataclasses import dataclass

from inventory.models import ComponentType
from jobs.models import Fitted

YEAR = 365.25


@dataclass
class Position:
    """One component position of an appliance, and since when this one has been in it."""

    component: ComponentType
    number: int
    of: int
    since: object = None
    how: str = "not known"
    precise: str = "day"
    fitted: int = 0

    def age(self, today):
        return None if self.since is None else (today - self.since).days / YEAR


def positions(appliance):
    """Its component positions with the day since which each has been there, as far as anybody knows.

    Renewed in care (the newest fitted row that was not taken out; a part renews all that it covers), else what is
    known from before care, else since installation perhaps.
    """
    renewed, earlier = _renewals(appliance), {(e.component_id, e.position): e for e in appliance.earlier.all()}
    rows = []
    for held in appliance.model.holds.select_related("component"):
        for number in range(1, held.count + 1):
            row = Position(held.component, number, held.count)
            _date(row, appliance, renewed[held.component_id], earlier.get((held.component_id, number)))
            rows.append(row)
    return rows


def _renewals(appliance):
    """component -> rows (day, position or None), newest first."""
    fitted = Fitted.objects.standing().filter(appliance=appliance, taken_out=None)
    days = defaultdict(list)
    for row in fitted.select_related("visit").prefetch_related("part__covers").order_by("-visit__on", "-pk"):
        days[row.component_id].append((row.visit.on, row.position))
        for covered in row.part.covers.all():
            if covered.pk != row.component_id:
                days[covered.pk].append((row.visit.on, None))
    return days


def _date(row, appliance, renewals, earlier):
    mine = [day for day, position in renewals if position in (None, row.number)]
    row.fitted = len(mine)
    if mine:
        row.since, row.how = mine[0], "renewed in our care"
    elif earlier and earlier.renewed_on:
        row.since, row.how, row.precise = earlier.renewed_on, "renewed before our care", earlier.precision
    elif earlier and appliance.installed_on:
        row.since, row.how, row.precise = appliance.installed_on, "the original", appliance.installed_precision
    elif appliance.installed_on:
        row.since, row.how, row.precise = appliance.installed_on, "perhaps the original", appliance.installed_precision
