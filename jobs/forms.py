"""What office and engineers type about work. Each form is applied once; the services decide."""

from django import forms
from django.utils import timezone

from firm.models import User, VatRate
from inventory.models import ComponentType, Condition, Part, Place
from inventory.views.asking import whole
from inventory.views.once import OnceForm
from jobs.models import Charge, Job, NoPartCause, Symptom, Visit, Why

QUANTITY = {"max_digits": 9, "decimal_places": 3, "min_value": 0.001}
MONEY = {"max_digits": 10, "decimal_places": 2, "min_value": 0}
DAY = {"widget": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}


class PartField(forms.CharField):
    """A part by its own number or the maker's; what is typed stays typed."""

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        found = list(Part.objects.filter(number__iexact=text)[:1]) or list(
            Part.objects.filter(maker_part__iexact=text)[:2]
        )
        if len(found) != 1:
            raise forms.ValidationError(f"No single part has the number {text}. Look it up under Parts.")
        return found[0]


class SeveralField(forms.ModelMultipleChoiceField):
    """Several rows by their keys; a key that no database can hold is refused like any other wrong one."""

    def clean(self, value):
        for key in value or []:
            if whole(key) is None:
                raise forms.ValidationError(f"{key[:20]} is none of the choices.")
        return super().clean(value)


class NewJobForm(OnceForm):
    kind = forms.ChoiceField(choices=Job.Kind.choices, initial=Job.Kind.BREAKDOWN, label="What is it?")
    reported_on = forms.DateField(label="Reported on", **DAY)
    symptoms = SeveralField(
        Symptom.objects.all(), required=False, widget=forms.CheckboxSelectMultiple, label="What it does"
    )
    words = forms.CharField(
        max_length=400,
        required=False,
        label="In the customer’s words",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    fault_code = forms.CharField(max_length=40, required=False, label="Fault code on the display")
    urgency = forms.ChoiceField(choices=[("", "Not said"), *Job.Urgency.choices], required=False, label="How urgent?")
    return_of = forms.ModelChoiceField(
        Job.objects.none(), required=False, label="A call-back to our job", empty_label="No, a new matter"
    )

    def __init__(self, *args, appliance=None, **kwargs):
        kwargs["initial"] = {"reported_on": timezone.localdate()} | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)
        if appliance is not None:
            self.fields["return_of"].queryset = appliance.jobs.order_by("-reported_on")[:12]

    def clean_reported_on(self):
        day = self.cleaned_data["reported_on"]
        if day > timezone.localdate():
            raise forms.ValidationError("This day has not come yet.")
        return day


