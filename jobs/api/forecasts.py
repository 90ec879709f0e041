"""What will probably fail in the next days, by component type and van, as the page shows it."""

from dataclasses import fields

from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import serializers

from firm.bounded import TextFilter
from firm.fields import Whole, Word
from firm.roles import ForOwner
from jobs.api.asked import BeforeCareAsked, CareWindowAsked, LevelAsked
from jobs.api.computed import DAY, NUMBER, TEXT, ComputedList, KnownFilter, RowFilterSet, Rows, pages
from jobs.services.forecasting import DAYS, ForecastRow, firm_forecast

TABLES = {"component,van": "rows", "component": "by_component", "van": "by_van", "all": "total"}


class ForecastsAsked(BeforeCareAsked, CareWindowAsked, LevelAsked):
    by = Word(
        choices=[(word, word) for word in TABLES],
        default="component,van",
        help_text="What each row is about; ranges of sums are not sums of ranges.",
    )
    days = Whole(least=1, most=730, required=False, help_text="Empty: the next 30, 90 and 365.")


class ForecastSerializer(serializers.Serializer):
    component = serializers.CharField(allow_blank=True, help_text="Empty: all together.")
    van = serializers.CharField(allow_blank=True, help_text="Empty: all together; - where none serves the place.")
    days = serializers.IntegerField()
    expected = serializers.FloatField(help_text="Failures.")
    low = serializers.IntegerField()
    high = serializers.IntegerField()
    in_care = serializers.FloatField(help_text="Pieces, each with the chance that its customer is still in care.")
    of_unseen_age = serializers.FloatField(help_text="Of these, those whose age nobody knows.")


class ForecastFilter(RowFilterSet):
    component = KnownFilter(help_text="The key of a component type.")
    van = TextFilter(help_text="The key of a van; -: no van.")


@extend_schema_view(get=extend_schema(parameters=[ForecastsAsked]))
class ForecastList(ComputedList):
    """Expected failures with the range that doubt and chance leave, the soonest horizon first."""

    permission_classes = [ForOwner]
    serializer_class = ForecastSerializer
    filterset_class = ForecastFilter
    asked_serializer = ForecastsAsked
    pagination_class = pages(as_of=DAY, level=NUMBER, before_care=TEXT, silence=TEXT, method=TEXT)

    def get_rows(self, *, as_of, level, by, before_care, days=None, care_window=None):
        ahead = DAYS if days is None or days in DAYS else (days,)
        found = firm_forecast(as_of, ahead, level, before_care=before_care, care_window=care_window)
        told = {name: getattr(found, name) for name in ("level", "before_care", "silence", "method")}
        self.told = {"as_of": as_of.isoformat()} | told
        names = [field.name for field in fields(ForecastRow)]
        rows = [{name: getattr(row, name) for name in names} for row in getattr(found, TABLES[by])]
        return Rows(row for row in rows if days in (None, row["days"]))
