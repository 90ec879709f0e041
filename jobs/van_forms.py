"""What is typed about what vans hold: passed on, bought, counted, agreed levels."""

from decimal import Decimal

from django import forms
from django.utils import timezone

from firm.models import User
from inventory.models import Place, Supplier
from inventory.services import counting
from inventory.views.once import OnceForm
from jobs.forms import DAY, MONEY, QUANTITY, PartField


class PassForm(OnceForm):
    part = PartField(max_length=80, label="Part number")
    quantity = forms.DecimalField(initial=1, label="How many", **QUANTITY)
    to = forms.ModelChoiceField(Place.objects.none(), label="To", empty_label="Choose")

    def __init__(self, *args, source=None, **kwargs):
        super().__init__(*args, **kwargs)
        held = Place.objects.held().filter(retired_on=None)
        self.fields["to"].queryset = held.exclude(pk=source.pk) if source else held


class BoughtForm(OnceForm):
    supplier = forms.ModelChoiceField(Supplier.objects.all(), label="Where", empty_label="Choose")
    part = PartField(max_length=80, label="Part number")
    quantity = forms.DecimalField(initial=1, label="How many", **QUANTITY)
    price = forms.DecimalField(required=False, label="Price of one, without VAT", **MONEY)
    ticket = forms.CharField(required=False, max_length=80, label="Number of the ticket")
    job = forms.ChoiceField(required=False, label="For which job")

    def __init__(self, *args, jobs=(), **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["job"].choices = [
            ("", "For the van"),
            *((j.number, f"{j.number}, {j.appliance.customer}") for j in jobs),
        ]


class LevelForm(OnceForm):
    """The agreed level of one part, and whether a proposal may change it."""

    part = PartField(max_length=80, label="Part number")
    level = forms.IntegerField(min_value=0, max_value=999, label="Carry")
    fixed = forms.BooleanField(required=False, label="Fixed: no proposal changes it")
    why = forms.CharField(required=False, max_length=240, label="Why")
    until = forms.DateField(
        required=False, label="Until", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def clean(self):
        typed = super().clean()
        if typed.get("fixed") and not typed.get("why"):
            self.add_error("why", "Say why it is fixed, so that the next one knows.")
        if typed.get("fixed") and typed.get("until") and typed["until"] < timezone.localdate():
            self.add_error("until", "This day has passed.")
        return typed


class FixForm(OnceForm):
    """One line of a proposal fixed by whoever sends it: at what, why, and until when somebody looks again."""

    level = forms.IntegerField(min_value=0, max_value=999, label="Carry")
    why = forms.CharField(max_length=240, label="Why")
    until = forms.DateField(label="Until", help_text="The last day. Afterwards proposals may change it again.", **DAY)

    def clean_until(self):
        until = self.cleaned_data["until"]
        if until < timezone.localdate():
            raise forms.ValidationError("This day has passed.")
        if until.year > 2200:
            raise forms.ValidationError("Give a day before 2200.")
        return until


class DriverForm(OnceForm):
    """Who drives a van from when; empty until: until further notice."""

    engineer = forms.ModelChoiceField(
        User.objects.filter(is_engineer=True, is_active=True).order_by("name"), label="Who", empty_label="Choose"
    )
    since = forms.DateField(label="From", **DAY)
    until = forms.DateField(required=False, label="Last day", **DAY)

    def clean(self):
        typed = super().clean()
        if typed.get("since") and typed.get("until") and typed["until"] < typed["since"]:
            self.add_error("until", "The last day is before the first.")
        return typed


class CountForm(OnceForm):
    """One field for each part that the book has in the place, and one for a part that it lacks."""

    def __init__(self, *args, rows, **kwargs):
        super().__init__(*args, **kwargs)
        self.parts = {f"part-{row.part_id}": row.part for row in rows}
        self.book = {}
        for row in rows:
            name = f"part-{row.part_id}"
            self.book[name] = self.book.get(name, Decimal(0)) + row.on_hand
            self.fields[name] = _pieces(row.part.description)
        self.fields["other"] = PartField(required=False, max_length=80, label="Found and not on the list: part number")
        self.fields["other_pieces"] = _pieces("How many of it")

    @property
    def lines(self):
        """(bound field, part, what the book says) for the page."""
        return [(self[name], part, self.book[name]) for name, part in self.parts.items()]

    def clean(self):
        typed = super().clean()
        found = [(part, typed[name]) for name, part in self.parts.items() if typed.get(name) is not None]
        if typed.get("other") is not None:
            if typed.get("other_pieces") is None:
                self.add_error("other_pieces", "How many were there?")
            else:
                found.append((typed["other"], typed["other_pieces"]))
        if not found and not self.errors:
            raise forms.ValidationError("Nothing is counted yet: type what is there beside at least one part.")
        typed["found"] = found
        return typed

    def booker(self, place, by):
        """The work for save_once: book this count of a place."""

        def book(typed, event):
            return {"pk": counting.count(place, typed["found"], event=event, by=by).pk}

        return book


def _pieces(label):
    widget = forms.NumberInput(attrs={"inputmode": "decimal", "step": "any", "min": "0"})
    return forms.DecimalField(required=False, min_value=0, max_digits=9, decimal_places=3, label=label, widget=widget)
