"""The usual cautions as the API shows them, wherever a component is shown to be worked on."""

from rest_framework import serializers

from inventory.models import Caution
from jobs.cautions import LICENSED, OPENING


class CautionSerializer(serializers.ModelSerializer):
    class Meta:
        model = Caution
        fields = ["hazard", "title", "cautions", "licence", "emergency"]


class WarningsSerializer(serializers.Serializer):
    """Cautions of the components' hazard classes and of opening this kind of appliance."""

    hazards = serializers.ListField(child=serializers.CharField())
    cautions = CautionSerializer(many=True)
    licence = serializers.CharField(help_text="Whose work this is; empty where no hazard class is touched.")
    approved_new_only = serializers.BooleanField()
    approved_reason = serializers.CharField()
    after_fitting = serializers.ListField(child=serializers.CharField(), help_text="Checks to do after fitting.")


class Cautions:
    """The table of cautions, read once for a whole page of rows."""

    def __init__(self):
        self.rows = {row["hazard"]: row for row in CautionSerializer(Caution.objects.all(), many=True).data}

    def of(self, components, kind=""):
        hazards = set(OPENING.get(kind, ())).union(*(component.hazards for component in components))
        approved = [component for component in components if component.approved_new_only]
        return {
            "hazards": sorted(hazards),
            "cautions": [row for hazard, row in self.rows.items() if hazard in hazards],
            "licence": LICENSED if hazards else "",
            "approved_new_only": bool(approved),
            "approved_reason": " ".join(component.approved_reason for component in approved),
            "after_fitting": list(dict.fromkeys(check for c in components for check in c.after_fitting)),
        }


def cautions_of(components, kind=""):
    return Cautions().of(components, kind)
