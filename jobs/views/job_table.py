"""The table of jobs: its columns, its filters, and the state of a job and a visit in a word."""

from django.db.models import Exists, OuterRef, Q, Subquery
from django.urls import reverse
from django.utils.dateparse import parse_date

from firm.tables import Column, Filter
from inventory.models import ApplianceKind
from jobs.likely import spoken
from jobs.models import Job, Visit
from jobs.part_states import ENDED

NOT_ENDED = Q(last=None) | ~Q(last__in=ENDED)  # an annotation that is NULL is in no list, and not outside it either
OUTCOMES = dict(Visit.Outcome.choices)
SIGNS = {
    "": ("note", "wait"),
    "fixed": ("good", "tick"),
    "no-part-needed": ("good", "tick"),
    "part-needed": ("care", "box"),
    "no-access": ("bad", "cross"),
    "declined": ("", "cross"),
}


def with_last_visit(jobs):
    """Annotate `last_on` and `last`: day and outcome of the newest visit."""
    last = Visit.objects.filter(job=OuterRef("pk")).order_by("-on", "-time", "-pk")
    return jobs.annotate(last_on=Subquery(last.values("on")[:1]), last=Subquery(last.values("outcome")[:1]))


def _searched(rows, text):
    for word in text.split():
        rows = rows.filter(
            Q(number__istartswith=word)
            | Q(appliance__number__istartswith=word)
            | Q(appliance__customer__name__icontains=word)
            | Q(appliance__address__text__icontains=word)
            | Q(words__icontains=word)
        )
    return rows


def _in_state(rows, state):
    if state == "booked":
        return rows.filter(Exists(Visit.objects.filter(job=OuterRef("pk"), outcome="")))
    if state == "open":
        return rows.filter(NOT_ENDED, closed_on=None)
    return rows.filter(last=state)


JOB_FILTERS = [
    Filter("q", "Number, customer, address or words", _searched),
    Filter("kind", "Kind", lambda rows, kind: rows.filter(kind=kind), Job.Kind.choices),
    Filter("state", "State", _in_state, [("open", "not ended"), ("booked", "booked"), *Visit.Outcome.choices]),
    Filter(
        "appliance", "Appliance", lambda rows, kind: rows.filter(appliance__model__kind=kind), ApplianceKind.choices
    ),
    Filter(
        "since",
        "Reported since (2026-11-01)",
        lambda rows, text: rows.filter(reported_on__gte=day) if (day := day_of(text)) else rows,
    ),
]


def day_of(text):
    """The day that an address names, or None where it names none."""
    try:
        return parse_date(text)
    except ValueError:
        return None


def state_of(job):
    """(kind, sign, word) of a job with its last visit."""
    if job.last is None:
        return ("care", "warn", "To book")
    kind, sign = SIGNS.get(job.last, ("care", "warn"))
    return (kind, sign, OUTCOMES.get(job.last, "Booked"))


def day_words(day):
    """3 Nov 2026, never broken over two lines."""
    return f"{day:%-d %b %Y}".replace(" ", "\N{NO-BREAK SPACE}")


def job_columns():
    return [
        Column("number", "Job", href=lambda j: reverse("job_detail", args=[j.pk]), sub=lambda j: j.get_kind_display()),
        Column("reported_on", "Reported", show=day_words),
        Column(
            "customer", "Customer", value=lambda j: str(j.appliance.customer or ""), order="appliance__customer__name"
        ),
        Column(
            "address", "Address", value=lambda j: str(j.address or j.appliance.address or ""), order="address__text"
        ),
        Column("appliance", "Appliance", value=lambda j: str(j.appliance.model), order="appliance__model__name"),
        Column("words", "What was said", value=spoken, order=""),
        Column("last_on", "Last visit", show=lambda day: day_words(day) if day else "none"),
        Column("state", "State", value=lambda j: state_of(j)[2], chip=state_of, order="last"),
    ]


def outcome_chip(visit):
    """(kind, sign, word) of a visit."""
    kind, sign = SIGNS.get(visit.outcome, ("care", "warn"))
    return (kind, sign, visit.get_outcome_display() if visit.outcome else "Booked")
