"""A phone that comes back from a cellar sends all that it kept, in order; each event gets its own answer."""

import hashlib
import json
import logging
import uuid
from decimal import Decimal

from django.db import OperationalError
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import APIException, ValidationError
from rest_framework.response import Response
from rest_framework.views import APIView

from firm.events import Problem, Sender, send
from firm.fields import EventId, Whole, Word, Words
from firm.models import Refusal
from firm.problems import as_answer, describe, harmless, passes
from firm.roles import ForStaff
from jobs.api.events import EVENTS, SINGULAR

MOST_EVENTS = 500
KEPT_DEPTH = 8
log = logging.getLogger(__name__)


class SyncEventSerializer(serializers.Serializer):
    """One event: `body` is what the endpoint of its kind takes; its `id` may be left out there."""

    id = EventId()
    number = Whole(required=False, allow_null=True, help_text="The phone's running number.")
    kind = Word(choices=[*EVENTS, *SINGULAR])
    body = serializers.DictField()


@extend_schema_field({"type": "object"})
class AsSent(serializers.Field):
    """Whatever it is, so that a malformed event is refused by itself."""

    def to_internal_value(self, data):
        return data


class SyncSerializer(serializers.Serializer):
    device = Words(longest=80, required=False, allow_null=True, help_text="Its name, for people; the token says who.")
    events = serializers.ListField(child=AsSent(allow_null=True), max_length=MOST_EVENTS)


class SyncRequestSerializer(serializers.Serializer):
    device = serializers.CharField(max_length=80, required=False)
    events = SyncEventSerializer(many=True, max_length=MOST_EVENTS)


class SyncResultSerializer(serializers.Serializer):
    id = serializers.CharField(allow_null=True)
    status = serializers.ChoiceField(choices=["applied", "repeated", "refused"])
    problem = Problem(required=False)


class SyncAnswerSerializer(serializers.Serializer):
    results = SyncResultSerializer(many=True)


class SyncView(APIView):
    """Send up to 500 events in order. One that is refused stops no other, and the office sees it with its reason."""

    permission_classes = [ForStaff]

    @extend_schema(request=SyncRequestSerializer, responses=SyncAnswerSerializer)
    def post(self, request):
        asked = SyncSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        sender = Sender.of(request)
        results = [one(event, row, sender) for row, event in enumerate(asked.validated_data["events"], start=1)]
        settle(results)
        return Response({"results": results})


def one(event, row, sender):
    """The result of one event. Only a database that is busy lets the whole batch wait."""
    try:
        new = _apply(event, sender)
        return {"id": _id(event), "status": "applied" if new else "repeated"}
    except Exception as error:
        problem = _problem(error, row)
    keep(event, problem, sender)
    return {"id": _id(event), "status": "refused", "problem": problem}


def _apply(event, sender):
    shape = SyncEventSerializer(data=event)
    shape.is_valid(raise_exception=True)
    asked = shape.validated_data
    body = {"id": str(asked["id"])} | asked["body"]
    if str(body["id"]).lower() != str(asked["id"]):
        raise ValidationError({"id": "The body has another id than its event."})
    kind = EVENTS[SINGULAR.get(asked["kind"], asked["kind"])]
    _, new = send(kind(data=body), Sender(sender.user, sender.device, asked.get("number")))
    return new


def _problem(error, row):
    if isinstance(error, OperationalError) and passes(error):
        raise error
    error = as_answer(error)
    if isinstance(error, APIException):
        problem = describe(error.detail, error.status_code)
    else:
        log.error("an event of sync/ failed", exc_info=error)
        problem = describe("We made a mistake; the office sees what was sent.", 500)
    line = problem.pop("row", None)
    return problem | {"row": row} | ({"line": line} if line else {})


def _id(event):
    sent = event.get("id") if isinstance(event, dict) else None
    return harmless(sent[:100]) if isinstance(sent, str) else None


def keep(event, problem, sender):
    """Show the office what was refused; the same again is no second row."""
    kind = event.get("kind") if isinstance(event, dict) else ""
    Refusal.objects.update_or_create(
        uuid=_uuid_of(event, sender),
        defaults={
            "kind": harmless(kind)[:24] if isinstance(kind, str) else "",
            "body": storable(event if isinstance(event, dict) else {"sent": event}),
            "problem": problem,
            "device": sender.device,
            "by": sender.user,
            "settled_at": None,
            "settled_by": None,
        },
    )


def _uuid_of(event, sender):
    """The event's own UUID; where it has none, one that follows from its content."""
    try:
        return EventId().run_validation(event.get("id") if isinstance(event, dict) else None)
    except ValidationError:
        content = json.dumps([sender.user.pk, storable(event)], sort_keys=True)
        return uuid.UUID(hashlib.sha256(content.encode()).hexdigest()[:32])


def storable(value, depth=KEPT_DEPTH):
    """JSON that both databases can hold: what they cannot is shown as text."""
    if depth == 0:
        return "…"
    if isinstance(value, dict):
        return {harmless(name)[:80]: storable(inner, depth - 1) for name, inner in value.items()}
    if isinstance(value, list):
        return [storable(inner, depth - 1) for inner in value[:2000]]
    if isinstance(value, str):
        return harmless(value[:2000])
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) >= 2**63:
        return "a very large number"
    if isinstance(value, Decimal):
        return str(value)
    return value


def settle(results):
    """What was refused before and is applied now waits for nobody."""
    applied = [uuid.UUID(result["id"]) for result in results if result["status"] != "refused"]
    if applied:
        Refusal.objects.filter(uuid__in=applied, settled_at=None).update(settled_at=timezone.now())
