"""How long components last: the same report as the command `life` on the firm's records."""

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from firm.fields import Word
from firm.roles import ForStaff
from jobs import history, lives
from jobs.reliability.grouping import BY

FIGURES = ["mtbf", "shrunk", "shape", "scale", "mean", "b10"]


WORDS = {
    "perhaps": "It may have been changed",
    "first": "It was the original",
    "unknown": "Nobody knows",
    "model": "Weighed by the chance of being still in care",
    "window": "Left after the care window",
}


class LivesAskedSerializer(serializers.Serializer):
    by = serializers.ChoiceField(choices=BY, default="component")
    level = serializers.FloatField(min_value=0.5, max_value=0.999, default=0.90, help_text="Of the limits.")
    as_of = serializers.DateField(required=False, help_text="Day of analysis; empty: today.")
    before_care = Word(
        choices=[(word, WORDS[word]) for word in history.BEFORE_CARE],
        default=lives.BEFORE_CARE,
        help_text="What is assumed of components that were there before care began.",
    )
    silence = Word(
        choices=[(word, WORDS[word]) for word in history.SILENCE],
        default=lives.SILENCE,
        help_text="How customers without a yearly service count who do not call.",
    )
    curve = serializers.BooleanField(default=False, help_text="With the survival curve of each group.")

    def validate_as_of(self, day):
        if not 1990 <= day.year <= timezone.localdate().year + 1:
            raise serializers.ValidationError("Give a day from 1990 to next year.")
        return day


class CurvePointSerializer(serializers.Serializer):
    age = serializers.FloatField(help_text="Years.")
    at_risk = serializers.FloatField()
    events = serializers.FloatField()
    survival = serializers.FloatField()
    survival_low = serializers.FloatField(allow_null=True)
    survival_high = serializers.FloatField(allow_null=True)


class GroupSerializer(serializers.Serializer):
    """One group. shrunk is the best estimate; null is what cannot be known, and status says why."""

    group = serializers.CharField()
    status = serializers.CharField()
    failures = serializers.FloatField()
    exposure = serializers.FloatField(help_text="Component-years.")
    lr_p = serializers.FloatField(allow_null=True)
    warnings = serializers.ListField(child=serializers.CharField())
    curve = CurvePointSerializer(many=True, allow_null=True)

    def get_fields(self):
        figures = [f"{name}{end}" for name in FIGURES for end in ("", "_low", "_high")]
        return super().get_fields() | {name: serializers.FloatField(allow_null=True) for name in figures}


class PriorSerializer(serializers.Serializer):
    family = serializers.CharField()
    shape = serializers.FloatField(allow_null=True)
    rate = serializers.FloatField(allow_null=True)
    source = serializers.CharField()


class LivesSerializer(serializers.Serializer):
    groups = GroupSerializer(many=True)
    level = serializers.FloatField()
    as_of = serializers.DateField()
    before_care = serializers.CharField()
    priors = PriorSerializer(many=True)
    method = serializers.CharField()


class LivesView(APIView):
    """MTBF, best estimate and fitted life of every component type, with limits, sample and method."""

    permission_classes = [ForStaff]

    @extend_schema(parameters=[LivesAskedSerializer], responses=LivesSerializer)
    def get(self, request):
        asked = LivesAskedSerializer(data=request.query_params)
        asked.is_valid(raise_exception=True)
        return Response(report(**asked.validated_data))


def report(*, as_of=None, **asked):
    """The report as plain data, kept until something is recorded."""
    return lives.report(as_of or timezone.localdate(), **asked).to_dict()
