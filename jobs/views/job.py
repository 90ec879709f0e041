"""One job: what was said, done, found, fitted, needed, charged, and what it leaves."""

from decimal import Decimal

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from firm.models import Setting
from firm.roles import office_required
from firm.words import count
from firm.words import money as money_words
from inventory.services import holding
from inventory.services.ledger import NotThere
from inventory.views.once import OnceForm, save_once
from jobs import likely
from jobs.cautions import warnings_for
from jobs.forms import BillForm, BookVisitForm, ChargeForm, PartChargeForm
from jobs.models import Fitted, Job
from jobs.part_states import part_states
from jobs.services import fitting, money, work
from jobs.services.fitting import Impossible
from jobs.views.job_table import outcome_chip
from jobs.views.keeping import KeepForm, kept_for


def jobs_in_full():
    return Job.objects.for_lists().select_related("appliance__address", "return_of", "called_by")


@office_required
@require_GET
def job_detail(request, pk):
    job = get_object_or_404(jobs_in_full().prefetch_related("symptoms", "also__model"), pk=pk)
    return render(request, "jobs/job_detail.html", in_full(job))


def in_full(job, **forms):
    """All that the page of a job shows."""
    visits = list(job.visits.for_lists().prefetch_related("findings__component", "needed__component", "needed__part"))
    fitted = list(fitted_on(job))
    coming = next((visit.place for visit in visits if not visit.outcome and visit.place), None)
    hope = likely.prospects([job], {job.pk: coming}).get(job.pk)
    earned = money.job_money(job)
    return {
        "job": job,
        "said": likely.spoken(job),
        "visits": [(visit, outcome_chip(visit)) for visit in visits],
        "fitted": fitted,
        "charges": list(job.charges.all()),
        "money": earned,
        "sums": _sums(earned),
        "state": part_states([job])[job.pk],
        "hope": hope,
        "warnings": warnings_for(_components(visits, fitted, hope), job.appliance.model.kind),
        "returns": job.returns.all(),
        "kept": kept_for(job, visits),
        "keep_form": KeepForm(),
        "press": OnceForm(),
        "book_form": BookVisitForm(initial={"on": timezone.localdate(), "time": "09:00"}),
        "charge_form": ChargeForm(),
        "bill_form": BillForm(initial=_bill(job)),
        **forms,
    }


def fitted_on(job):
    rows = Fitted.objects.standing().filter(visit__job=job)
    return rows.select_related("part", "component", "visit", "came_from", "visit__place", "taken_out", "movement")


def _components(visits, fitted, hope):
    """The component types that this job has touched, and those that it probably will."""
    touched = {row.component for row in fitted}
    for visit in visits:
        touched |= {row.component for row in [*visit.findings.all(), *visit.needed.all()] if row.component}
    if hope:
        touched |= {part.component for part in hope.parts}
    return sorted(touched, key=lambda component: component.name)


def _sums(earned):
    """The job's account, line by line: (what, amount, remark)."""
    setting = Setting.current()
    unknown = earned.parts_of_unknown_cost
    return [
        ("Charges for work", earned.charges, ""),
        ("Charges for parts", earned.parts_charged, _uncharged(earned)),
        ("Parts at cost", -earned.parts_cost, f"{unknown} of unknown cost left out" if unknown else ""),
        (
            "Labour",
            -earned.labour_cost,
            f"{earned.minutes} minutes at {money_words(setting.labour_cost, setting.currency)} an hour"
            + (f"; minutes of {earned.minutes_unknown} not known" if earned.minutes_unknown else ""),
        ),
        (
            "Travel",
            -earned.travel_cost,
            f"{count(earned.visits, 'visit')} at {money_words(setting.travel_cost, setting.currency)}"
            if earned.visits
            else "",
        ),
    ]


def _uncharged(earned):
    if not earned.fitted_not_charged:
        return ""
    return f"{earned.fitted_not_charged} fitted and not charged"


def _bill(job):
    return {name: getattr(job, name) for name in ("invoice_number", "invoiced", "paid", "verdict", "closed_on")}


