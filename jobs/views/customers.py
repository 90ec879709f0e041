"""Customers: who they are, where, what stands there, and what was done."""

from django.contrib import messages
from django.db.models import Count, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from firm.roles import office_required
from firm.tables import Column, Filter, Table
from inventory.models import ApplianceModel, ModelComponent
from inventory.views.once import save_once
from jobs.customer_forms import ContactForm, NewApplianceForm, NewCustomerForm
from jobs.models import Address, Appliance, Contact, Customer, Job, usual_components
from jobs.views.job_table import job_columns, with_last_visit


def _searched(rows, text):
    for word in text.split():
        rows = rows.filter(
            Q(name__icontains=word)
            | Q(number__istartswith=word)
            | Q(phone__icontains=word)
            | Q(addresses__text__icontains=word)
        )
    return rows.distinct()


COLUMNS = [
    Column(
        "name",
        "Customer",
        value=str,
        order="name",
        href=lambda c: reverse("customer_detail", args=[c.pk]),
        sub=lambda c: c.number,
    ),
    Column("phone", "Phone"),
    Column("address", "Addresses", value=lambda c: "; ".join(a.text for a in c.addresses.all()), order=""),
    Column("stand", "Appliances", value=lambda c: c.stand, numeric=True, order="stand"),
]


@office_required
@require_GET
def customer_list(request):
    stand = Appliance.objects.filter(customer=OuterRef("pk")).order_by().values("customer").annotate(n=Count("pk"))
    rows = Customer.objects.annotate(stand=Coalesce(Subquery(stand.values("n")), 0)).prefetch_related("addresses")
    table = Table(
        request,
        rows,
        COLUMNS,
        name="customers",
        caption="Customers",
        sort="name",
        filters=[Filter("q", "Name, phone, address or number", _searched)],
        empty="No customer yet: take one in, or load customers.csv with import_firm.",
    )
    return table.response or render(request, "jobs/customer_list.html", {"table": table})


@office_required
@require_GET
def customer_detail(request, pk):
    return _page(request, get_object_or_404(Customer, pk=pk))


def _page(request, customer, status=200, **forms):
    jobs = with_last_visit(Job.objects.for_lists()).filter(appliance__customer=customer)
    columns = [c for c in job_columns() if c.key not in {"customer"}]
    table = Table(
        request,
        jobs.select_related("appliance__address").prefetch_related("symptoms"),
        columns,
        name=f"jobs-{customer.number}",
        caption="Jobs",
        sort="-reported_on",
        per_page=20,
        empty="No job yet.",
    )
    if request.method == "GET" and table.response:
        return table.response
    shown = {
        "customer": customer,
        "addresses": customer.addresses.prefetch_related("appliances__model"),
        "loose": customer.appliances.filter(address=None).select_related("model"),
        "contacts": customer.contacts.select_related("address"),
        "table": table,
        "today": timezone.localdate(),
        "contact_form": ContactForm(),
        "appliance_form": NewApplianceForm(customer=customer),
        **forms,
    }
    return render(request, "jobs/customer_detail.html", shown, status=status)


@office_required
def customer_new(request):
    """A caller whom we do not know yet; then the appliance, then the job."""
    form = NewCustomerForm(request.POST or None, initial={"name": request.GET.get("name", "")})

    def make(typed, _event):
        fields = {name: typed[name] for name in ("name", "phone", "email")}
        customer = Customer.objects.create(number=next_number(Customer, "C"), **fields)
        fields = {name: typed[name] for name in ("post_area", "access_note", "phone")}
        Address.objects.create(customer=customer, text=typed["address"], **fields)
        return {"pk": customer.pk}

    if request.method == "POST" and (answer := save_once(request, form, "customer", make)):
        messages.success(request, "The customer is entered. Which appliance stands there?")
        return redirect(f"{reverse('customer_detail', args=[answer['pk']])}#appliance")
    return render(request, "jobs/customer_new.html", {"form": form}, status=400 if form.errors else 200)


def next_number(model, letter):
    """The next free number of ours: the letter and one more than the highest key."""
    last = model.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    while model.objects.filter(number=f"{letter}{last + 1}").exists():
        last += 1
    return f"{letter}{last + 1}"


@office_required
@require_POST
def appliance_new(request, pk):
    """An appliance of this customer; a model that is not listed gets the usual components of its kind."""
    customer = get_object_or_404(Customer, pk=pk)
    form = NewApplianceForm(request.POST, customer=customer)

    def make(typed, _event):
        day, precision = typed["installed"]
        appliance = Appliance.objects.create(
            number=next_number(Appliance, "A"),
            customer=customer,
            address=typed["address"],
            model=typed["model"] or model_of_kind(typed["kind"]),
            serial=typed["serial"],
            installed_on=day,
            installed_precision=precision,
            on_service=typed["on_service"],
            entered_on=timezone.localdate(),
            in_care_from=timezone.localdate(),
        )
        return {"pk": appliance.pk}

    if answer := save_once(request, form, "appliance", make):
        return redirect("appliance_detail", answer["pk"])
    return _page(request, customer, status=400, appliance_form=form)


def model_of_kind(kind):
    """The model that stands for all unlisted ones of a kind, with the components that such an appliance usually has."""
    label = dict(ApplianceModel._meta.get_field("kind").choices)[kind]
    model, new = ApplianceModel.objects.get_or_create(
        key=f"unlisted-{kind}", defaults={"name": f"{label}, model not listed", "kind": kind, "from_trade_table": True}
    )
    if new:
        usual = usual_components(kind)
        ModelComponent.objects.bulk_create(
            [ModelComponent(model=model, component=c, count=n) for c, n in usual.items()]
        )
    return model


@office_required
@require_POST
def contact_new(request, pk):
    customer = get_object_or_404(Customer, pk=pk)
    form = ContactForm(request.POST)

    def make(typed, _event):
        phones = [typed["phone"]] if typed["phone"] else []
        fields = {name: typed[name] for name in ("name", "role", "email")}
        return {"pk": Contact.objects.create(customer=customer, phones=phones, **fields).pk}

    if save_once(request, form, "contact", make):
        messages.success(request, "The contact is entered.")
        return redirect("customer_detail", pk)
    return _page(request, customer, status=400, contact_form=form)