class BookVisitForm(OnceForm):
    on = forms.DateField(label="Day", **DAY)
    time = forms.TimeField(label="Time", required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
    engineers = SeveralField(
        User.objects.filter(is_engineer=True, is_active=True).order_by("name"),
        widget=forms.CheckboxSelectMultiple,
        label="Who goes?",
    )
    place = forms.ModelChoiceField(
        Place.objects.vans().filter(retired_on=None), required=False, label="Van", empty_label="The engineer’s own"
    )


class FitForm(OnceForm):
    """A part that was chosen: what it was for, why, how many, and where it came from."""

    part = PartField(max_length=80, widget=forms.HiddenInput)
    component = forms.ModelChoiceField(ComponentType.objects.none(), label="What was it for?", empty_label="Choose")
    position = forms.TypedChoiceField(required=False, coerce=int, empty_value=None, label="Which one?")
    why = forms.ChoiceField(choices=Why.choices, initial=Why.FAILED, label="Why?", widget=forms.RadioSelect)
    quantity = forms.DecimalField(initial=1, label="How many", **QUANTITY)
    source = forms.ChoiceField(required=False, label="Taken from")

    def __init__(self, *args, components=(), positions=1, sources=(), **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["component"].queryset = ComponentType.objects.filter(pk__in=[c.pk for c in components])
        if len(components) == 1:
            self.fields["component"].initial = components[0].pk
            self.fields["component"].widget = forms.HiddenInput()
        if positions > 1:
            self.fields["position"].choices = [("", "Not said"), *((n, f"Number {n}") for n in range(1, positions + 1))]
        else:
            del self.fields["position"]
        self.fields["source"].choices = sources


class NeedForm(OnceForm):
    component = forms.ModelChoiceField(ComponentType.objects.all(), label="What is needed?", empty_label="Choose")
    part = PartField(required=False, max_length=80, label="Part number, if you know it")
    quantity = forms.DecimalField(initial=1, label="How many", **QUANTITY)

    def __init__(self, *args, visit, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["component"].queryset = components_in(visit.job.appliance.model)


def components_in(model):
    """The component types that a model holds; all of them where nobody has said what it holds."""
    held = ComponentType.objects.filter(held_by__model=model)
    return held if held.exists() else ComponentType.objects.all()


class NothingNeededForm(OnceForm):
    no_part_cause = forms.ChoiceField(choices=NoPartCause.choices, label="What was it?", widget=forms.RadioSelect)
    minutes = forms.IntegerField(min_value=0, max_value=1440, required=False, label="Minutes on site")
    ends = forms.BooleanField(required=False, initial=True, label="That was all: the visit is done")


class FoundForm(OnceForm):
    component = forms.ModelChoiceField(ComponentType.objects.all(), label="What had failed?", empty_label="Choose")
    position = forms.IntegerField(required=False, min_value=1, max_value=99, label="Which one, where there are several")
    failure_mode = forms.CharField(required=False, max_length=120, label="How it had failed")

    def __init__(self, *args, visit, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["component"].queryset = components_in(visit.job.appliance.model)


class OutcomeForm(OnceForm):
    outcome = forms.ChoiceField(choices=Visit.Outcome.choices, label="How did it end?", widget=forms.RadioSelect)
    minutes = forms.IntegerField(min_value=0, max_value=1440, required=False, label="Minutes on site")


class TakenOutForm(OnceForm):
    condition = forms.ChoiceField(
        choices=[(Condition.NEW, "Back sealed, as new"), (Condition.OPENED, "Back, opened"), ("scrapped", "Scrapped")],
        label="In which state did it come out?",
        widget=forms.RadioSelect,
    )


def vat_choices():
    """The rates that hold today, by their names, never from the code."""
    newest = {}
    for rate in VatRate.objects.filter(valid_from__lte=timezone.localdate()).order_by("valid_from"):
        newest[rate.name] = rate
    return [("", "Not said"), *((str(r.per_cent), f"{r.name}, {r.per_cent:g}%") for r in newest.values())]


class VatForm(OnceForm):
    vat_rate = forms.TypedChoiceField(choices=vat_choices, required=False, label="VAT", empty_value=None)


class ChargeForm(VatForm):
    kind = forms.ChoiceField(choices=Charge.Kind.choices, label="What for")
    amount_ex_vat = forms.DecimalField(label="Amount without VAT", **MONEY)
    quantity = forms.DecimalField(required=False, label="Quantity (hours, pieces)", **QUANTITY)
    description = forms.CharField(required=False, max_length=240, label="Words on the bill")
    field_order = ["event", "kind", "description", "quantity", "amount_ex_vat", "vat_rate"]


class PartChargeForm(VatForm):
    amount_ex_vat = forms.DecimalField(label="Charge without VAT", **MONEY)
    field_order = ["event", "amount_ex_vat", "vat_rate"]


class BillForm(OnceForm):
    """The number of an invoice made elsewhere, and what came of it."""

    invoice_number = forms.CharField(required=False, max_length=60, label="Invoice number")
    invoiced = forms.DecimalField(required=False, label="Invoiced without VAT", **MONEY)
    paid = forms.DecimalField(required=False, label="Paid without VAT", **MONEY)
    verdict = forms.ChoiceField(
        choices=[("", "Not said"), *Job.Verdict.choices], required=False, label="Call-back because"
    )
    closed_on = forms.DateField(required=False, label="Closed on", **DAY)
