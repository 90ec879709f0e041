"""The spells behind the figures: what `life --spells` writes, filtered and page by page."""

import django_filters
import numpy as np
from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import serializers

from firm.bounded import TextFilter, YesFilter
from firm.roles import ForStaff
from inventory.models import ComponentType
from jobs import lives
from jobs.api.asked import DayAsked, WatchAsked
from jobs.api.computed import DAY, TEXT, ComputedList, KnownFilter, RowFilterSet, pages
from jobs.reliability.history.spells import CLOCKS, CLOSED_BY, COLUMNS, OPENED_BY


class SpellsAsked(WatchAsked, DayAsked):
    pass


class SpellSerializer(serializers.Serializer):
    """One watched stretch of one component position."""

    component = serializers.CharField()
    appliance = serializers.CharField()
    position = serializers.IntegerField()
    model = serializers.CharField()
    entry = serializers.FloatField(help_text="Age in years of 365.25 days.")
    exit = serializers.FloatField()
    failed = serializers.BooleanField()
    clock = serializers.ChoiceField(choices=CLOCKS, help_text="Whether the age is known.")
    opened_by = serializers.ChoiceField(choices=OPENED_BY)
    closed_by = serializers.ChoiceField(choices=CLOSED_BY)
    weight = serializers.FloatField(help_text="How far it counts: the chance that it was still in care.")


class SpellFilter(RowFilterSet):
    component = KnownFilter(help_text="The key of a component type.")
    appliance = TextFilter(help_text="The number of an appliance.")
    model = KnownFilter(help_text="The key of an appliance model.")
    closed_by = django_filters.ChoiceFilter(choices=[(word, word) for word in CLOSED_BY])
    clock = django_filters.ChoiceFilter(choices=[(word, word) for word in CLOCKS])
    failed = YesFilter()


class SpellRows:
    """Spells as rows that are made only when a page of them is shown."""

    model = ComponentType  # a filter set looks there for labels

    def __init__(self, spells, index=None):
        self.spells = spells
        self.index = np.arange(len(spells)) if index is None else index

    def all(self):
        return self

    def where(self, field, value):
        words = {"closed_by": CLOSED_BY, "clock": CLOCKS}.get(field)
        if field == "failed":
            wanted = value
        else:
            wanted = self._number(words or getattr(self.spells.names, f"{field}s"), value)
        return SpellRows(self.spells, self.index[getattr(self.spells, field)[self.index] == wanted])

    @staticmethod
    def _number(words, value):
        found = np.flatnonzero(np.asarray(words, dtype=object) == value)
        return found[0] if found.size else len(words)

    def __len__(self):
        return self.index.size

    def __getitem__(self, piece):
        chosen = self.index[piece]
        columns = [np.asarray(self._words(name, chosen)).tolist() for name in COLUMNS]
        return [dict(zip(COLUMNS, row, strict=True)) for row in zip(*columns, strict=True)]

    def _words(self, name, chosen):
        """A column of the chosen spells alone."""
        values = getattr(self.spells, name)[chosen]
        names = {"component": "components", "appliance": "appliances", "model": "models"}
        words = {"clock": CLOCKS, "opened_by": OPENED_BY, "closed_by": CLOSED_BY}.get(name)
        if name in names:
            words = getattr(self.spells.names, names[name])
        return values if words is None else np.asarray(words, dtype=object)[values]


@extend_schema_view(get=extend_schema(parameters=[SpellsAsked]))
class SpellList(ComputedList):
    """The stretches of watching behind every figure, by component, appliance, position and age."""

    permission_classes = [ForStaff]
    serializer_class = SpellSerializer
    filterset_class = SpellFilter
    asked_serializer = SpellsAsked
    pagination_class = pages(5000, as_of=DAY, silence=TEXT)

    def get_rows(self, *, as_of, silence, care_window=None):
        self.told = {"as_of": as_of.isoformat(), "silence": silence}
        component = self.request.query_params.get("component")
        spells = lives.firm_spells(
            as_of=as_of, silence=silence, care_window_months=care_window, components=[component] if component else None
        )
        return SpellRows(spells)
