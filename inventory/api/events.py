"""What is sent of stock: bought at the counter, counted, passed to another van."""

from django.utils import timezone
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from firm.events import Event, find
from firm.fields import Money, Quantity, QuantityOrNone, Reference, Whole, Words
from inventory.models import Part, Place, Supplier
from inventory.services import counting, movements
from inventory.services.places import store, van_of


class BoughtAnswer(serializers.Serializer):
    id = serializers.UUIDField()
    movement = serializers.IntegerField()
    into = serializers.CharField(help_text="The van or store that took it.")
    part = serializers.CharField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)


class CountedAnswer(serializers.Serializer):
    id = serializers.UUIDField()
    count = serializers.IntegerField()
    place = serializers.CharField()
    lines = serializers.IntegerField()


class PassedAnswer(serializers.Serializer):
    id = serializers.UUIDField()
    movement = serializers.IntegerField(help_text="The same for both sides' records of one hand-over.")
    to = serializers.CharField()
    part = serializers.CharField()

    def get_fields(self):
        return super().get_fields() | {"from": serializers.CharField()}


def find_held(field, key):
    """A store or van of the firm, by its key."""
    return find(Place.objects.held(), field, "store or van", key=key)


class Bought(Event):
    """Bought at a merchant's counter, into the van of whoever sends it; with `job`, kept for that job."""

    kind = "bought"
    answers = BoughtAnswer

    supplier = Reference()
    part = Reference()
    quantity = Quantity()
    price = Money(required=False, allow_null=True, help_text="Per piece, ex VAT.")
    ticket = Words(longest=80, required=False, allow_null=True, help_text="The merchant's ticket.")
    job = Reference(required=False, allow_null=True)

    def book(self, body, *, by, **sent):
        supplier = find(Supplier.objects, "supplier", "supplier", key=body["supplier"])
        part = find(Part.objects, "part", "part", number=body["part"])
        into = self.van(body, by)
        movement = movements.buy(
            supplier,
            part,
            body["quantity"],
            into=into,
            by=by,
            price=body.get("price"),
            ticket=body.get("ticket", ""),
            job_number=body.get("job", ""),
            **sent,
        )
        return {"movement": movement.pk, "into": into.key, "part": part.number, "quantity": float(body["quantity"])}

    def van(self, body, by):
        """The van that takes it: that of whoever bought it, else the store."""
        van = van_of(by, timezone.localdate()) or store()
        if van is None:
            raise ValidationError("You have no van, and there is no store: the office must give you a van first.")
        return van


class CountedLine(serializers.Serializer):
    part = Reference()
    quantity = QuantityOrNone()


class Counted(Event):
    """What was found in a van or store. `upto`: the last event number of the sender's phone that it includes."""

    kind = "counts"
    answers = CountedAnswer
    refusals = (counting.CountedTwice,)

    place = Reference()
    upto = Whole(required=False, allow_null=True)
    lines = CountedLine(many=True, allow_empty=False, max_length=2000)

    def book(self, body, *, number=None, happened_at=None, **sent):
        place = find_held("place", body["place"])
        lines = self.found(body["lines"])
        made = counting.count(place, lines, upto=body.get("upto"), counted_at=happened_at, **sent)
        return {"count": made.pk, "place": place.key, "lines": len(lines)}

    def found(self, lines):
        """[(part, quantity), …], or an error that names the row."""
        parts = {part.number: part for part in Part.objects.filter(number__in={line["part"] for line in lines})}
        errors = [{} if line["part"] in parts else {"part": f"There is no part {line['part']}."} for line in lines]
        if any(errors):
            raise ValidationError({"lines": errors})
        return [(parts[line["part"]], line["quantity"]) for line in lines]


class Passed(Event):
    """Handed from one van to another. Either side may send it; two records of one become one."""

    kind = "passes"
    answers = PassedAnswer

    to = Reference()
    part = Reference()
    quantity = Quantity()

    def get_fields(self):
        return super().get_fields() | {"from": Reference()}

    def book(self, body, **sent):
        source, destination = find_held("from", body["from"]), find_held("to", body["to"])
        if source == destination:
            raise ValidationError({"to": "A part cannot be passed to where it is."})
        part = find(Part.objects, "part", "part", number=body["part"])
        movement = movements.pass_on(part, body["quantity"], source=source, destination=destination, **sent)
        return {"movement": movement.pk, "from": source.key, "to": destination.key, "part": part.number}
