"""The components of one appliance: how old, how we know, how likely to fail, and whose work they are."""

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from firm.models import Setting
from firm.roles import ForStaff
from inventory.api.reads import found_or_404
from inventory.models import ComponentType
from jobs.api.asked import DayAsked, asked_of
from jobs.api.cautions import Cautions, WarningsSerializer
from jobs.leak_paths import leak_paths
from jobs.models import Appliance
from jobs.positions import Position, positions
from jobs.services.prompts import service_prompts


class PositionSerializer(serializers.Serializer):
    """One position. Numbers are null where the appliance is not in care, or nothing is known."""

    component = serializers.CharField()
    name = serializers.CharField()
    position = serializers.IntegerField()
    since = serializers.DateField(allow_null=True, help_text="The day since which this one is there; null: not known.")
    precision = serializers.CharField(allow_null=True, help_text="day, month or year.")
    how_known = serializers.CharField()
    age = serializers.FloatField(allow_null=True, help_text="Years; where nobody saw it, the mean of what it may be.")
    age_seen = serializers.BooleanField(allow_null=True, help_text="false: it may have been changed before care.")
    hazard_per_year = serializers.FloatField(allow_null=True, help_text="Failures a year at this age.")
    hazard_low = serializers.FloatField(allow_null=True, help_text="Of its range, 90%.")
    hazard_high = serializers.FloatField(allow_null=True)
    expected = serializers.FloatField(allow_null=True, help_text="Failures until the next service.")
    warnings = WarningsSerializer()


class LeakPathSerializer(serializers.Serializer):
    """Where appliances of this model are known to leak."""

    component = serializers.CharField(source="component.key")
    test = serializers.CharField(help_text="How it shows; common practice, no source.")
    leaks = serializers.IntegerField(help_text="Findings of a leak on appliances of this model.")
    of = serializers.IntegerField(help_text="Findings on them that name a failure mode.")


class ApplianceComponentsSerializer(serializers.Serializer):
    """Components, the likeliest to fail before the next service first."""

    appliance = serializers.CharField()
    model = serializers.CharField()
    kind = serializers.CharField()
    as_of = serializers.DateField()
    service_interval_months = serializers.FloatField()
    licence = serializers.CharField(help_text="Whose work this is; empty where no hazard class is touched.")
    components = PositionSerializer(many=True)
    leak_paths = LeakPathSerializer(many=True)


class ApplianceComponentsView(APIView):
    """What deserves a look at the next service: every position with its age, hazard, and the cautions of its work."""

    permission_classes = [ForStaff]

    @extend_schema(parameters=[DayAsked], responses=ApplianceComponentsSerializer)
    def get(self, request, appliance):
        rows = Appliance.objects.select_related("model").prefetch_related("earlier")
        appliance = found_or_404(rows, number=appliance)
        as_of = asked_of(DayAsked, request)["as_of"]
        return Response(ApplianceComponentsSerializer(described(appliance, as_of)).data)


def described(appliance, as_of):
    cautions, kind = Cautions(), appliance.model.kind
    prompts = {(one.component, one.position): one for one in service_prompts(appliance, as_of)}
    places = {(one.component.key, one.number): one for one in positions(appliance)}
    added = ComponentType.objects.in_bulk({key for key, _ in prompts.keys() - places.keys()}, field_name="key")
    places |= {where: Position(added[where[0]], where[1], 1) for where in prompts.keys() - places.keys()}
    in_order = [*prompts, *(where for where in places if where not in prompts)]
    return {
        "appliance": appliance.number,
        "model": appliance.model.key,
        "kind": kind,
        "as_of": as_of,
        "service_interval_months": Setting.current().service_interval_months,
        "licence": cautions.of([], kind)["licence"],
        "components": [_position(places[where], prompts.get(where), cautions, kind) for where in in_order],
        "leak_paths": leak_paths(appliance.model, {place.component for place in places.values()}) if prompts else [],
    }


def _position(place, prompt, cautions, kind):
    figures = {"age": "age", "age_seen": "seen"}
    figures |= {name: name for name in ("hazard_per_year", "hazard_low", "hazard_high", "expected")}
    return {
        "component": place.component.key,
        "name": place.component.name,
        "position": place.number,
        "since": place.since,
        "precision": place.precise if place.since else None,
        "how_known": place.how,
        **{name: getattr(prompt, own) if prompt else None for name, own in figures.items()},
        "warnings": cautions.of([place.component], kind),
    }
