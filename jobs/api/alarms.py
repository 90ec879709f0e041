"""Alarms: which parts fail more often than chance allows, on what evidence, and where the others of them are."""

import django_filters
from django.http import Http404
from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import serializers

from firm.bounded import TextFilter, YesFilter
from firm.roles import ForOwner
from jobs.alarm_words import told
from jobs.api.asked import DayAsked
from jobs.api.cautions import Cautions, WarningsSerializer
from jobs.api.computed import DAY, NUMBER, TEXT, WHOLE, ComputedList, KnownFilter, RowFilterSet, Rows, pages
from jobs.services.alarms import firm_alarms

OF_ALARM = ["kind", "component", "part", "supplier", "fitting_month", "model", "failures", "expected", "ratio"]
OF_ALARM += ["ratio_low", "ratio_high", "p", "p_adjusted", "since", "raised_on", "level_reached"]
OF_ALL = ["streams", "threshold", "false_alarms_a_year", "delay_failures", "method"]
OF_PIECE = ["fitted", "customer", "address", "fitted_on", "part", "component", "quantity", "in_place", "failed_on"]
OF_PIECE += ["guarantee_until", "in_guarantee", "fetch"]
KINDS = [("batch", "Fitted parts of one supplier or month"), ("rising", "A component of one model")]


class AlarmSerializer(serializers.Serializer):
    """One alarm. ratio: against the rest of its kind, for rising against the years before; null: cannot be known."""

    code = serializers.CharField(help_text="For its address.")
    kind = serializers.ChoiceField(choices=KINDS)
    title = serializers.CharField()
    evidence = serializers.CharField()
    component = serializers.CharField()
    part = serializers.CharField(allow_blank=True)
    supplier = serializers.CharField(allow_blank=True)
    fitting_month = serializers.CharField(allow_blank=True, help_text="YYYY-MM, where one month stands out.")
    model = serializers.CharField(allow_blank=True)
    failures = serializers.IntegerField()
    expected = serializers.FloatField(help_text="Failures that would be usual.")
    ratio = serializers.FloatField(allow_null=True)
    ratio_low = serializers.FloatField(allow_null=True)
    ratio_high = serializers.FloatField(allow_null=True)
    p = serializers.FloatField()
    p_adjusted = serializers.FloatField(help_text="For ordering alone.")
    since = serializers.DateField(allow_null=True, help_text="The failure with which the rise began.")
    raised_on = serializers.DateField()
    level_reached = serializers.FloatField(help_text="Of the cumulative sum, to be held against the threshold.")
    concerned = serializers.IntegerField(help_text="Fitted parts concerned.")
    in_place = serializers.IntegerField(help_text="Of these, still in place.")
    warnings = WarningsSerializer()


class AlarmFilter(RowFilterSet):
    kind = django_filters.ChoiceFilter(choices=KINDS)
    component = KnownFilter(help_text="The key of a component type.")
    model = KnownFilter(help_text="The key of an appliance model.")
    part = TextFilter(help_text="The number of a part.")
    supplier = TextFilter(help_text="The key of a supplier.")


class PieceSerializer(serializers.Serializer):
    """One fitted part that an alarm concerns."""

    fitted = serializers.IntegerField()
    appliance = serializers.CharField()
    customer = serializers.CharField(allow_blank=True)
    address = serializers.CharField(allow_blank=True)
    fitted_on = serializers.DateField()
    part = serializers.CharField()
    component = serializers.CharField()
    quantity = serializers.FloatField()
    in_place = serializers.BooleanField(help_text="Nothing was fitted there later, and it did not come out again.")
    failed_on = serializers.DateField(allow_null=True, help_text="The day of its first failure; null: none.")
    guarantee_until = serializers.DateField(allow_null=True, help_text="null: no guarantee is known.")
    in_guarantee = serializers.BooleanField()
    fetch = serializers.CharField(allow_blank=True, help_text="What to fetch back, and what to tell the supplier.")


class PieceFilter(RowFilterSet):
    in_place = YesFilter()
    in_guarantee = YesFilter()


@extend_schema_view(get=extend_schema(parameters=[DayAsked]))
class AlarmList(ComputedList):
    """The alarms that stand, most telling first, with how many false ones to expect."""

    permission_classes = [ForOwner]
    serializer_class = AlarmSerializer
    filterset_class = AlarmFilter
    pagination_class = pages(
        as_of=DAY, streams=WHOLE, threshold=NUMBER, false_alarms_a_year=NUMBER, delay_failures=NUMBER, method=TEXT
    )

    def get_rows(self, *, as_of):
        found, cautions = firm_alarms(as_of), Cautions()
        self.told = {"as_of": as_of.isoformat()} | {name: getattr(found, name) for name in OF_ALL}
        return Rows(_alarm(one, cautions) for one in told(found.alarms))


@extend_schema_view(get=extend_schema(parameters=[DayAsked]))
class AlarmPartList(ComputedList):
    """The fitted parts that one alarm concerns, the latest first: where, guarantee, and what to fetch back."""

    permission_classes = [ForOwner]
    serializer_class = PieceSerializer
    filterset_class = PieceFilter
    pagination_class = pages(
        as_of=DAY, code=TEXT, title=TEXT, evidence=TEXT, warnings={"$ref": "#/components/schemas/Warnings"}
    )

    def get_rows(self, *, as_of):
        one = next((one for one in told(firm_alarms(as_of).alarms) if one.code == self.kwargs["code"]), None)
        if one is None:
            raise Http404("No such alarm stands.")
        self.told = {"as_of": as_of.isoformat(), "code": one.code, "title": one.title, "evidence": one.evidence}
        self.told["warnings"] = Cautions().of([one.component])
        return Rows(
            {name: getattr(piece, name) for name in OF_PIECE} | {"appliance": piece.number}
            for piece in one.alarm.pieces
        )


def _alarm(one, cautions):
    own = {name: getattr(one.alarm, name) for name in OF_ALARM}
    return own | {
        "code": one.code,
        "title": one.title,
        "evidence": one.evidence,
        "concerned": len(one.alarm.pieces),
        "in_place": len(one.still),
        "warnings": cautions.of([one.component]),
    }
