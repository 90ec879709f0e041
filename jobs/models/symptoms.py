"""What customers say, what it usually is, and what an appliance usually holds: the trade's tables."""

from django.db import models
from django.db.models import Q

from inventory.models import ApplianceKind, ComponentType


class NoPartCause(models.TextChoices):
    """Causes that need no part; the keys of the trade's symptom table."""

    AIR_IN_SYSTEM = "air-in-system", "Air in the system"
    BLOCKED_FLUE_TERMINAL = "blocked-flue-terminal", "Blocked flue terminal"
    CLOSED_VALVE = "closed-valve", "Closed valve"
    CONTROL_NOT_CALLING = "control-not-calling", "Control not calling"
    FROZEN_CONDENSATE = "frozen-condensate", "Frozen condensate"
    LOW_PRESSURE = "low-pressure", "Low pressure"
    NO_FUEL = "no-fuel", "No fuel"
    SLUDGE = "sludge", "Sludge"
    TRIPPED_SUPPLY = "tripped-supply", "Tripped supply"
    WRONG_SETTING = "wrong-setting", "Wrong setting, or works as it should"


class Symptom(models.Model):
    """What a customer says, what to ask, what may safely be tried, and when to stop at once."""

    key = models.CharField(max_length=60, unique=True)
    customer_words = models.JSONField(default=list)
    ask = models.JSONField(default=list)
    safe_checks = models.JSONField(default=list)
    stop = models.TextField(blank=True)

    class Meta:
        ordering = ["key"]

    def __str__(self):
        return self.customer_words[0] if self.customer_words else self.key


class Cause(models.Model):
    """One usual cause of a symptom with its prior share (common practice, no source)."""

    symptom = models.ForeignKey(Symptom, on_delete=models.CASCADE, related_name="causes")
    component = models.ForeignKey(ComponentType, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    no_part = models.CharField(max_length=24, choices=NoPartCause, blank=True)
    share = models.DecimalField(max_digits=6, decimal_places=4)
    kinds = models.JSONField(default=list)
    quick_test = models.TextField(blank=True)
    basis = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["symptom", "-share", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(component=None) & ~Q(no_part="")) | (Q(component__isnull=False) & Q(no_part="")),
                name="cause_is_component_or_no_part",
            ),
        ]

    def __str__(self):
        return f"{self.symptom_id}: {self.component or self.no_part}"


def usual_components(kind):
    """Component types that an appliance of this kind usually holds, with their count (trade table)."""
    if kind not in ApplianceKind.values:
        return {}
    return {row: row.usual_count[kind] for row in ComponentType.objects.all() if row.usual_count.get(kind)}
