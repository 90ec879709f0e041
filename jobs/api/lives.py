"""How long components last: the same report as the command `life` on the firm's records, and other assumptions."""

from dataclasses import replace

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from firm.roles import ForStaff
from jobs import lives
from jobs.api.asked import BeforeCareAsked, GroupsAsked, LevelAsked, WatchAsked, asked_of, shown
from jobs.reliability.grouping import BY

FIGURES = ["mtbf", "shrunk", "shape", "scale", "mean", "b10"]
ENDS = [f"{name}{end}" for name in FIGURES for end in ("", "_low", "_high")]


class SensitivityAskedSerializer(GroupsAsked, LevelAsked):
    by = serializers.ChoiceField(choices=BY, default="component")


class LivesAskedSerializer(BeforeCareAsked, WatchAsked, SensitivityAskedSerializer):
    curve = serializers.BooleanField(default=False, help_text="With the survival curve of each group.")


class CurvePointSerializer(serializers.Serializer):
    age = serializers.FloatField(help_text="Years.")
    at_risk = serializers.FloatField()
    events = serializers.FloatField()
    survival = serializers.FloatField()
    survival_low = serializers.FloatField(allow_null=True)
    survival_high = serializers.FloatField(allow_null=True)


class FiguresSerializer(serializers.Serializer):
    """One group. shrunk is the best estimate; null is what cannot be known, and status says why."""

    group = serializers.CharField()
    status = serializers.CharField()
    failures = serializers.FloatField()
    exposure = serializers.FloatField(help_text="Component-years.")
    lr_p = serializers.FloatField(allow_null=True)
    warnings = serializers.ListField(child=serializers.CharField())

    def get_fields(self):
        return super().get_fields() | {name: serializers.FloatField(allow_null=True) for name in ENDS}


class GroupSerializer(FiguresSerializer):
    curve = CurvePointSerializer(many=True, allow_null=True)


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


class AnswerSerializer(serializers.Serializer):
    """The groups under one set of assumptions; the usual one stands first."""

    key = serializers.CharField()
    words = serializers.CharField(help_text="The assumption in a sentence.")
    before_care = serializers.CharField()
    silence = serializers.CharField()
    care_window_months = serializers.FloatField()
    lost_factor = serializers.FloatField(
        help_text="Times the rate seen in care, how often parts were changed before care without having failed."
    )
    groups = FiguresSerializer(many=True)


class SensitivitySerializer(serializers.Serializer):
    as_of = serializers.DateField()
    level = serializers.FloatField()
    by = serializers.CharField()
    answers = AnswerSerializer(many=True)


class LivesView(APIView):
    """MTBF, best estimate and fitted life of every component type, with limits, sample and method."""

    permission_classes = [ForStaff]

    @extend_schema(parameters=[LivesAskedSerializer], responses=LivesSerializer)
    def get(self, request):
        return Response(report(**asked_of(LivesAskedSerializer, request)))


class SensitivityView(APIView):
    """The same figures under each other assumption: time before care, silence, care window at half and double."""

    permission_classes = [ForStaff]

    @extend_schema(parameters=[SensitivityAskedSerializer], responses=SensitivitySerializer)
    def get(self, request):
        return Response(sensitivity(**asked_of(SensitivityAskedSerializer, request)))


def report(*, as_of, component=None, model=None, care_window=None, **asked):
    """The report as plain data, kept until something is recorded."""
    found = lives.report(as_of, care_window_months=care_window, **asked)
    return replace(found, groups=shown(found.groups, component, model)).to_dict()


def sensitivity(*, as_of, by, level, component=None, model=None):
    alone = component if by == "component" else None  # one type alone is quicker, and what its page shows
    answers = [
        {name: getattr(answer, name) for name in ("key", "words", "before_care", "silence", "care_window_months")}
        | {"lost_factor": answer.lost_factor}
        | {"groups": [figures(group) for group in shown(answer.groups.values(), component, model)]}
        for answer in lives.sensitivity(as_of, by=by, level=level, component=alone)
    ]
    return {"as_of": as_of.isoformat(), "level": level, "by": by, "answers": answers}


def figures(group):
    """A group without its curve, as plain data."""
    names = ["group", "status", "failures", "exposure", *ENDS, "lr_p"]
    return {name: getattr(group, name) for name in names} | {"warnings": list(group.warnings)}
