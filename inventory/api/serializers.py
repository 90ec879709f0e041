"""Stock as the API shows it, under the firm's own numbers and keys."""

from rest_framework import serializers

from inventory.models import Place, Stock, Supplier


class PlaceSerializer(serializers.ModelSerializer):
    place = serializers.CharField(source="key")
    engineer = serializers.CharField(source="engineer.name", default=None, allow_null=True)
    counts_wanted = serializers.IntegerField(
        source="to_count", help_text="Parts whose book is in doubt until somebody counts them."
    )

    class Meta:
        model = Place
        fields = ["place", "kind", "name", "engineer", "litres", "kilograms", "post_areas", "counts_wanted"]


class StockSerializer(serializers.ModelSerializer):
    part = serializers.CharField(source="part.number")
    description = serializers.CharField(source="part.description")
    unit = serializers.CharField(source="part.unit")
    free = serializers.DecimalField(max_digits=12, decimal_places=3, help_text="Kept for no job.")
    carry_level = serializers.IntegerField(allow_null=True, help_text="What it should hold; null: not agreed.")
    count_wanted = serializers.BooleanField()

    class Meta:
        model = Stock
        fields = ["part", "description", "unit", "condition", "on_hand", "free", "shelf", "carry_level", "count_wanted"]


class WhereSerializer(serializers.ModelSerializer):
    place = serializers.CharField(source="place.key")
    kind = serializers.CharField(source="place.kind")
    engineer = serializers.CharField(source="place.engineer.name", default=None, allow_null=True)
    free = serializers.DecimalField(max_digits=12, decimal_places=3)
    mine = serializers.SerializerMethodField(help_text="Whether it is the sender's van.")

    class Meta:
        model = Stock
        fields = ["place", "kind", "engineer", "condition", "on_hand", "free", "shelf", "mine"]

    def get_mine(self, row) -> bool:
        return row.place_id == self.context["my_van"]


class MerchantSerializer(serializers.Serializer):
    """Who sells it. The price only for those who see cost prices."""

    supplier = serializers.CharField(source="offer.supplier.key")
    supplier_part = serializers.CharField(source="offer.supplier_part")
    same_day = serializers.BooleanField()
    lead_time_days = serializers.IntegerField()
    pieces = serializers.DecimalField(max_digits=12, decimal_places=3, help_text="The least that one can buy.")
    price_per_piece = serializers.DecimalField(max_digits=14, decimal_places=4, allow_null=True)

    def to_representation(self, source):
        shown = super().to_representation(source)
        return shown if self.context["sees_costs"] else shown | {"price_per_piece": None}


class WherePageSerializer(serializers.Serializer):
    """Where a part is now, nearest first in the sense of most free, and which merchants sell it."""

    part = serializers.CharField()
    living = serializers.CharField(help_text="The number that has taken its place, else its own.")
    places = WhereSerializer(many=True)
    merchants = MerchantSerializer(many=True)


class SupplierSerializer(serializers.ModelSerializer):
    supplier = serializers.CharField(source="key")

    class Meta:
        model = Supplier
        fields = ["supplier", "name", "same_day", "lead_time_days"]
