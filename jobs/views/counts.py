"""A count of a place, part by part: what is typed is there; what is left empty was not counted."""

from decimal import Decimal

from django import forms

from inventory.services import counting
from inventory.views.once import OnceForm
from jobs.forms import PartField


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
