"""Filters of the API's lists of stock."""

import django_filters
from django.utils import timezone

from firm.bounded import TextFilter, YesFilter
from inventory.models import Place, Stock
from inventory.services.places import van_of


class PlaceFilter(django_filters.FilterSet):
    kind = django_filters.ChoiceFilter(choices=[(kind.value, kind.label) for kind in Place.HELD])
    mine = YesFilter(method="of_sender", help_text="yes: the van that the sender drives today.")

    class Meta:
        model = Place
        fields = ["kind", "mine"]

    def of_sender(self, places, name, value):
        if not value:
            return places
        van = van_of(self.request.user, timezone.localdate())
        return places.filter(pk=van.pk if van else None)


class StockFilter(django_filters.FilterSet):
    part = TextFilter(field_name="part__number")
    there = YesFilter(method="on_hand", help_text="yes: only what is there; no: only what is gone.")

    class Meta:
        model = Stock
        fields = ["part", "there"]

    def on_hand(self, stock, name, value):
        return stock.filter(on_hand__gt=0) if value else stock.filter(on_hand=0)
