"""What engineers send of their work: fitted, needed, taken out again, what came of a visit; bought for a job."""

import uuid

from django.db.models import Q
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from firm.events import Event, find
from firm.fields import Quantity, Reference, Whole, Word
from inventory.api import events as stock
from inventory.models import ComponentType, Part, Place, Supplier
from inventory.services.places import counter, place_of_supplier
from jobs.api.cautions import WarningsSerializer, cautions_of
from jobs.models import Appliance, Fitted, Job, TakenOut, Visit, Why
from jobs.services import fitting, work

LARGEST_POSITION = 32767
MINUTES_OF_A_WEEK = 7 * 24 * 60


class FittedAnswer(WarningsSerializer):
    id = serializers.UUIDField()
    fitted = serializers.IntegerField()
    visit = serializers.CharField()
    part = serializers.CharField()
    component = serializers.CharField()
    appliance = serializers.CharField()
    kind = serializers.CharField(help_text="The kind of appliance.")
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)
    advised = serializers.BooleanField(help_text="No: the component demands approved new parts, and this is none.")


class NeededAnswer(serializers.Serializer):
    id = serializers.UUIDField()
    needed = serializers.IntegerField()
    visit = serializers.CharField()
    component = serializers.CharField()


class TakenOutAnswer(serializers.Serializer):
    id = serializers.UUIDField()
    taken_out = serializers.IntegerField()
    fitted = serializers.IntegerField()
    condition = serializers.CharField()


class OutcomeAnswer(serializers.Serializer):
    id = serializers.UUIDField()
    visit = serializers.CharField()
    outcome = serializers.CharField()


def find_visit(number):
    visits = Visit.objects.select_related("job__appliance__model", "place")
    return find(visits, "visit", "visit", number=number)


def find_appliance(visit, number):
    """The appliance worked on: the job's own unless another of it is named."""
    if number is None or number == visit.job.appliance.number:
        return visit.job.appliance
    return find(Appliance.objects.select_related("model"), "appliance", "appliance", number=number)


def find_source(key):
    """Where a part came from: a store or van, a supplier, or the customer's own."""
    if key == Place.Kind.CUSTOMERS_OWN:
        return counter(Place.Kind.CUSTOMERS_OWN)
    allowed = [*Place.HELD, Place.Kind.SUPPLIER, Place.Kind.CUSTOMERS_OWN]
    place = Place.objects.filter(key=key, kind__in=allowed).select_related("supplier").first()
    return place or place_of_supplier(find(Supplier.objects, "from", "place or supplier", key=key))


class FittedEvent(Event):
    """A part that was fitted. Always booked; where the book had none, the van is asked for a count."""

    kind = "fitted"
    answers = FittedAnswer
    refusals = (fitting.Impossible,)

    visit = Reference()
    part = Reference()
    component = Reference()
    quantity = Quantity()
    why = Word(choices=Why.choices)
    appliance = Reference(required=False, allow_null=True, help_text="Empty: the job's.")
    position = Whole(least=1, most=LARGEST_POSITION, required=False, allow_null=True)

    def get_fields(self):
        where = "A van, a store, a supplier, or customers-own; empty: the visit's van."
        return super().get_fields() | {"from": Reference(required=False, allow_null=True, help_text=where)}

    def book(self, body, **sent):
        visit = find_visit(body["visit"])
        part = find(Part.objects, "part", "part", number=body["part"])
        component = find(ComponentType.objects, "component", "component", key=body["component"])
        appliance = find_appliance(visit, body.get("appliance"))
        made = fitting.fit(
            visit=visit,
            part=part,
            component=component,
            appliance=appliance,
            quantity=body["quantity"],
            why=body["why"],
            position=body.get("position"),
            source=find_source(body["from"]) if "from" in body else None,
            **sent,
        )
        return {
            "fitted": made.pk,
            "visit": visit.number,
            "part": part.number,
            "component": component.key,
            "appliance": appliance.number,
            "quantity": float(body["quantity"]),
            "kind": appliance.model.kind,
            "advised": part.advisable_where_approved_new or not component.approved_new_only,
        }

    def shown(self, answer):
        components = ComponentType.objects.filter(key=answer["component"])
        return answer | cautions_of(components, answer["kind"])


class NeededEvent(Event):
    """What was missing on a visit."""

    kind = "needed"
    answers = NeededAnswer
    refusals = (fitting.Impossible,)

    visit = Reference()
    component = Reference()
    quantity = Quantity()
    part = Reference(required=False, allow_null=True)

    def book(self, body, **sent):
        part = find(Part.objects, "part", "part", number=body["part"]) if "part" in body else None
        made = fitting.need(
            visit=find_visit(body["visit"]),
            component=find(ComponentType.objects, "component", "component", key=body["component"]),
            part=part,
            quantity=body["quantity"],
            **sent,
        )
        return {"needed": made.pk, "visit": body["visit"], "component": body["component"]}


class BoughtEvent(stock.Bought):
    """Bought at a merchant's counter. Into the van of the job's visit, else of whoever sends it, else the store."""

    def book(self, body, **sent):
        if "job" in body:
            find(Job.objects, "job", "job", number=body["job"])
        return super().book(body, **sent)


class TakenOutEvent(Event):
    """A fitted part that came out again because it was not the fault."""

    kind = "taken-out"
    answers = TakenOutAnswer
    refusals = (fitting.Impossible,)

    fitted = Reference(help_text="The id under which the fitted part was sent, or the number that it was given.")
    condition = Word(choices=TakenOut._meta.get_field("condition").choices)

    def book(self, body, *, event, by, happened_at=None, **_):
        fitted = find_fitted(body["fitted"])
        made = fitting.take_out(event=event, fitted=fitted, condition=body["condition"], by=by, happened_at=happened_at)
        return {"taken_out": made.pk, "fitted": fitted.pk, "condition": made.condition}


def find_fitted(word):
    """A fitted part by the UUID of its event, or by our number."""
    rows = Fitted.objects.standing().select_related("part", "movement", "visit__job", "visit__place", "came_from")
    wanted = Q(pk=int(word)) if word.isascii() and word.isdigit() and len(word) < 19 else _by_event(word)
    found = rows.filter(wanted)[:2]
    if not found:
        raise ValidationError({"fitted": f"Nothing fitted was sent as {word}."})
    if len(found) > 1:
        raise ValidationError({"fitted": "Several parts came under this id: give the number that one was given."})
    return found[0]


def _by_event(word):
    try:
        return Q(movement__event=uuid.UUID(word))
    except ValueError as error:
        raise ValidationError({"fitted": "Give the id under which the fitted part was sent."}) from error


class OutcomeEvent(Event):
    """What came of a visit, and the minutes that the sender spent on it."""

    kind = "outcomes"
    answers = OutcomeAnswer
    refusals = (fitting.Impossible,)

    visit = Reference()
    outcome = Word(choices=Visit.Outcome.choices)
    minutes = Whole(most=MINUTES_OF_A_WEEK, required=False, allow_null=True)

    def book(self, body, **sent):
        visit = work.record_outcome(
            visit=find_visit(body["visit"]), outcome=body["outcome"], minutes=body.get("minutes"), **sent
        )
        return {"visit": visit.number, "outcome": visit.outcome}


EVENTS = {
    event.kind: event
    for event in [
        FittedEvent,
        NeededEvent,
        BoughtEvent,
        TakenOutEvent,
        OutcomeEvent,
        stock.Counted,
        stock.Passed,
    ]
}
SINGULAR = {"outcome": "outcomes", "count": "counts", "pass": "passes"}
