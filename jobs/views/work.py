"""The office's work: the day, all jobs, a new job."""

from collections import defaultdict
from datetime import timedelta

from django.db.models import Exists, OuterRef, Q, Subquery
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_GET

from firm.models import User
from firm.roles import office_required
from firm.tables import Column, Filter, Table
from inventory.models import ApplianceKind
from inventory.views.once import save_once
from jobs.cautions import warnings_for
from jobs.forms import NewJobForm
from jobs.likely import prospects, spoken
from jobs.models import Appliance, Job, Symptom, Visit
from jobs.part_states import ENDED, NOTHING, part_states
from jobs.services import work

LOOK_BACK = timedelta(days=120)
MOST_TO_BOOK = 40
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


@office_required
@require_GET
def job_list(request):
    """The day: engineers across with their visits, jobs that nobody has booked at the side."""
    day = parse_date(request.GET.get("day", "")) or timezone.localdate()
    visits = list(Visit.objects.filter(on=day).for_lists().prefetch_related("job__symptoms"))
    unbooked = list(to_book(day))
    states = _states(visits, unbooked[:MOST_TO_BOOK])
    shown = {
        "day": day,
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "today": timezone.localdate(),
        "columns": _columns(visits, states),
        "visits": len(visits),
        "unbooked": [(job, spoken(job), states[job.pk], _last_word(job)) for job in unbooked[:MOST_TO_BOOK]],
        "more": max(len(unbooked) - MOST_TO_BOOK, 0),
        "since": day - LOOK_BACK,
    }
    return render(request, "jobs/job_list.html", shown)


def _states(visits, unbooked):
    """job -> (kind, sign, word) of its parts: asked for, else the likeliest one, else None."""
    jobs = {job.pk: job for job in [*(visit.job for visit in visits), *unbooked]}
    hopes = prospects(jobs.values(), {visit.job_id: visit.place for visit in visits})
    return {pk: _state_of(state, hopes.get(pk)) for pk, state in part_states(jobs.values()).items()}


def _state_of(state, hope):
    if state != NOTHING:
        return state
    if hope is None or not hope.parts:
        return None
    return hope.parts[0].state


def to_book(day):
    """Jobs of the last four months that are not ended and have no visit booked from that day on."""
    last = Visit.objects.filter(job=OuterRef("pk")).order_by("-on", "-time", "-pk").values("outcome")[:1]
    booked = Exists(Visit.objects.filter(job=OuterRef("pk"), outcome="", on__gte=day))
    recent = Job.objects.filter(closed_on=None, reported_on__gte=day - LOOK_BACK).exclude(booked)
    waiting = recent.annotate(last=Subquery(last)).filter(NOT_ENDED)
    return waiting.for_lists().select_related("appliance__address").prefetch_related("symptoms").order_by("reported_on")


def _last_word(job):
    """What came of the last visit, in words."""
    return "" if job.last is None else OUTCOMES.get(job.last, "no word yet")


def _columns(visits, states):
    """(engineer or None, [(visit, what was said, state of parts, its own sign)]) for the board."""
    by_engineer = defaultdict(list)
    for visit in visits:
        entry = (visit, spoken(visit.job), states[visit.job_id], outcome_chip(visit))
        for row in visit.engineers.all() or [None]:
            by_engineer[row.engineer if row else None].append(entry)
    known = list(User.objects.filter(is_engineer=True, is_active=True).order_by("name"))
    engineers = [*known, *(user for user in by_engineer if user and user not in known)]
    columns = [(engineer, by_engineer.get(engineer, [])) for engineer in engineers]
    return [*columns, (None, by_engineer[None])] if by_engineer.get(None) else columns


def outcome_chip(visit):
    """(kind, sign, word) of a visit."""
    kind, sign = SIGNS.get(visit.outcome, ("care", "warn"))
    return (kind, sign, visit.get_outcome_display() if visit.outcome else "Booked")


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


