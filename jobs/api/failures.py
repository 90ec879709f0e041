"""What fails: counts and best estimates by component, model, maker or supplier, and failures month by month."""

from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import serializers

from firm.bounded import TextFilter
from firm.fields import Word
from firm.roles import ForOwner
from inventory.models import ComponentType
from jobs import failures
from jobs.api.asked import CareWindowAsked, DayAsked
from jobs.api.computed import DAY, NUMBER, TEXT, ComputedList, KnownFilter, RowFilterSet, Rows, pages

BY = ("component", "model", "maker", "supplier", "month")
COUNTS = ["failures", "exposure", "mtbf", "mtbf_low", "mtbf_high", "shrunk", "shrunk_low", "shrunk_high"]
MONTHLY = "failures reported in the month; the last three years"


class FailuresAsked(CareWindowAsked, DayAsked):
    by = Word(choices=[(word, word) for word in BY], default="component", help_text="What each row is about.")


class FailuresSerializer(serializers.Serializer):
    """One row. What does not belong to the way of counting that was asked for is null."""

    component = serializers.CharField(allow_null=True)
    name = serializers.CharField(allow_null=True, help_text="Of the component.")
    model = serializers.CharField(allow_null=True)
    maker = serializers.CharField(allow_null=True, help_text="Of the appliance.")
    supplier = serializers.CharField(allow_null=True, help_text="Of the part that stands there.")
    month = serializers.CharField(allow_null=True, help_text="YYYY-MM")
    recent = serializers.FloatField(allow_null=True, help_text="Failures in the last year; by component alone.")

    def get_fields(self):
        figures = {name: serializers.FloatField(allow_null=True) for name in COUNTS}
        return super().get_fields() | figures | {"failures": serializers.FloatField()}


class FailuresFilter(RowFilterSet):
    component = KnownFilter(help_text="The key of a component type.")
    model = KnownFilter(help_text="The key of an appliance model, with by=model.")
    maker = TextFilter(help_text="With by=maker.")
    supplier = TextFilter(help_text="The key of a supplier, with by=supplier; unknown: there before care.")


@extend_schema_view(get=extend_schema(parameters=[FailuresAsked]))
class FailureList(ComputedList):
    """Failures and time between them, most failures first, with limits; by month the last three years."""

    permission_classes = [ForOwner]
    serializer_class = FailuresSerializer
    filterset_class = FailuresFilter
    asked_serializer = FailuresAsked
    pagination_class = pages(as_of=DAY, by=TEXT, level=NUMBER, method=TEXT)

    def get_rows(self, *, as_of, by, care_window=None):
        self._refuse_others(by)
        if by == "month":
            self.told = {"as_of": as_of.isoformat(), "by": by, "level": 0.9, "method": MONTHLY}
            return Rows(_months(as_of, self.request.query_params.get("component"), care_window))
        found = failures.grouped_counts(as_of, by if by == "component" else f"component,{by}", care_window)
        self.told = {"as_of": as_of.isoformat(), "by": by, "level": found.level, "method": found.method}
        recent = failures.fleet(as_of, failures.COUNTED, care_window).recent if by == "component" else {}
        names = dict(ComponentType.objects.values_list("key", "name"))
        rows = [_row(group, by, names, recent) for group in found.groups]
        return Rows(sorted(rows, key=lambda row: -row["failures"]))

    def _refuse_others(self, by):
        """A filter of another way of counting would leave nothing, and say so of nothing."""
        for name in ("model", "maker", "supplier"):
            if self.request.query_params.get(name) and by != name:
                raise serializers.ValidationError({name: f"Only with by={name}."})


def _blank():
    return dict.fromkeys([*FailuresSerializer().fields])


def _row(group, by, names, recent):
    component, _, other = group.group.partition(" / ")
    row = _blank() | {name: getattr(group, name) for name in COUNTS}
    row |= {"component": component, "name": names.get(component), "recent": recent.get(component)}
    return row if by == "component" else row | {by: other}


def _months(as_of, component, care_window):
    """One row a month, of all components or of the one asked for."""
    found = dict.fromkeys(failures.last_months(as_of), 0)
    for (month, key, _), many in failures.failures_by_month(as_of, care_window).items():
        if component in (None, "", key):
            found[month] += many
    own = {"component": component or None}
    return [_blank() | own | {"month": f"{month:%Y-%m}", "failures": many} for month, many in found.items()]
