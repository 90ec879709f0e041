"""Jobs and visits: opened, booked, reported."""

from decimal import ROUND_HALF_UP, Decimal

from django.db import transaction
from django.db.models import Max

from inventory.services.places import van_of
from jobs.models import Charge, Finding, Job, NoPartCause, Visit, VisitEngineer
from jobs.services.fitting import Impossible

MONEY = Decimal("0.01")


@transaction.atomic
def open_job(
    *,
    event,
    appliance,
    kind,
    reported_on,
    words="",
    symptoms=(),
    fault_code="",
    urgency="",
    return_of=None,
    payer="",
    by=None,
):
    """Open a job for an appliance, with the customer's words. Return the Job."""
    job = Job.objects.create(
        number=_next(Job, "J"),
        event=event,
        appliance=appliance,
        address=appliance.address,
        kind=kind,
        reported_on=reported_on,
        words=words,
        fault_code=fault_code,
        urgency=urgency,
        return_of=return_of,
        payer=payer,
    )
    job.symptoms.set(symptoms)
    return job


def _next(model, letter):
    """The next free number of ours: the letter and one more than the highest key."""
    highest = (model.objects.aggregate(top=Max("pk"))["top"] or 0) + 1
    while model.objects.filter(number=f"{letter}{highest}").exists():
        highest += 1
    return f"{letter}{highest}"


@transaction.atomic
def book_visit(job, *, on, time=None, engineers=(), place=None, by=None):
    """Book a slot; the van is that of the first engineer unless another is named. Return the Visit."""
    if on < job.reported_on:
        raise Impossible("on", f"The visit cannot be before the job was reported ({job.reported_on}).")
    place = place or next((van for van in (van_of(engineer, on) for engineer in engineers) if van), None)
    visit = Visit.objects.create(number=_next(Visit, "V"), job=job, on=on, time=time, place=place)
    VisitEngineer.objects.bulk_create([VisitEngineer(visit=visit, engineer=engineer) for engineer in engineers])
    return visit


@transaction.atomic
def record_outcome(*, event, visit, outcome, minutes=None, by=None, **_):
    """Say what came of a visit, and how many minutes this engineer spent on it."""
    if outcome not in Visit.Outcome.values:
        raise Impossible("outcome", f"The outcome must be one of: {', '.join(Visit.Outcome.values)}.")
    visit.outcome = outcome
    visit.save(update_fields=["outcome"])
    if minutes is not None:
        engineers = list(visit.engineers.all())
        mine = next((row for row in engineers if by and row.engineer_id == by.pk), None)
        mine = mine or (engineers[0] if engineers else None)
        if mine is None and by is not None:
            mine = VisitEngineer(visit=visit, engineer=by)
        if mine is not None:
            mine.minutes = minutes
            mine.save()
    return visit


@transaction.atomic
def add_finding(visit, *, component=None, position=None, no_part_cause="", failure_mode="", appliance=None, by=None):
    """Record what was found: a component that failed, or a cause that needed no part."""
    if component is None and no_part_cause not in NoPartCause.values:
        raise Impossible("no_part_cause", "Say which component failed, or which cause needed no part.")
    return Finding.objects.create(
        visit=visit,
        appliance=appliance or visit.job.appliance,
        component=component,
        position=position,
        no_part_cause=no_part_cause,
        failure_mode=failure_mode,
    )


@transaction.atomic
def add_charge(job, *, event, kind, amount_ex_vat, quantity=None, vat_rate=None, description="", by=None):
    """Charge a job; VAT is reckoned per line, half up to the minor unit, and stored."""
    amount = amount_ex_vat.quantize(MONEY, ROUND_HALF_UP)
    return Charge.objects.create(
        job=job,
        event=event,
        kind=kind,
        quantity=quantity,
        amount_ex_vat=amount,
        vat_rate=vat_rate,
        vat=vat_on(amount, vat_rate),
        description=description,
    )


def vat_on(amount, vat_rate):
    """VAT of one line, half up to the minor unit; None where the rate is not known."""
    return None if vat_rate is None else (amount * vat_rate / 100).quantize(MONEY, ROUND_HALF_UP)