FILTERS = [
    Filter("q", "Number, customer, address or words", _searched),
    Filter("kind", "Kind", lambda rows, kind: rows.filter(kind=kind), Job.Kind.choices),
    Filter("state", "State", _in_state, [("open", "not ended"), ("booked", "booked"), *Visit.Outcome.choices]),
    Filter(
        "appliance", "Appliance", lambda rows, kind: rows.filter(appliance__model__kind=kind), ApplianceKind.choices
    ),
    Filter(
        "since",
        "Reported since (2026-11-01)",
        lambda rows, day: rows.filter(reported_on__gte=parse_date(day) or day) if parse_date(day) else rows,
    ),
]


def _state(job):
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
        Column("state", "State", value=lambda j: _state(j)[2], chip=_state, order="last"),
    ]


@office_required
@require_GET
def job_search(request):
    """All jobs, filtered by the address."""
    rows = with_last_visit(Job.objects.for_lists())
    rows = rows.select_related("appliance__address").prefetch_related("symptoms")
    table = Table(
        request,
        rows,
        job_columns(),
        name="jobs",
        caption="All jobs",
        filters=FILTERS,
        sort="-reported_on",
        empty="No job yet. Take one in under New job.",
    )
    return table.response or render(request, "jobs/job_search.html", {"table": table})


@office_required
def job_new(request):
    """A call comes in: first the appliance, then what it does, with what to ask and when to stop."""
    appliance = _appliance_of(request)
    if appliance is None:
        return render(request, "jobs/job_new_who.html", _callers(request))
    typed = request.POST if request.method == "POST" else None
    form = NewJobForm(typed, appliance=appliance, initial={"return_of": request.GET.get("return_of")})
    if typed is not None:
        answer = save_once(
            request, form, "job", lambda c, event: _open(appliance, c, event, request.user), (ValueError,)
        )
        if answer:
            return redirect("job_detail", answer["pk"])
    shown = {
        "form": form,
        "appliance": appliance,
        "symptoms": _symptoms(request, appliance, form),
        "stops": [s for s in Symptom.objects.all() if s.stop and _possible(s, appliance)],
        "warnings": warnings_for([], appliance.model.kind),
        "earlier_jobs": appliance.jobs.prefetch_related("symptoms")[:5],
    }
    return render(request, "jobs/job_new.html", shown)


def _appliance_of(request):
    number = request.POST.get("appliance") or request.GET.get("appliance", "")
    return get_object_or_404(Appliance.objects.for_lists(), pk=number) if number.isdigit() else None


def _callers(request):
    """Appliances found by what the caller says: name, street, phone, number."""
    text = request.GET.get("q", "").strip()
    found = Appliance.objects.in_care(timezone.localdate()).for_lists()
    if request.GET.get("customer", "").isdigit():
        found = found.filter(customer=request.GET["customer"])
    for word in text.split():
        found = found.filter(
            Q(number__istartswith=word)
            | Q(customer__name__icontains=word)
            | Q(customer__phone__icontains=word)
            | Q(address__text__icontains=word)
            | Q(address__phone__icontains=word)
        )
    asked = bool(text or request.GET.get("customer"))
    return {"text": text, "asked": asked, "found": found[:30] if asked else []}


def _possible(symptom, appliance):
    kinds = {kind for cause in symptom.causes.all() for kind in cause.kinds}
    return not kinds or appliance.model.kind in kinds


def _symptoms(request, appliance, form):
    """The symptom list for this kind of appliance: [(symptom, chosen)]."""
    chosen = set(request.POST.getlist("symptoms"))
    rows = Symptom.objects.prefetch_related("causes")
    return [(s, str(s.pk) in chosen) for s in rows if _possible(s, appliance)]


def _open(appliance, typed, event, by):
    job = work.open_job(
        event=event,
        appliance=appliance,
        kind=typed["kind"],
        reported_on=typed["reported_on"],
        words=typed["words"],
        symptoms=list(typed["symptoms"]),
        fault_code=typed["fault_code"],
        urgency=typed["urgency"],
        return_of=typed["return_of"],
        by=by,
    )
    return {"pk": job.pk}
