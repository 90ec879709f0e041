"""Components and the parts that renew them, with the cautions of working on them."""

from django.db.models import DecimalField, OuterRef, Subquery, Sum, Value
from django.db.models.functions import Coalesce
from rest_framework import generics, serializers

from firm.roles import ForStaff
from inventory.api.reads import found_or_404
from inventory.models import ComponentType, Part, Place, Stock
from jobs.api.cautions import WarningsSerializer
from jobs.api.reads import WithCautions
from jobs.api.serializers import text
from jobs.filters import PartFilter, known_model

NOT_ADVISED = "This component demands maker's new or approved parts; this one is neither."


class ComponentSerializer(serializers.ModelSerializer):
    component = serializers.CharField(source="key")
    hours = serializers.SerializerMethodField(help_text="Low, usual, high.")
    warnings = serializers.SerializerMethodField()

    class Meta:
        model = ComponentType
        fields = ["component", "name", "plain", "kinds", "hours", "drain_down", "failure_modes", "wears", "warnings"]

    def get_hours(self, component) -> list[float | None]:
        return [component.hours_low, component.hours_usual, component.hours_high]

    def get_warnings(self, component) -> WarningsSerializer:
        kind = component.kinds[0] if len(component.kinds) == 1 else ""
        return self.context["cautions"].of([component], kind)


class PartSerializer(serializers.ModelSerializer):
    part = serializers.CharField(source="number")
    covers = serializers.SlugRelatedField(slug_field="key", many=True, read_only=True)
    fits = serializers.SerializerMethodField(help_text="Keys of appliance models; * = any.")
    superseded_by = text("superseded_by.number")
    on_hand = serializers.DecimalField(max_digits=14, decimal_places=3, help_text="In the firm's store and vans.")
    not_advised = serializers.SerializerMethodField(help_text="Why it should not be fitted; empty: it may be.")
    warnings = serializers.SerializerMethodField()

    class Meta:
        model = Part
        fields = ["part", "description", "maker", "maker_part", "gtin", "unit", "grade", "covers", "fits"]
        fields += ["superseded_by", "no_longer_made_since", "guarantee_months", "counted", "on_hand"]
        fields += ["not_advised", "warnings"]

    def get_fits(self, part) -> list[str]:
        return ["*"] if part.fits_any else [model.key for model in part.fits.all()]

    def get_not_advised(self, part) -> str:
        demanding = any(component.approved_new_only for component in part.covers.all())
        return NOT_ADVISED if demanding and not part.advisable_where_approved_new else ""

    def get_warnings(self, part) -> WarningsSerializer:
        return self.context["cautions"].of(part.covers.all(), self.context.get("kind", ""))


class ComponentList(WithCautions, generics.ListAPIView):
    """Component types with their hazards, cautions, and checks to do after fitting."""

    permission_classes = [ForStaff]
    serializer_class = ComponentSerializer
    filterset_class = None
    ordering = ("key",)
    queryset = ComponentType.objects.all()


def parts():
    held = Stock.objects.filter(part=OuterRef("pk"), place__kind__in=Place.HELD)
    total = Subquery(held.order_by().values("part").annotate(total=Sum("on_hand")).values("total"))
    zero = Value(0, output_field=DecimalField(max_digits=14, decimal_places=3))
    rows = Part.objects.select_related("superseded_by").prefetch_related("covers", "fits")
    return rows.annotate(on_hand=Coalesce(total, zero))


class PartList(WithCautions, generics.ListAPIView):
    """Parts. With `component`, where approved new parts are demanded, only such are shown."""

    permission_classes = [ForStaff]
    serializer_class = PartSerializer
    filterset_class = PartFilter
    ordering = ("number",)
    queryset = parts()

    def get_serializer_context(self):
        """Opening an appliance of the model asked for adds its fuel and combustion."""
        context = super().get_serializer_context()
        model = self.request.query_params.get("fits") if self.request else None
        return context | ({"kind": known_model(model).kind} if model else {})


class PartDetail(WithCautions, generics.RetrieveAPIView):
    """One part."""

    permission_classes = [ForStaff]
    serializer_class = PartSerializer
    queryset = parts()

    def get_object(self):
        return found_or_404(self.get_queryset(), number=self.kwargs["part"])
