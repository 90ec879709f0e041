"""Lists of what is reckoned, not stored: filtered by django-filter and paged as the others are."""

import django_filters
from rest_framework import generics, serializers
from rest_framework.exceptions import NotFound, ValidationError
from rest_framework.pagination import Cursor
from rest_framework.response import Response

from firm.bounded import TextFilter
from firm.paging import NO_CURSOR, CursorPages
from inventory.models import ComponentType
from jobs.api.asked import DayAsked, asked_of, known

TEXT, NUMBER, WHOLE = {"type": "string"}, {"type": "number"}, {"type": "integer"}
DAY = {"type": "string", "format": "date"}


class Rows(list):
    """Rows as dicts, with the little that a filter set asks of a queryset."""

    model = ComponentType  # a filter set looks there for labels

    def all(self):
        return self

    def where(self, field, value):
        return Rows(row for row in self if row[field] == value)


class KnownFilter(TextFilter):
    """The key of a component type or an appliance model that must exist."""


class RowFilterSet(django_filters.FilterSet):
    """Keeps the rows whose field of the filter's name is what was asked for."""

    def filter_queryset(self, rows):
        for name, value in self.form.cleaned_data.items():
            if value is None or value == "":
                continue
            if isinstance(self.filters[name], KnownFilter):
                self._check(name, value)
            rows = rows.where(name, value)
        return rows

    def _check(self, name, value):
        try:
            known(name, value)
        except serializers.ValidationError as error:
            raise ValidationError({name: error.detail}) from error


class RowPages(CursorPages):
    """Pages of rows by their place in the list. `told`: names and schemas of what stands beside the rows."""

    offset_cutoff = None
    told: dict = {}

    def paginate_queryset(self, rows, request, view=None):
        self.request, self.base_url, self.view = request, request.build_absolute_uri(), view
        cursor, size = self.decode_cursor(request), self.get_page_size(request)
        if cursor and (cursor.position or cursor.reverse):
            raise NotFound(NO_CURSOR)
        self.many, self.size = len(rows), size
        self.begin = min(cursor.offset, self.many) if cursor else 0
        return rows[self.begin : self.begin + size]

    def get_next_link(self):
        end = self.begin + self.size
        return self._at(end) if end < self.many else None

    def get_previous_link(self):
        return self._at(max(self.begin - self.size, 0)) if self.begin else None

    def _at(self, offset):
        return self.encode_cursor(Cursor(offset=offset, reverse=False, position=None))

    def get_paginated_response(self, data):
        links = {"next": self.get_next_link(), "previous": self.get_previous_link()}
        return Response(links | {"count": self.many} | self.view.told | {"results": data})

    def get_paginated_response_schema(self, schema):
        page = super().get_paginated_response_schema(schema)
        page["properties"] |= {"count": WHOLE} | self.told
        page["required"] = ["next", "previous", "count", *self.told, "results"]
        return page


def pages(most=500, **told):
    """Pages with `told` beside the rows, at most so many rows on each."""
    return type("Pages", (RowPages,), {"told": told, "max_page_size": most})


class ComputedList(generics.ListAPIView):
    """get_rows gives the rows and sets `told`, what stands beside them."""

    asked_serializer: type[serializers.Serializer] = DayAsked
    queryset = ComponentType.objects.none()  # for the description alone
    told: dict

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return self.get_rows(**asked_of(self.asked_serializer, self.request, alone=False))

    def get_rows(self, **asked):
        raise TypeError(f"{type(self).__name__} gives no rows")
