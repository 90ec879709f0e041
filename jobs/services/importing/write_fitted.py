"""Write parts fitted in the past: facts with what they cost, from before the book."""

from bisect import bisect_right
from datetime import datetime, time
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db.models import F

from firm.models import Setting
from inventory.models import AverageCost, ComponentType, Part, Place, Price, Supplier
from inventory.services.ledger import money
from inventory.services.opening import book_history
from inventory.services.places import counter
from jobs.models import Appliance, Fitted, Visit
from jobs.services.importing import booked
from jobs.services.importing.keeping import chunks, numbers
from jobs.services.importing.known import CUSTOMERS_OWN, rows_of
from jobs.services.importing.problems import Problems, Refused


def write_fitted(files, known, progress, by):
    """Book the fitted rows that are not booked yet; raises Refused where a booked one differs."""
    problems = Problems()
    rows = booked.new_fitted(files, known, problems)
    if problems.errors:
        raise Refused(problems.errors)
    if not rows:
        return
    keys = _Keys(files, rows)
    for chunk in chunks(progress(rows, "writing fitted")):
        costs = [keys.unit_cost(row) for row in chunk]
        movements = book_history([keys.movement(row, cost) for row, cost in zip(chunk, costs, strict=True)], by=by)
        booked_rows = zip(chunk, costs, movements, strict=True)
        Fitted.objects.bulk_create((keys.fitted(*one, known) for one in booked_rows), batch_size=500)


class _Keys:
    """From the numbers in a file to what the database needs."""

    def __init__(self, files, rows):
        self.parts = numbers(Part, "number")
        self.components = numbers(ComponentType, "key")
        self.appliances = numbers(Appliance, "number")
        visits = Visit.objects.values_list("number", "pk", "on", "place_id", "job__number", "place__key")
        self.visits = {row[0]: row[1:] for row in visits.iterator(10_000)}
        suppliers = Supplier.objects.values_list("key", "place")
        self.sources = dict(suppliers) | dict(Place.objects.held().values_list("key", "pk"))
        self.customers_own = counter(Place.Kind.CUSTOMERS_OWN).pk
        self.sources |= dict.fromkeys((CUSTOMERS_OWN, "customers-own"), self.customers_own)
        self.zone = ZoneInfo(Setting.current().time_zone)
        self.prices = cheapest_prices({self.parts[row.part] for row in rows if row.unit_cost is None})
        self.stock_costs = {(row.place, row.part): row.unit_cost for row in rows_of(files, "stock")}
        self.averages = dict(AverageCost.objects.values_list("part_id", "unit_cost"))

    def unit_cost(self, row):
        """As written; else the cheapest price per piece on that day, else the stock file's, else unknown.

        What was the customer's own cost nothing.
        """
        if row.unit_cost is not None:
            return row.unit_cost
        if row.source and self.sources[row.source] == self.customers_own:
            return Decimal(0)
        part, (_, on, _, _, place) = self.parts[row.part], self.visits[row.visit]
        cost = self.prices(part, on)
        if cost is None:
            cost = self.stock_costs.get((row.source or place, row.part))
        return self.averages.get(part) if cost is None else cost

    def movement(self, row, unit_cost):
        _, on, _, job, _ = self.visits[row.visit]
        when = datetime.combine(on, time(12), tzinfo=self.zone)
        return self.parts[row.part], row.quantity, unit_cost, when, job

    def fitted(self, row, unit_cost, movement, known):
        visit, _, place, _, _ = self.visits[row.visit]
        source = self.sources[row.source] if row.source else place
        return Fitted(
            visit_id=visit,
            appliance_id=self.appliances[known.appliance_of(row)],
            component_id=self.components[row.component],
            position=row.position,
            part_id=self.parts[row.part],
            quantity=row.quantity,
            why=row.why,
            came_from_id=None if source == place else source,
            movement=movement,
            unit_cost=unit_cost,
            cost=money(row.quantity, unit_cost),
            charge_ex_vat=row.charge_ex_vat,
            charge_as_imported=row.charge_ex_vat is not None,
        )


def cheapest_prices(parts):
    """A function (part pk, day) → the cheapest price per piece valid on that day over all offers, or None."""
    offers = {}
    rows = Price.objects.order_by("offer_id", "valid_from").values_list("offer_id", "valid_from", "price_per_piece")
    for offer, since, price, part in rows.annotate(part=F("offer__part_id")).iterator(10_000):
        if part in parts:
            days, prices = offers.setdefault(part, {}).setdefault(offer, ([], []))
            days.append(since)
            prices.append(price)

    def cheapest(part, on):
        found = []
        for days, prices in offers.get(part, {}).values():
            place = bisect_right(days, on)
            found += [prices[place - 1]] if place else []
        return min(found, default=None)

    return cheapest
