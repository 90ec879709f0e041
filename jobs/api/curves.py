"""The pictures of one component type in numbers: as counted age by age, the fitted life, failures in bands of age."""

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from firm import words
from firm.roles import ForStaff
from jobs.api.asked import BeforeCareAsked, CareWindowAsked, DayAsked, asked_of, known
from jobs.failures import component_life

RANGE = {"allow_null": True, "help_text": "null where it cannot be told."}


class CurvesAsked(BeforeCareAsked, CareWindowAsked, DayAsked):
    component = serializers.CharField(max_length=80, help_text="The key of a component type.")

    def validate_component(self, key):
        return known("component", key)


class CountedAgeSerializer(serializers.Serializer):
    """At an age at which something failed; known ages alone."""

    age = serializers.FloatField(help_text="Years.")
    at_risk = serializers.FloatField()
    events = serializers.FloatField()
    survival = serializers.FloatField(help_text="Kaplan-Meier.")
    survival_low = serializers.FloatField(**RANGE)
    survival_high = serializers.FloatField(**RANGE)
    hazard = serializers.FloatField(help_text="Failures of one place added up to this age, Nelson-Aalen.")
    hazard_low = serializers.FloatField()
    hazard_high = serializers.FloatField()


class FittedAgeSerializer(serializers.Serializer):
    """The fitted life at an age."""

    age = serializers.FloatField(help_text="Years.")
    survival = serializers.FloatField()
    survival_low = serializers.FloatField(**RANGE)
    survival_high = serializers.FloatField(**RANGE)
    rate = serializers.FloatField(allow_null=True, help_text="Failures a year at this age; null at age 0.")


class AgeBandSerializer(serializers.Serializer):
    """Failures between two ages over the years watched there."""

    start = serializers.FloatField(help_text="Years.")
    end = serializers.FloatField()
    failures = serializers.FloatField()
    exposure = serializers.FloatField(help_text="Component-years.")
    rate = serializers.FloatField(help_text="Failures a year.")
    rate_low = serializers.FloatField()
    rate_high = serializers.FloatField()


class CurvesSerializer(serializers.Serializer):
    component = serializers.CharField()
    as_of = serializers.DateField()
    before_care = serializers.CharField()
    level = serializers.FloatField()
    status = serializers.CharField(help_text="As in lives; empty: none is in care.")
    warnings = serializers.ListField(child=serializers.CharField())
    counted = CountedAgeSerializer(many=True)
    fitted = FittedAgeSerializer(many=True, help_text="Empty where no life is fitted.")
    bands = AgeBandSerializer(many=True)
    method = serializers.CharField()


METHOD = (
    "counted: Kaplan-Meier with log-log limits and Nelson-Aalen with limits on the log scale by Aalen's variance, "
    "known ages from the first with five under watch on; fitted: Weibull as in lives, limits by profile likelihood; "
    "bands: failures over exposure, exact Poisson limits"
)


class CurvesView(APIView):
    """Life curve with limits, failures added up with age and failures at each age, as the component's page draws."""

    permission_classes = [ForStaff]

    @extend_schema(parameters=[CurvesAsked], responses=CurvesSerializer)
    def get(self, request):
        return Response(curves(**asked_of(CurvesAsked, request)))


def curves(*, component, as_of, before_care, care_window=None):
    life = component_life(component, as_of, before_care, care_window)
    told = {"component": component, "as_of": as_of.isoformat(), "before_care": before_care, "method": METHOD}
    if life is None:
        return told | {"level": 0.9, "status": "", "warnings": [], "counted": [], "fitted": [], "bands": []}
    rates = dict(life.hazard)
    names = ["start", "end", "rate", "rate_low", "rate_high", "failures", "exposure"]
    return told | {
        "level": life.report.level,
        "status": life.group.status,
        "warnings": list(life.group.warnings),
        "counted": [vars(point) for point in life.group.curve or ()],
        "fitted": [
            {"age": age, "survival": share, "survival_low": _told(low), "survival_high": _told(high),
             "rate": rates.get(age)}
            for age, share, low, high in life.curve
        ],
        "bands": [dict(zip(names, band, strict=True)) for band in life.bands],
    }  # fmt: skip


def _told(value):
    return value if words.known(value) else None
