"""What a job is charged, and what a yearly service checked."""

from decimal import Decimal

from django.db import models
from django.db.models import Sum

from jobs.models.appliances import Appliance
from jobs.models.work import Job, Visit


class ChargeQuerySet(models.QuerySet):
    def total(self):
        return self.aggregate(total=Sum("amount_ex_vat"))["total"] or Decimal(0)


class Charge(models.Model):
    """An amount that a job is charged beside its parts. Amounts are of the whole line, ex VAT, as stored."""

    class Kind(models.TextChoices):
        CALL_OUT = "call-out", "Call-out"
        LABOUR = "labour"
        PART = "part"
        TRAVEL = "travel"
        OTHER = "other"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="charges")
    event = models.UUIDField(unique=True, null=True, blank=True)
    kind = models.CharField(max_length=8, choices=Kind)
    quantity = models.DecimalField(max_digits=12, decimal_places=3, null=True, blank=True)
    amount_ex_vat = models.DecimalField(max_digits=12, decimal_places=2)
    vat_rate = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True, help_text="Per cent.")
    vat = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True, help_text="Of this line.")
    description = models.CharField(max_length=240, blank=True)

    objects = ChargeQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self):
        return f"{self.get_kind_display()} {self.amount_ex_vat}"


class ServiceCheck(models.Model):
    """One check of a yearly service: what was looked at, read, and found."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="checks")
    appliance = models.ForeignKey(Appliance, on_delete=models.PROTECT, related_name="checks")
    what = models.CharField(max_length=160)
    reading = models.CharField(max_length=80, blank=True)
    good = models.BooleanField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self):
        return self.what
