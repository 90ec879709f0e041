"""Where parts are, and who sells them: lists for phones and other programs."""

from django.db.models import Count, Exists, F, OuterRef, Q, Subquery
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import generics
from rest_framework.response import Response
from rest_framework.views import APIView

from firm.roles import ForStaff, sees_costs
from inventory.api.serializers import (
    PlaceSerializer,
    StockSerializer,
    SupplierSerializer,
    WherePageSerializer,
)
from inventory.filters import PlaceFilter, StockFilter
from inventory.models import CarryLevel, CountWanted, Part, Place, Stock, Supplier
from inventory.services.places import van_of, where
from inventory.services.pricing import living, sources


def found_or_404(queryset, **lookup):
    """The one row with this number or key; no database is asked for what no number can be."""
    if not all(text.isprintable() for text in lookup.values()):
        raise Http404
    return get_object_or_404(queryset, **lookup)


class PlaceList(generics.ListAPIView):
    """The firm's store and vans."""

    permission_classes = [ForStaff]
    serializer_class = PlaceSerializer
    filterset_class = PlaceFilter
    ordering = ("key",)
    queryset = (
        Place.objects.held()
        .filter(retired_on=None)
        .select_related("engineer")
        .annotate(to_count=Count("counts_wanted", filter=Q(counts_wanted__done_at=None)))
    )


class StockList(generics.ListAPIView):
    """What a van or store holds, what of it is free, and what it should hold."""

    permission_classes = [ForStaff]
    serializer_class = StockSerializer
    filterset_class = StockFilter
    ordering = ("number", "condition")
    queryset = Stock.objects.none()

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        place = found_or_404(Place.objects.held(), key=self.kwargs["place"])
        level = CarryLevel.objects.filter(place=OuterRef("place"), part=OuterRef("part"))
        wanted = CountWanted.objects.filter(place=OuterRef("place"), part=OuterRef("part"), done_at=None)
        stock = Stock.objects.filter(place=place).select_related("part").annotate(number=F("part__number")).free()
        return stock.annotate(carry_level=Subquery(level.values("level")[:1]), count_wanted=Exists(wanted))


class WhereView(APIView):
    """Who has one: places with what is free there, and merchants."""

    permission_classes = [ForStaff]

    @extend_schema(responses=WherePageSerializer)
    def get(self, request, part):
        part = found_or_404(Part.objects.select_related("superseded_by"), number=part)
        van = van_of(request.user, timezone.localdate())
        found = {
            "part": part.number,
            "living": living(part).number,
            "places": where(part).order_by("-free", "place__key"),
            "merchants": sources(part, 1, timezone.localdate()),
        }
        context = {"my_van": van.pk if van else None, "sees_costs": sees_costs(request.user)}
        return Response(WherePageSerializer(found, context=context).data)


class SupplierList(generics.ListAPIView):
    """The merchants, for what is bought at a counter."""

    permission_classes = [ForStaff]
    serializer_class = SupplierSerializer
    ordering = ("key",)
    filterset_class = None
    queryset = Supplier.objects.all()