@office_required
@require_POST
def visit_book(request, pk):
    """Book a visit; what was typed stays when it is refused."""
    job = get_object_or_404(jobs_in_full(), pk=pk)
    form = BookVisitForm(request.POST)

    def book(typed, _event):
        visit = work.book_visit(
            job,
            on=typed["on"],
            time=typed["time"],
            engineers=list(typed["engineers"]),
            place=typed["place"],
            by=request.user,
        )
        return {"pk": visit.pk, "on": visit.on.isoformat()}

    if answer := save_once(request, form, "visit", book, (Impossible,)):
        messages.success(request, f"Booked for {answer['on']}.")
        return redirect("job_detail", pk)
    return render(request, "jobs/job_detail.html", in_full(job, book_form=form), status=400)


@office_required
@require_POST
def charge_new(request, pk):
    job = get_object_or_404(jobs_in_full(), pk=pk)
    form = ChargeForm(request.POST)

    def charge(typed, event):
        rate = typed["vat_rate"]
        fields = {name: typed[name] for name in ("kind", "amount_ex_vat", "quantity", "description")}
        made = work.add_charge(job, event=event, vat_rate=as_rate(rate), by=request.user, **fields)
        return {"pk": made.pk}

    if save_once(request, form, "charge", charge, (Impossible,)):
        messages.success(request, "Charged.")
        return redirect("job_detail", pk)
    return render(request, "jobs/job_detail.html", in_full(job, charge_form=form), status=400)


@office_required
@require_POST
def keep_new(request, pk):
    """Keep what is free in a place for this job."""
    job = get_object_or_404(jobs_in_full(), pk=pk)
    form = KeepForm(request.POST)

    def keep(typed, _event):
        return {"pk": holding.hold(typed["place"], typed["part"], typed["quantity"], job.number, by=request.user).pk}

    if save_once(request, form, "keep", keep, (NotThere,)):
        messages.success(request, "Kept for this job.")
        return redirect("job_detail", pk)
    return render(request, "jobs/job_detail.html", in_full(job, keep_form=form), status=400)


def as_rate(text):
    """The rate chosen in a form, or None where nobody said."""
    return None if text in (None, "") else Decimal(text)


@office_required
@require_POST
def job_bill(request, pk):
    """Keep the number of an invoice made elsewhere, the verdict of a call-back, and the end of the job."""
    job = get_object_or_404(jobs_in_full(), pk=pk)
    form = BillForm(request.POST)

    def keep(typed, _event):
        fields = ["invoice_number", "invoiced", "paid", "verdict", "closed_on"]
        for name in fields:
            setattr(job, name, typed[name])
        job.save(update_fields=fields)
        return {"pk": job.pk}

    if save_once(request, form, "bill", keep):
        messages.success(request, "Kept.")
        return redirect("job_detail", pk)
    return render(request, "jobs/job_detail.html", in_full(job, bill_form=form), status=400)


@office_required
def fitted_charge(request, pk):
    """Charge one fitted part."""
    fitted = get_object_or_404(Fitted.objects.select_related("visit__job", "part", "component"), pk=pk)
    initial = {"amount_ex_vat": fitted.charge_ex_vat, "vat_rate": fitted.vat_rate}
    form = PartChargeForm(request.POST or None, initial=initial)

    def charge(typed, _event):
        rate = as_rate(typed["vat_rate"])
        return {"pk": fitting.charge_fitted(fitted, typed["amount_ex_vat"], by=request.user, vat_rate=rate).pk}

    if request.method == "POST" and save_once(request, form, "part-charge", charge, (Impossible,)):
        messages.success(request, f"{fitted.part.description} is charged.")
        return redirect("job_detail", fitted.visit.job_id)
    shown = {"form": form, "fitted": fitted, "job": fitted.visit.job}
    return render(request, "jobs/fitted_charge.html", shown, status=400 if form.errors else 200)


@office_required
@require_GET
def job_sheet(request, pk):
    """The printed sheet that goes along: who, where, what, with the cautions in full."""
    job = get_object_or_404(jobs_in_full().prefetch_related("symptoms"), pk=pk)
    return render(request, "jobs/job_sheet.html", in_full(job))
