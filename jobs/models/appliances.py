"""The appliances in care, and what is known of their components from before."""

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from inventory.models import ApplianceModel, ComponentType
from jobs.models.customers import Address, Customer


class Precision(models.TextChoices):
    DAY = "day"
    MONTH = "month"
    YEAR = "year"
    UNKNOWN = "unknown"


class ApplianceQuerySet(models.QuerySet):
    def in_care(self, on):
        return self.exclude(in_care_until__lt=on)

    def for_lists(self):
        return self.select_related("model", "address", "customer")


class Appliance(models.Model):
    """One boiler, heat pump, cylinder, wet system or set of controls.

    Imprecise dates stand as the first day of their month or year, with their precision beside them.
    """

    number = models.CharField(max_length=60, unique=True, help_text="As it stands in the column `appliance`.")
    customer = models.ForeignKey(Customer, null=True, blank=True, on_delete=models.PROTECT, related_name="appliances")
    address = models.ForeignKey(Address, null=True, blank=True, on_delete=models.PROTECT, related_name="appliances")
    model = models.ForeignKey(ApplianceModel, on_delete=models.PROTECT, related_name="appliances")
    serial = models.CharField(max_length=80, blank=True)
    installed_on = models.DateField(null=True, blank=True)
    installed_precision = models.CharField(max_length=7, choices=Precision, default=Precision.UNKNOWN)
    in_care_from = models.DateField(null=True, blank=True, help_text="Empty: the first contact, else `entered_on`.")
    entered_on = models.DateField(help_text="The day on which it was entered here.")
    in_care_until = models.DateField(null=True, blank=True)
    end_reason = models.CharField(max_length=200, blank=True)
    on_service = models.BooleanField(null=True, blank=True, help_text="On a yearly service.")
    makers_warranty_until = models.DateField(null=True, blank=True)
    cover_plan = models.CharField(max_length=120, blank=True)
    payer = models.CharField(max_length=120, blank=True, help_text="Who pays, where not the customer.")

    objects = ApplianceQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.CheckConstraint(
                condition=Q(installed_on=None, installed_precision="unknown")
                | (Q(installed_on__isnull=False) & ~Q(installed_precision="unknown")),
                name="appliance_installed_has_precision",
            ),
        ]

    def __str__(self):
        return f"{self.number} {self.model}"


class Earlier(models.Model):
    """What is known of one component position from before care: renewed when, or the original."""

    appliance = models.ForeignKey(Appliance, on_delete=models.CASCADE, related_name="earlier")
    component = models.ForeignKey(ComponentType, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    renewed_on = models.DateField(null=True, blank=True, help_text="Empty: it is the original.")
    precision = models.CharField(max_length=7, choices=Precision, default=Precision.UNKNOWN)

    class Meta:
        ordering = ["appliance", "component", "position"]
        verbose_name_plural = "earlier"
        constraints = [
            models.UniqueConstraint(fields=["appliance", "component", "position"], name="earlier_position_once"),
            models.CheckConstraint(
                condition=Q(renewed_on=None, precision="unknown")
                | (Q(renewed_on__isnull=False) & ~Q(precision="unknown")),
                name="earlier_renewed_has_precision",
            ),
        ]

    def __str__(self):
        return f"{self.appliance_id} {self.component_id} {self.position}"
