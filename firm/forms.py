"""Forms of the desk and phone pages: each carries a UUID of its own, because browsers repeat POSTs by themselves."""

from uuid import uuid4

from django import forms
from django.contrib.auth.password_validation import validate_password

from firm.models import Setting, User


class EventForm(forms.Form):
    """A form with a hidden `event`: give cleaned_data["event"] to the service, and twice is once."""

    event = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args, **kwargs):
        initial = {"event": uuid4()} | (kwargs.pop("initial", None) or {})
        super().__init__(*args, initial=initial, **kwargs)

    @property
    def sent(self):
        """What was typed, as apply_once compares it: JSON-able, without the event."""
        return {name: self.data.get(self.add_prefix(name), "") for name in self.fields if name != "event"}


class SettingForm(forms.ModelForm):
    class Meta:
        model = Setting
        fields = [
            "firm_name",
            "currency",
            "country",
            "time_zone",
            "labour_cost",
            "labour_charge",
            "call_out",
            "travel_cost",
            "second_visit",
            "merchant_run",
            "holding_per_year",
            "restock_days",
            "max_per_part",
            "care_window_months",
            "service_interval_months",
            "target_first_visit_fix_rate",
            "order_cost",
            "target_fill_rate",
            "cost_prices_on_phones",
        ]
        labels = {
            "firm_name": "Name of the firm",
            "labour_cost": "What an hour of labour costs the firm",
            "labour_charge": "What an hour of labour is charged",
            "call_out": "Call-out charge",
            "travel_cost": "What the way to a visit costs the firm",
            "second_visit": "What a second visit costs the firm",
            "merchant_run": "What a run to the merchant costs the firm",
            "holding_per_year": "What holding stock costs in a year, share of its price",
            "restock_days": "Days between two top-ups of a van",
            "max_per_part": "Most pieces of one part that a van should carry",
            "care_window_months": "Months of silence after which an appliance has left our care",
            "service_interval_months": "Months between two services",
            "target_first_visit_fix_rate": "Share of jobs to finish at the first visit",
            "order_cost": "What placing and putting away one order line costs the firm",
            "target_fill_rate": "Share of top-ups that the store should have on its shelf",
            "cost_prices_on_phones": "Engineers see cost prices on their phones",
        }


class PersonForm(forms.ModelForm):
    """A person with roles. The password is set apart, so that none is ever shown."""

    password = forms.CharField(
        label="Password",
        required=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="Twelve characters or more. Leave empty to keep the old one.",
    )

    class Meta:
        model = User
        fields = ["name", "username", "email", "is_engineer", "is_office", "is_owner", "is_active"]
        labels = {
            "username": "Sign-in name",
            "is_engineer": "Engineer: goes to visits, has a van",
            "is_office": "Office: work, parts, prices, orders, vans",
            "is_owner": "Owner: everything",
            "is_active": "May sign in",
        }

    def clean_password(self):
        password = self.cleaned_data["password"]
        if password:
            validate_password(password, self.instance)
        elif not self.instance.pk:
            raise forms.ValidationError("A new person needs a password.")
        return password

    def save(self, commit=True):
        person = super().save(commit=False)
        if self.cleaned_data["password"]:
            person.set_password(self.cleaned_data["password"])
        if commit:
            person.save()
        return person
