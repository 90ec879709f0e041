"""The office's work: the day, all jobs, a new job."""

from collections import defaultdict
from datetime import timedelta

from django.db.models import Exists, OuterRef, Q, Subquery
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from firm.models import Refusal, User
from firm.roles import office_required
from firm.tables import Table
from inventory.views.asking import whole, words
from inventory.views.once import save_once
from jobs.cautions import warnings_for
from jobs.forms import NewJobForm
from jobs.likely import prospects, spoken
from jobs.models import Appliance, Job, Symptom, Visit
from jobs.part_states import NOTHING, part_states
from jobs.services import work
from jobs.views.job_table import (
    JOB_FILTERS,
    NOT_ENDED,
    OUTCOMES,
    day_of,
    job_columns,
    outcome_chip,
    with_last_visit,
)

LOOK_BACK = timedelta(days=120)
MOST_TO_BOOK = 40
MOST_SILENT = 20


@office_required
@require_GET
def job_list(request):
    """The day: engineers across with their visits, jobs that nobody has booked at the side."""
    day = day_of(request.GET.get("day", "")) or timezone.localdate()
    visits = list(Visit.objects.filter(on=day).for_lists().prefetch_related("job__symptoms"))
    unbooked = to_book(day)
    silent = no_word(day)
    states = _states(visits, unbooked[:MOST_TO_BOOK])
    shown = {
        "day": day,
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "today": timezone.localdate(),
        "columns": _columns(visits, states),
        "visits": len(visits),
        "unbooked": [(job, spoken(job), states[job.pk], OUTCOMES.get(job.last, "")) for job in unbooked[:MOST_TO_BOOK]],
        "more": max(len(unbooked) - MOST_TO_BOOK, 0),
        "since": day - LOOK_BACK,
        "silent": silent.for_lists()[:MOST_SILENT],
        "all_silent": silent.count(),
        "refused": Refusal.objects.filter(settled_at=None).count(),
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
    """Jobs of the last four months that are not ended and have no visit booked; urgent ones and breakdowns first."""
    last = Visit.objects.filter(job=OuterRef("pk")).order_by("-on", "-time", "-pk").values("outcome")[:1]
    booked = Exists(Visit.objects.filter(job=OuterRef("pk"), outcome=""))
    recent = Job.objects.filter(closed_on=None, reported_on__gte=day - LOOK_BACK).exclude(booked)
    waiting = recent.annotate(last=Subquery(last)).filter(NOT_ENDED)
    rows = waiting.for_lists().select_related("appliance__address").prefetch_related("symptoms")
    return sorted(
        rows, key=lambda job: (job.urgency != "today", job.kind != job.Kind.BREAKDOWN, job.reported_on, job.pk)
    )


def no_word(day):
    """Visits of the last four months before this day that nobody has said the end of."""
    return Visit.objects.filter(outcome="", on__lt=day, on__gte=day - LOOK_BACK)


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
        filters=JOB_FILTERS,
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
    form = NewJobForm(typed, appliance=appliance, initial={"return_of": whole(request.GET.get("return_of"))})
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
    number = whole(request.POST.get("appliance") or request.GET.get("appliance"))
    return get_object_or_404(Appliance.objects.for_lists(), pk=number) if number is not None else None


def _callers(request):
    """Appliances found by what the caller says: name, street, phone, number."""
    text, customer = words(request, "q"), whole(request.GET.get("customer"))
    found = Appliance.objects.in_care(timezone.localdate()).for_lists()
    if customer is not None:
        found = found.filter(customer=customer)
    for word in text.split():
        found = found.filter(
            Q(number__istartswith=word)
            | Q(customer__name__icontains=word)
            | Q(customer__phone__icontains=word)
            | Q(address__text__icontains=word)
            | Q(address__phone__icontains=word)
        )
    asked = bool(text or customer)
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
