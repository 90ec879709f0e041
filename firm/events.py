"""What a phone or another program sends to be booked: one shape per kind, each applied exactly once."""

from dataclasses import dataclass

from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import serializers, status
from rest_framework.exceptions import ValidationError
from rest_framework.response import Response
from rest_framework.views import APIView

from firm.fields import EventId, Moment
from firm.models import Device, User
from firm.roles import ForStaff
from firm.sending import apply_once


@dataclass(frozen=True)
class Sender:
    """Who sent something, from which phone, and the phone's running number of it."""

    user: User
    device: Device | None = None
    number: int | None = None

    @classmethod
    def of(cls, request, number=None):
        device = request.auth if isinstance(request.auth, Device) else None
        return cls(request.user, device, number)


class Event(serializers.Serializer):
    """The body of one kind of event.

    kind: its name in the address and in sync/. refusals: how its service says no. answers: the shape of what `book`
    returns.
    """

    kind = ""
    refusals: tuple[type[Exception], ...] = ()
    answers: type[serializers.Serializer] | None = None

    id = EventId()
    happened_at = Moment(
        required=False,
        allow_null=True,
        help_text="By the sender's clock, for showing. A clock ahead of ours counts as now.",
    )

    def to_internal_value(self, data):
        if not isinstance(data, dict):
            raise ValidationError({"non_field_errors": ["Send one JSON object."]})
        if unknown := set(data) - set(self.fields):
            raise ValidationError({str(min(unknown)): "There is no field of this name here."})
        return super().to_internal_value(data)

    def book(self, body, **sent) -> dict:
        """Find what the body names, call the service with `sent` (event, by, device, number, happened_at).

        Return the answer, JSON-able.
        """
        raise AssertionError(f"{self.kind} books nothing")

    def shown(self, answer):
        """The stored answer with what need not be stored, such as cautions."""
        return answer


class Problem(serializers.Serializer):
    """RFC 9457. `field` and `row` (from 1) say where; in sync/ `row` is the event's and `line` the row inside it."""

    type = serializers.CharField()
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField()
    field = serializers.CharField(required=False)
    row = serializers.IntegerField(required=False)
    line = serializers.IntegerField(required=False)


def send(event, sender):
    """Apply an Event (with data) exactly once. Return (answer, new); bad input raises ValidationError."""
    event.is_valid(raise_exception=True)
    body = {name: value for name, value in event.validated_data.items() if value is not None and value != ""}
    uuid = body.pop("id")
    happened_at = min(body["happened_at"], timezone.now()) if "happened_at" in body else None
    sent = {"by": sender.user, "device": sender.device, "number": sender.number, "happened_at": happened_at}

    def work():
        return {"id": str(uuid)} | event.book(body, event=uuid, **sent)

    try:
        answer, new = apply_once(uuid, event.kind, body, work, **sent)
    except event.refusals as error:
        raise ValidationError({getattr(error, "field", "") or "non_field_errors": str(error)}) from error
    return event.shown(answer), new


def find(queryset, field, word, **lookup):
    """The one row that the body names in `field`, or a ValidationError there."""
    try:
        return queryset.get(**lookup)
    except queryset.model.DoesNotExist:
        raise ValidationError({field: f"There is no {word} {next(iter(lookup.values()))}."}) from None


class EventView(APIView):
    """Takes one kind of event: 201 the first time, 200 the same again, 409 the same id with another body."""

    permission_classes = [ForStaff]
    serializer_class: type[Event] = Event

    def post(self, request):
        answer, new = send(self.serializer_class(data=request.data), Sender.of(request))
        return Response(answer, status=status.HTTP_201_CREATED if new else status.HTTP_200_OK)


def event_view(event):
    """The view of one kind of event, described by its shape."""
    view = type(f"{event.__name__}View", (EventView,), {"serializer_class": event})
    described = extend_schema(description=event.__doc__, responses={201: event.answers, 200: event.answers})
    return extend_schema_view(post=described)(view).as_view()
