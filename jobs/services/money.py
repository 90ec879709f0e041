"""What jobs earn. Amounts are stored when written; here they are only added up, in Decimal."""

from collections import defaultdict
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from django.db.models import Count, Q, Sum

from firm.models import Setting
from inventory.models import Offer
from jobs.models import Charge, Fitted, Job, VisitEngineer

MONEY = Decimal("0.01")
ZERO = Decimal(0)


@dataclass
class Money:
    """Charges and costs, ex VAT, in the firm's currency. Costs that are unknown are counted, never taken as nil."""

    jobs: int = 0
    charges: Decimal = ZERO
    parts_charged: Decimal = ZERO
    parts_cost: Decimal = ZERO
    labour_cost: Decimal = ZERO
    travel_cost: Decimal = ZERO
    minutes: int = 0
    visits: int = 0
    parts_of_unknown_cost: int = 0
    fitted_not_charged: int = 0
    cost_not_charged: Decimal = ZERO
    minutes_unknown: int = 0
    key: object = field(default=None, compare=False)

    @property
    def sales(self):
        return self.charges + self.parts_charged

    @property
    def cost(self):
        return self.parts_cost + self.labour_cost + self.travel_cost

    @property
    def margin(self):
        """Sales less cost."""
        return self.sales - self.cost

    @property
    def margin_share(self):
        """Margin over sales, or None without sales."""
        return None if not self.sales else self.margin / self.sales

    @property
    def markup_share(self):
        """Margin over cost, or None without cost."""
        return None if not self.cost else self.margin / self.cost

    def add(self, other):
        for name in self.__dataclass_fields__:
            if name != "key":
                setattr(self, name, getattr(self, name) + getattr(other, name))


def money_of(jobs):
    """{job pk: Money} of a QuerySet of jobs, by a constant number of queries."""
    setting = Setting.current()
    found = {pk: Money(jobs=1, key=pk) for pk in jobs.values_list("pk", flat=True)}
    inside = jobs.order_by().values("pk")
    _add_charges(found, Charge.objects.filter(job__in=inside))
    _add_fitted(found, Fitted.objects.standing().filter(visit__job__in=inside, taken_out=None))
    _add_labour(found, VisitEngineer.objects.filter(visit__job__in=inside).exclude(visit__outcome=""), setting)
    visits = jobs.annotate(made=Count("visits", filter=~Q(visits__outcome=""))).values_list("pk", "made")
    for pk, made in visits:
        found[pk].visits = made
        found[pk].travel_cost = made * setting.travel_cost
    return found


def job_money(job):
    """The Money of one job."""
    return money_of(Job.objects.filter(pk=job.pk))[job.pk]


def total(found):
    """The sum of many Money."""
    result = Money()
    for one in found:
        result.add(one)
    return result


def _add_charges(found, charges):
    for pk, amount in charges.order_by().values_list("job").annotate(amount=Sum("amount_ex_vat")):
        found[pk].charges = Decimal(amount).quantize(MONEY)


def _add_fitted(found, fitted):
    fields = ["visit__job", "cost", "charge_ex_vat"]
    for pk, cost, charge in fitted.order_by().values_list(*fields).iterator(10_000):
        money = found[pk]
        if charge is None:
            money.fitted_not_charged += 1
            money.cost_not_charged += cost or ZERO
        else:
            money.parts_charged += charge
        if cost is None:
            money.parts_of_unknown_cost += 1
        else:
            money.parts_cost += cost


def _add_labour(found, engineers, setting):
    minutes, unknown = defaultdict(int), defaultdict(int)
    for pk, spent in engineers.order_by().values_list("visit__job", "minutes").iterator(10_000):
        minutes[pk] += spent or 0
        unknown[pk] += spent is None
    for pk, spent in minutes.items():
        found[pk].minutes, found[pk].minutes_unknown = spent, unknown[pk]
        found[pk].labour_cost = (spent * setting.labour_cost / 60).quantize(MONEY, ROUND_HALF_UP)


KEYS = {
    "month": lambda job: job["reported_on"].replace(day=1),
    "kind": lambda job: job["kind"],
    "model": lambda job: job["appliance__model__name"],
    "maker": lambda job: job["appliance__model__maker"] or "unknown",
}


def margins_by(what, since, until):
    """Money by month, kind, model, maker, component, supplier or engineer, of jobs reported from since to until.

    A job with several components, suppliers or engineers counts under each of them. Sorted by key; engineers only
    from twenty jobs on.
    """
    jobs = Job.objects.filter(reported_on__range=(since, until))
    found = money_of(jobs)
    grouped = defaultdict(Money)
    for job, key in _pairs(jobs, what):
        grouped[key].add(found[job])
        grouped[key].key = key
    rows = [row for row in grouped.values() if what != "engineer" or row.jobs >= 20]
    return sorted(rows, key=lambda row: str(row.key))


def _pairs(jobs, what):
    if what in KEYS:
        fields = ["pk", "reported_on", "kind", "appliance__model__name", "appliance__model__maker"]
        return [(job["pk"], KEYS[what](job)) for job in jobs.values(*fields)]
    if what == "supplier":
        return _by_supplier(jobs)
    path = {"component": "visits__fitted__component__name", "engineer": "visits__engineers__engineer__name"}[what]
    return [(pk, key) for pk, key in jobs.order_by().values_list("pk", path).distinct() if key]


def _by_supplier(jobs):
    """Jobs with the supplier of each part fitted: where it came from, else the only one who sells it, else unknown."""
    sellers = defaultdict(set)
    for part, name in Offer.objects.order_by().values_list("part", "supplier__name").distinct():
        sellers[part].add(name)
    rows = Fitted.objects.standing().filter(visit__job__in=jobs.order_by().values("pk")).order_by()
    pairs = set()
    for job, part, named in rows.values_list("visit__job", "part", "came_from__supplier__name"):
        only = next(iter(sellers[part])) if len(sellers[part]) == 1 else "unknown"
        pairs.add((job, named or only))
    return pairs
