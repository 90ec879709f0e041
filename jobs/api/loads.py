"""What each van should carry, as it was last proposed."""

from django.db.models import Prefetch
from rest_framework import generics, serializers

from firm.roles import ForStaff, sees_costs
from jobs.filters import LoadFilter
from jobs.models import LoadLine, LoadProposal

MONEY = ("price", "gain_per_year", "cost_of_fixing", "reason")


class LoadLineSerializer(serializers.ModelSerializer):
    part = serializers.CharField(source="part.number")
    description = serializers.CharField(source="part.description")
    reason = serializers.CharField(allow_null=True)

    class Meta:
        model = LoadLine
        fields = [
            "part", "description", "now", "proposed", "best", "price", "gain_per_year", "damped", "flips",
            "cost_of_fixing", "reason", "accepted_at",
        ]  # fmt: skip

    def to_representation(self, line):
        """Price, gain and the reason with its money only for those who see cost prices."""
        shown = super().to_representation(line)
        return shown if self.context["sees_costs"] else shown | dict.fromkeys(MONEY)


class LoadSerializer(serializers.ModelSerializer):
    van = serializers.CharField(source="van.key")
    result = serializers.SerializerMethodField(
        help_text="Spend, expected first-visit fix rate, frontier, method, warnings."
    )
    lines = LoadLineSerializer(many=True)

    class Meta:
        model = LoadProposal
        fields = ["id", "van", "as_of", "made_at", "accepted_at", "result", "lines"]

    def get_result(self, proposal) -> dict | None:
        return proposal.result if self.context["sees_costs"] else None


class LoadList(generics.ListAPIView):
    """Proposals, newest first, each with its lines and the reason of every one."""

    permission_classes = [ForStaff]
    serializer_class = LoadSerializer
    filterset_class = LoadFilter
    ordering = ("-made_at", "-pk")
    queryset = LoadProposal.objects.select_related("van").prefetch_related(
        Prefetch("lines", LoadLine.objects.select_related("part"))
    )

    def get_serializer_context(self):
        fake = getattr(self, "swagger_fake_view", False)
        return super().get_serializer_context() | {"sees_costs": fake or sees_costs(self.request.user)}
