"""What the pages on money show: margins of a period, jobs below cost, call-backs at our own cost, parts not charged."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Min

from jobs.figures import kept
from jobs.models import Fitted, Job, Why
from jobs.services import money

OURS = (Job.Verdict.SAME_PART, Job.Verdict.WORKMANSHIP)
BY = {
    "component": "Component type",
    "kind": "Kind of job",
    "model": "Appliance model",
    "maker": "Maker",
    "supplier": "Supplier",
    "engineer": "Engineer",
    "month": "Month",
}


@dataclass(frozen=True)
class Period:
    """A stretch of days by which jobs were reported, with its word in the address and on screen."""

    word: str
    label: str
    since: date
    until: date


def periods(today):
    """Three months, twelve months, each year with jobs, everything."""
    first = Job.objects.aggregate(first=Min("reported_on"))["first"] or today
    years = [Period(str(y), str(y), date(y, 1, 1), date(y, 12, 31)) for y in range(today.year, first.year - 1, -1)]
    return [
        Period("12-months", "Last twelve months", _months_back(today, 12), today),
        Period("3-months", "Last three months", _months_back(today, 3), today),
        *years,
        Period("all", "Everything", first, today),
    ]


def _months_back(day, months):
    """The first day of the month that lies so many months back, this one counted."""
    at = day.year * 12 + day.month - months
    return date(at // 12, at % 12 + 1, 1)


def margins(by, period):
    """Rows of jobs.services.money.Money by one of BY, kept until something is recorded."""
    return kept("margins", lambda: money.margins_by(by, period.since, period.until), by, period.since, period.until)


def job_margins(period):
    """[(job fields, Money)] of the jobs reported in a period that had a visit, newest first."""
    return kept("job-margins", lambda: _job_margins(period), period.since, period.until)


def _job_margins(period):
    jobs = Job.objects.filter(reported_on__range=(period.since, period.until))
    earned = money.money_of(jobs)
    fields = ["pk", "number", "kind", "reported_on", "verdict", "return_of", "appliance__model__name"]
    return [
        (job, earned[job["pk"]])
        for job in jobs.order_by("-reported_on", "-pk").values(*fields)
        if earned[job["pk"]].visits
    ]


def below_cost(period):
    """Jobs that cost more than they were charged, call-backs at our own cost left aside."""
    return kept("below-cost", lambda: _below_cost(period), period.since, period.until)


def _below_cost(period):
    return [(job, earned) for job, earned in job_margins(period) if earned.margin < 0 and not job["return_of"]]


def call_backs(period):
    """{verdict: (how many, what they cost beyond their charges)} of the returns to our own jobs."""
    return kept("call-backs", lambda: _call_backs(period), period.since, period.until)


def _call_backs(period):
    found = {}
    for job, earned in job_margins(period):
        if job["return_of"]:
            many, cost = found.get(job["verdict"], (0, Decimal(0)))
            found[job["verdict"]] = many + 1, cost + max(-earned.margin, Decimal(0))
    return found


def not_charged():
    """Parts fitted and not charged, without maker's recalls and call-backs that are at our own cost."""
    rows = Fitted.objects.uncharged().exclude(why=Why.RECALL)
    return rows.exclude(visit__job__verdict__in=OURS, visit__job__return_of__isnull=False)


def cost_of_not_charged():
    """(lines, their cost, lines of unknown cost)."""
    costs = list(not_charged().values_list("cost", flat=True))
    return len(costs), sum((c for c in costs if c is not None), Decimal(0)), sum(c is None for c in costs)


def recent_weeks(today, weeks):
    return Period(f"{weeks}-weeks", f"Last {weeks} weeks", today - timedelta(weeks=weeks), today)
