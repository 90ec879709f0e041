"""What the office types about orders and deliveries."""

from decimal import Decimal

from django import forms

from inventory.models import Part, ReceiptLine
from inventory.views.once import OnceForm

Outcome = ReceiptLine.Outcome


class DraftForm(OnceForm):
    """The packs of each line of a draft; none takes the line off."""

    def __init__(self, *args, lines, **kwargs):
        super().__init__(*args, **kwargs)
        self.of_line = lines
        for line in lines:
            self.fields[f"packs-{line.pk}"] = forms.IntegerField(
                min_value=0, max_value=9999, initial=line.packs, label=f"Packs of {line.part.description}"
            )
        self.fields["note"] = forms.CharField(required=False, max_length=240, label="A word to the supplier")

    @property
    def lines(self):
        return [(line, self[f"packs-{line.pk}"]) for line in self.of_line]

    @property
    def packs(self):
        return {line.pk: self.cleaned_data[f"packs-{line.pk}"] for line in self.of_line}


class ReceiptForm(OnceForm):
    """What really came of each line: good, short, damaged or another part, and the price on the invoice."""

    delivery_note = forms.CharField(required=False, max_length=80, label="Number of the delivery note")

    def __init__(self, *args, lines, **kwargs):
        super().__init__(*args, **kwargs)
        self.of_line = lines
        for line, left in lines:
            words = line.part.description
            self.fields[f"good-{line.pk}"] = _pieces(
                f"Good pieces of {words}", f"{left.normalize():f}" if left else None
            )
            self.fields[f"short-{line.pk}"] = _pieces(f"Missing pieces of {words}")
            self.fields[f"damaged-{line.pk}"] = _pieces(f"Damaged pieces of {words}")
            self.fields[f"wrong-{line.pk}"] = _pieces(f"Pieces of another part instead of {words}")
            self.fields[f"came-{line.pk}"] = forms.CharField(
                required=False, max_length=80, label="Which part came instead"
            )
            self.fields[f"price-{line.pk}"] = forms.DecimalField(
                required=False,
                min_value=0,
                max_digits=10,
                decimal_places=4,
                label=f"Invoiced for one piece of {words}",
            )

    @property
    def lines(self):
        """(order line, pieces still open, its bound fields) for the page."""
        names = ("good", "short", "damaged", "wrong", "came", "price")
        return [(line, left, {name: self[f"{name}-{line.pk}"] for name in names}) for line, left in self.of_line]

    def clean(self):
        typed = super().clean()
        typed["lines"] = [row for line, _ in self.of_line for row in self._rows(line, typed)]
        if not typed["lines"] and not self.errors:
            raise forms.ValidationError("Nothing came yet: type how many pieces of at least one line.")
        return typed

    def _rows(self, line, typed):
        price = typed.get(f"price-{line.pk}")
        for outcome in (Outcome.GOOD, Outcome.SHORT, Outcome.DAMAGED, Outcome.WRONG):
            pieces = typed.get(f"{outcome}-{line.pk}") or Decimal(0)
            if pieces:
                part = self._came(line, typed) if outcome == Outcome.WRONG else line.part
                yield (line, part, pieces, outcome, price if outcome == Outcome.GOOD else None)

    def _came(self, line, typed):
        """The part that came instead; where nobody knows its number, the line's own."""
        text = typed.get(f"came-{line.pk}", "")
        part = Part.objects.filter(number__iexact=text).first()
        if text and part is None:
            self.add_error(f"came-{line.pk}", f"No part has the number {text}. Leave it empty if it is not ours.")
        return part or line.part


def _pieces(label, initial=None):
    widget = forms.NumberInput(attrs={"inputmode": "decimal", "step": "any", "min": "0"})
    return forms.DecimalField(
        required=False, min_value=0, max_digits=9, decimal_places=3, label=label, initial=initial, widget=widget
    )
