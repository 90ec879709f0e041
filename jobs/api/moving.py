"""What should change its place, as last worked out, and when the store should order."""

from django.utils import timezone
from rest_framework import generics, serializers

from firm.bounded import TextFilter
from firm.roles import ForOffice, ForStaff, sees_costs
from inventory.services.store_levels import store_levels
from jobs.api.computed import DAY, ComputedList, RowFilterSet, Rows, pages
from jobs.filters import MoveFilter
from jobs.models import MoveLine
from jobs.services import kept_moves

COSTS = ("worth_per_year", "why")
STAMP = {"type": "string", "format": "date-time"}


class MoveSerializer(serializers.ModelSerializer):
    part = serializers.CharField(source="part.number")
    description = serializers.CharField(source="part.description")
    giver = serializers.CharField(source="giver.key")
    taker = serializers.CharField(source="taker.key")
    worth_per_year = serializers.DecimalField(max_digits=12, decimal_places=2, allow_null=True)
    why = serializers.CharField(allow_null=True)
    as_of = serializers.DateField(source="moves.as_of")

    class Meta:
        model = MoveLine
        fields = [
            "id", "as_of", "kind", "rank", "part", "description", "giver", "taker", "quantity", "worth_per_year", "why",
            "done_at",
        ]  # fmt: skip

    def to_representation(self, line):
        """Worth and reason, which names money, only for those who see cost prices."""
        shown = super().to_representation(line)
        return shown if self.context["sees_costs"] else shown | dict.fromkeys(COSTS)


class MoveList(generics.ListAPIView):
    """The Friday list and the returns to the store, as last worked out on the page; a pass is booked by `passes/`."""

    permission_classes = [ForStaff]
    serializer_class = MoveSerializer
    filterset_class = MoveFilter
    ordering = ("kind", "rank")
    queryset = MoveLine.objects.none()

    def get_queryset(self):
        fake = getattr(self, "swagger_fake_view", False)
        moves = None if fake else kept_moves.newest()
        lines = moves.lines.all() if moves else MoveLine.objects.none()
        return lines.select_related("part", "giver", "taker", "moves")

    def get_serializer_context(self):
        fake = getattr(self, "swagger_fake_view", False)
        return super().get_serializer_context() | {"sees_costs": fake or sees_costs(self.request.user)}


class NothingAsked(serializers.Serializer):
    """Nothing beside the filters."""


class FreeSerializer(serializers.Serializer):
    place = serializers.CharField()
    pieces = serializers.FloatField()


class SlowPartSerializer(serializers.Serializer):
    part = serializers.CharField()
    description = serializers.CharField()
    price = serializers.FloatField()
    expected_per_year = serializers.FloatField(help_text="Wanted in the whole firm.")
    place = serializers.CharField(allow_null=True, help_text="The van or the store that should hold it; null: none.")
    worth_per_year = serializers.FloatField(help_text="What it saves there, less holding.")
    free_now = FreeSerializer(many=True)
    why = serializers.CharField()


class DeadStockSerializer(serializers.Serializer):
    part = serializers.CharField()
    description = serializers.CharField()
    place = serializers.CharField()
    quantity = serializers.FloatField()
    value = serializers.FloatField(allow_null=True, help_text="At average cost; null: not known.")
    last_use = serializers.DateField(allow_null=True)
    advice = serializers.CharField()
    to = serializers.CharField(allow_null=True, help_text="The place that should have it.")
    supplier = serializers.CharField(allow_null=True, help_text="Who may take it back.")
    why = serializers.CharField()


class PartPlaceFilter(RowFilterSet):
    part = TextFilter(help_text="The number of a part.")
    place = TextFilter(help_text="The key of a place.")


class DeadStockFilter(PartPlaceFilter):
    advice = TextFilter(help_text="pass-on, return-to-store, return-to-supplier, use-up, write-off or keep.")


class FromNewest(ComputedList):
    """Rows of the newest list that was worked out."""

    permission_classes = [ForOffice]
    asked_serializer = NothingAsked
    pagination_class = pages(as_of=DAY | {"nullable": True}, made_at=STAMP | {"nullable": True})
    name: str

    def get_rows(self):
        moves = kept_moves.newest()
        self.told = {"as_of": moves and moves.as_of.isoformat(), "made_at": moves and moves.made_at.isoformat()}
        return Rows(self.of(row) for row in getattr(moves, self.name, []))

    def of(self, row):
        return row


class SlowPartList(FromNewest):
    """Expensive slow parts: the one van, or the store, that should hold each, as last worked out on the page."""

    serializer_class = SlowPartSerializer
    filterset_class = PartPlaceFilter
    name = "slow"

    def of(self, row):
        return row | {"free_now": [{"place": place, "pieces": pieces} for place, pieces in row["free_now"]]}


class DeadStockList(FromNewest):
    """Stock that nobody will need where it lies, and what to do with it, as last worked out on the page."""

    serializer_class = DeadStockSerializer
    filterset_class = DeadStockFilter
    name = "dead"


class StoreLevelSerializer(serializers.Serializer):
    part = serializers.CharField()
    description = serializers.CharField()
    supplier = serializers.CharField(help_text="Key of the cheapest source.")
    price = serializers.FloatField(help_text="Of a piece.")
    demand_per_year = serializers.FloatField()
    days = serializers.IntegerField(help_text="Lead time and the days between two orders.")
    level = serializers.IntegerField(help_text="Order when what is free and on order is down to this.")
    quantity = serializers.IntegerField(help_text="Pieces to order, whole packs.")
    packs = serializers.IntegerField()
    pack = serializers.IntegerField()
    fill_rate = serializers.FloatField()
    mean_stock = serializers.FloatField()
    cost_per_year = serializers.FloatField(help_text="Of ordering and holding.")
    words = serializers.CharField()


class StoreLevelFilter(RowFilterSet):
    part = TextFilter(help_text="The number of a part.")
    supplier = TextFilter(help_text="The key of a supplier.")


class StoreLevelList(ComputedList):
    """When the store should order each part and how much at once, by what left it in the last two years."""

    permission_classes = [ForOffice]
    serializer_class = StoreLevelSerializer
    filterset_class = StoreLevelFilter
    asked_serializer = NothingAsked
    pagination_class = pages(as_of=DAY)

    def get_rows(self):
        today = timezone.localdate()
        self.told = {"as_of": today.isoformat()}
        return Rows(_level(row) for row in store_levels(today))


def _level(row):
    names = [*StoreLevelSerializer().fields]
    own = {"part": row.part.number, "description": row.part.description, "supplier": row.offer.supplier.key}
    return {name: getattr(row, name) for name in names if name not in own} | own
