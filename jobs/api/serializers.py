"""Work as the API shows it, under the firm's own numbers and keys."""

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from jobs.api.cautions import WarningsSerializer
from jobs.cautions import LICENSED, OPENING
from jobs.models import Appliance, Charge, Finding, Fitted, Job, Needed, Visit


def text(source, **kwargs):
    """What stands at the end of a path of relations, or null where one of them is empty."""
    return serializers.CharField(source=source, default=None, allow_null=True, read_only=True, **kwargs)


class ApplianceSerializer(serializers.ModelSerializer):
    appliance = serializers.CharField(source="number")
    model = serializers.CharField(source="model.key")
    model_name = serializers.CharField(source="model.name")
    maker = serializers.CharField(source="model.maker")
    kind = serializers.CharField(source="model.kind")
    customer = text("customer.number")
    customer_name = text("customer.name")
    phone = text("customer.phone")
    address = text("address.text")
    post_area = text("address.post_area")
    access_note = text("address.access_note")

    class Meta:
        model = Appliance
        fields = ["appliance", "model", "model_name", "maker", "kind", "serial", "installed_on", "installed_precision"]
        fields += ["in_care_from", "in_care_until", "makers_warranty_until", "cover_plan", "payer"]
        fields += ["customer", "customer_name", "phone", "address", "post_area", "access_note"]


class VisitSerializer(serializers.ModelSerializer):
    visit = serializers.CharField(source="number")
    job = serializers.CharField(source="job.number")
    kind = serializers.CharField(source="job.kind")
    place = text("place.key", help_text="The van.")
    engineers = serializers.SerializerMethodField()
    words = serializers.CharField(source="job.words", help_text="What the customer said.")
    fault_code = serializers.CharField(source="job.fault_code")
    urgency = serializers.CharField(source="job.urgency")
    appliance = ApplianceSerializer(source="job.appliance")
    hazards = serializers.SerializerMethodField(
        help_text="What opening the appliance brings; one visit has it in full."
    )
    licence = serializers.SerializerMethodField(help_text="Whose work this is.")

    class Meta:
        model = Visit
        fields = ["visit", "job", "kind", "on", "time", "place", "outcome", "note", "engineers"]
        fields += ["words", "fault_code", "urgency", "appliance", "hazards", "licence"]

    def get_engineers(self, visit) -> list[str]:
        return [str(row.engineer) for row in visit.engineers.all()]

    def get_hazards(self, visit) -> list[str]:
        return sorted(OPENING.get(visit.job.appliance.model.kind, ()))

    def get_licence(self, visit) -> str:
        return LICENSED if self.get_hazards(visit) else ""


class FittedSerializer(serializers.ModelSerializer):
    id = serializers.UUIDField(source="movement.event")
    fitted = serializers.IntegerField(source="pk")
    part = serializers.CharField(source="part.number")
    description = serializers.CharField(source="part.description")
    component = serializers.CharField(source="component.key")
    appliance = serializers.CharField(source="appliance.number")
    taken_out = text("taken_out.condition", help_text="In which condition it came out again; null: it is in.")
    unit_cost = serializers.SerializerMethodField(help_text="Only for those who see cost prices; null: unknown.")

    class Meta:
        model = Fitted
        fields = ["id", "fitted", "part", "description", "component", "appliance", "position", "quantity", "why"]
        fields += ["taken_out", "charge_ex_vat", "unit_cost"]

    def get_unit_cost(self, row) -> float | None:
        return row.unit_cost if self.context["sees_costs"] else None


class NeededSerializer(serializers.ModelSerializer):
    component = serializers.CharField(source="component.key")
    part = text("part.number")

    class Meta:
        model = Needed
        fields = ["component", "part", "quantity", "settled_on"]


class FindingSerializer(serializers.ModelSerializer):
    component = text("component.key")

    class Meta:
        model = Finding
        fields = ["component", "position", "no_part_cause", "failure_mode"]


class ModelComponentSerializer(serializers.Serializer):
    """A component of this appliance, with what its class demands."""

    component = serializers.CharField(source="component.key")
    name = serializers.CharField(source="component.name")
    count = serializers.IntegerField()
    hazards = serializers.ListField(child=serializers.CharField(), source="component.hazards")
    approved_new_only = serializers.BooleanField(source="component.approved_new_only")
    approved_reason = serializers.CharField(source="component.approved_reason")
    after_fitting = serializers.ListField(child=serializers.CharField(), source="component.after_fitting")


class VisitDetailSerializer(VisitSerializer):
    """A visit with what was fitted, needed and found, and the components that may be worked on."""

    fitted = FittedSerializer(many=True)
    needed = NeededSerializer(many=True)
    findings = FindingSerializer(many=True)
    components = ModelComponentSerializer(source="job.appliance.model.holds", many=True)
    warnings = serializers.SerializerMethodField()

    class Meta(VisitSerializer.Meta):
        fields = [*VisitSerializer.Meta.fields, "fitted", "needed", "findings", "components", "warnings"]

    def get_warnings(self, visit) -> WarningsSerializer:
        model = visit.job.appliance.model
        held = [row.component for row in model.holds.all()]
        return self.context["cautions"].of(held, model.kind) | {"after_fitting": []}


class VisitInJobSerializer(serializers.ModelSerializer):
    visit = serializers.CharField(source="number")

    class Meta:
        model = Visit
        fields = ["visit", "on", "time", "outcome"]


class JobSerializer(serializers.ModelSerializer):
    job = serializers.CharField(source="number")
    symptoms = serializers.SlugRelatedField(slug_field="key", many=True, read_only=True)
    return_of = text("return_of.number", help_text="The job that it returns to.")
    appliance = ApplianceSerializer()
    visits = VisitInJobSerializer(many=True)

    class Meta:
        model = Job
        fields = ["job", "kind", "reported_on", "words", "symptoms", "fault_code", "urgency", "return_of", "verdict"]
        fields += ["payer", "closed_on", "appliance", "visits"]


class ChargeSerializer(serializers.ModelSerializer):
    class Meta:
        model = Charge
        fields = ["kind", "quantity", "amount_ex_vat", "vat_rate", "vat", "description"]


class JobMoneySerializer(serializers.Serializer):
    """Ex VAT, in the firm's currency. Costs that are unknown are counted, never taken as nil."""

    sales = serializers.DecimalField(max_digits=14, decimal_places=2)
    parts_cost = serializers.DecimalField(max_digits=14, decimal_places=2)
    labour_cost = serializers.DecimalField(max_digits=14, decimal_places=2)
    travel_cost = serializers.DecimalField(max_digits=14, decimal_places=2)
    margin = serializers.DecimalField(max_digits=14, decimal_places=2)
    parts_of_unknown_cost = serializers.IntegerField()
    fitted_not_charged = serializers.IntegerField()


class JobDetailSerializer(JobSerializer):
    """A job with its charges; `money` only for those who see cost prices."""

    charges = ChargeSerializer(many=True)
    money = serializers.SerializerMethodField()

    class Meta(JobSerializer.Meta):
        fields = [*JobSerializer.Meta.fields, "charges", "money"]

    @extend_schema_field(JobMoneySerializer(allow_null=True))
    def get_money(self, job):
        money = self.context["money"]
        return JobMoneySerializer(money).data if money else None
