"""What the office types about customers, their appliances, and what is known from before care."""

from calendar import monthrange
from datetime import datetime

from django import forms

from inventory.models import ApplianceKind, ApplianceModel, ComponentType
from inventory.views.once import OnceForm
from jobs.models import Address, Contact, Precision


class EarlierForm(OnceForm):
    """What is known of one component position from before care."""

    component = forms.ModelChoiceField(ComponentType.objects.all(), label="Component", empty_label="Choose")
    position = forms.IntegerField(min_value=1, max_value=99, initial=1, label="Which one")
    known = forms.ChoiceField(
        choices=[("original", "It is the original"), ("renewed", "It was renewed")], label="What is known"
    )
    renewed_on = forms.CharField(
        required=False, max_length=10, label="Renewed on", help_text="2016, 2016-05 or 2016-05-12."
    )

    def __init__(self, *args, appliance, **kwargs):
        super().__init__(*args, **kwargs)
        self.appliance = appliance
        self.fields["component"].queryset = appliance.model.components.all()

    def clean(self):
        typed = super().clean()
        typed["day"], typed["precision"] = None, Precision.UNKNOWN
        if typed.get("known") == "renewed":
            try:
                typed["day"], typed["precision"] = imprecise(typed.get("renewed_on", ""))
                self._must_be_before_care(typed["day"], typed["precision"])
            except ValueError:
                self.add_error("renewed_on", "Give a year, a year and month, or a day: 2016, 2016-05 or 2016-05-12.")
        return typed

    def _must_be_before_care(self, day, precision):
        """Some day of that year or month must lie between the installation and the start of our care."""
        installed, care = self.appliance.installed_on, self.appliance.in_care_from
        if care and day > care:
            self.add_error("renewed_on", f"It is in our care since {care}; what came later is recorded on its visit.")
        if installed and period_end(day, precision) < installed:
            self.add_error("renewed_on", f"The appliance was installed later than that, in {installed:%Y}.")


def period_end(day, precision):
    """The last day of an imprecise date."""
    if precision == Precision.YEAR:
        return day.replace(month=12, day=31)
    return day.replace(day=monthrange(day.year, day.month)[1]) if precision == Precision.MONTH else day


def imprecise(text):
    """A day with its precision from 2016, 2016-05 or 2016-05-12; ValueError for anything else."""
    text = text.strip()
    for length, precision, rest in (
        (4, Precision.YEAR, "-01-01"),
        (7, Precision.MONTH, "-01"),
        (10, Precision.DAY, ""),
    ):
        if len(text) == length:
            return datetime.strptime(text + rest, "%Y-%m-%d").date(), precision
    raise ValueError(text)


class NewCustomerForm(OnceForm):
    """A caller whom we do not know yet: who, where, and what stands there."""

    name = forms.CharField(max_length=200, label="Name")
    phone = forms.CharField(max_length=60, required=False, label="Phone")
    email = forms.EmailField(required=False, label="E-mail")
    address = forms.CharField(max_length=300, label="Address of the appliance")
    post_area = forms.CharField(max_length=20, required=False, label="Post area")
    access_note = forms.CharField(max_length=300, required=False, label="How to get in")


class NewApplianceForm(OnceForm):
    address = forms.ModelChoiceField(Address.objects.none(), label="Where it stands", empty_label="Choose")
    model = forms.ModelChoiceField(
        ApplianceModel.objects.all(), required=False, label="Model", empty_label="Not listed"
    )
    kind = forms.ChoiceField(choices=ApplianceKind.choices, label="Kind, where the model is not listed")
    serial = forms.CharField(max_length=80, required=False, label="Serial number")
    installed = forms.CharField(
        max_length=10, required=False, label="Installed", help_text="2016, 2016-05 or 2016-05-12; empty: not known."
    )
    on_service = forms.BooleanField(required=False, label="On a yearly service")

    def __init__(self, *args, customer=None, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["address"].queryset = customer.addresses.all()
        if len(only := list(customer.addresses.all()[:2])) == 1:
            self.fields["address"].initial = only[0]

    def clean_installed(self):
        text = self.cleaned_data["installed"]
        try:
            return imprecise(text) if text else (None, Precision.UNKNOWN)
        except ValueError:
            raise forms.ValidationError(
                "Give a year, a year and month, or a day: 2016, 2016-05 or 2016-05-12."
            ) from None


class ContactForm(OnceForm):
    name = forms.CharField(max_length=200, label="Name")
    role = forms.ChoiceField(choices=Contact.Role.choices, label="Who this is")
    phone = forms.CharField(max_length=60, required=False, label="Phone")
    email = forms.EmailField(required=False, label="E-mail")
