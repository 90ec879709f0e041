"""Jobs, visits, what was found, fitted, needed and charged."""

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from inventory.models import ComponentType, Condition, Movement, Part, Place
from jobs.models.appliances import Appliance
from jobs.models.customers import Address, Contact
from jobs.models.symptoms import NoPartCause, Symptom


class JobQuerySet(models.QuerySet):
    def for_lists(self):
        return self.select_related("appliance__model", "appliance__customer", "address")


class Job(models.Model):
    """One piece of work at an address, from call to cash."""

    class Kind(models.TextChoices):
        BREAKDOWN = "breakdown"
        SERVICE = "service"
        PLANNED = "planned"
        INSTALLATION = "installation"
        OTHER = "other"

    class Urgency(models.TextChoices):
        TODAY = "today"
        SOON = "soon"
        WHEN_CONVENIENT = "when-convenient", "When convenient"

    class Verdict(models.TextChoices):
        SAME_PART = "same-part", "Same fault, part"
        WORKMANSHIP = "workmanship", "Our workmanship"
        ANOTHER_FAULT = "another-fault", "Another fault"
        CUSTOMER = "customer", "Customer"

    number = models.CharField(max_length=60, unique=True, help_text="As it stands in the column `job`.")
    event = models.UUIDField(unique=True, null=True, blank=True, help_text="Hidden in the form: sent twice, made once.")
    appliance = models.ForeignKey(Appliance, on_delete=models.PROTECT, related_name="jobs")
    also = models.ManyToManyField(Appliance, blank=True, related_name="also_in_jobs")
    address = models.ForeignKey(Address, null=True, blank=True, on_delete=models.PROTECT, related_name="jobs")
    kind = models.CharField(max_length=12, choices=Kind)
    reported_on = models.DateField(db_index=True)
    words = models.CharField(max_length=400, blank=True, help_text="Symptoms, in the customer's words.")
    symptoms = models.ManyToManyField(Symptom, blank=True, related_name="jobs")
    fault_code = models.CharField(max_length=40, blank=True)
    urgency = models.CharField(max_length=16, choices=Urgency, blank=True)
    called_by = models.ForeignKey(Contact, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    payer = models.CharField(max_length=120, blank=True, help_text="Who pays, where not the customer.")
    return_of = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="returns")
    verdict = models.CharField(max_length=14, choices=Verdict, blank=True)
    invoice_number = models.CharField(max_length=60, blank=True)
    invoiced = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True, help_text="Ex VAT.")
    paid = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True, help_text="Ex VAT.")
    closed_on = models.DateField(null=True, blank=True)

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["-reported_on", "-pk"]
        constraints = [models.CheckConstraint(condition=~Q(return_of=models.F("pk")), name="job_not_its_own_return")]

    def __str__(self):
        return f"{self.number} {self.get_kind_display()}"


class VisitQuerySet(models.QuerySet):
    def booked(self):
        return self.filter(outcome="")

    def of(self, user):
        return self.filter(engineers__engineer=user).distinct()

    def for_lists(self):
        return self.select_related(
            "job__appliance__model", "job__appliance__customer", "job__appliance__address", "place"
        ).prefetch_related("engineers__engineer")


class Visit(models.Model):
    """A booked slot and what came of it."""

    class Outcome(models.TextChoices):
        FIXED = "fixed"
        PART_NEEDED = "part-needed", "Part needed"
        NO_PART_NEEDED = "no-part-needed", "No part needed"
        TEMPORARY_REPAIR = "temporary-repair", "Temporary repair"
        MADE_SAFE = "made-safe", "Made safe"
        QUOTE_TO_AGREE = "quote-to-agree", "Quote to agree"
        DECLINED = "declined"
        FOR_OTHERS = "for-others", "For others"
        NO_ACCESS = "no-access", "No access"

    number = models.CharField(max_length=60, unique=True, help_text="As it stands in the column `visit`.")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="visits")
    on = models.DateField(db_index=True)
    time = models.TimeField(null=True, blank=True)
    place = models.ForeignKey(Place, null=True, blank=True, on_delete=models.PROTECT, related_name="visits")
    outcome = models.CharField(max_length=16, choices=Outcome, blank=True, help_text="Empty: booked.")
    note = models.CharField(max_length=400, blank=True)

    objects = VisitQuerySet.as_manager()

    class Meta:
        ordering = ["on", "time", "pk"]

    def __str__(self):
        return f"{self.number} on {self.on}"


class VisitEngineer(models.Model):
    """Who went, and for how many minutes."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="engineers")
    engineer = models.ForeignKey("firm.User", on_delete=models.PROTECT, related_name="visits")
    minutes = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["visit", "engineer"], name="visit_engineer_once")]

    def __str__(self):
        return f"{self.engineer}: {self.minutes} min"


class Finding(models.Model):
    """What was found: a component that failed, or a cause that needed no part."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="findings")
    appliance = models.ForeignKey(Appliance, on_delete=models.PROTECT, related_name="findings")
    component = models.ForeignKey(
        ComponentType, null=True, blank=True, on_delete=models.PROTECT, related_name="findings"
    )
    position = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MinValueValidator(1)])
    no_part_cause = models.CharField(max_length=24, choices=NoPartCause, blank=True)
    failure_mode = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(component__isnull=False) | ~Q(no_part_cause=""), name="finding_says_something"
            ),
        ]

    def __str__(self):
        return f"{self.visit_id}: {self.component or self.no_part_cause}"


class Why(models.TextChoices):
    FAILED = "failed", "It failed"
    PLANNED = "planned"
    RECALL = "recall", "Maker’s recall"
    UPGRADE = "upgrade"
    HAD_TO_COME_OFF = "had-to-come-off", "Had to come off"


class FittedQuerySet(models.QuerySet):
    def standing(self):
        """Without keying mistakes that were undone."""
        return self.filter(movement__undone_by=None)

    def uncharged(self):
        return self.standing().filter(charge_ex_vat=None, taken_out=None)


class Fitted(models.Model):
    """A part fitted on a visit: a fact, booked once, never changed but for its charge."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="fitted")
    appliance = models.ForeignKey(Appliance, on_delete=models.PROTECT, related_name="fitted")
    component = models.ForeignKey(ComponentType, on_delete=models.PROTECT, related_name="fitted")
    position = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MinValueValidator(1)])
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="fitted")
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    why = models.CharField(max_length=16, choices=Why)
    came_from = models.ForeignKey(
        Place, null=True, blank=True, on_delete=models.PROTECT, related_name="+", help_text="Empty: the visit's place."
    )
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="fitted")
    unit_cost = models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True, help_text="Empty: unknown.")
    cost = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True, help_text="Of the whole line.")
    charge_ex_vat = models.DecimalField(
        max_digits=12, decimal_places=2, null=True, blank=True, help_text="Of the whole line; empty: not charged."
    )
    vat_rate = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    charge_as_imported = models.BooleanField(default=False, help_text="The charge came with the firm's files.")

    objects = FittedQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "fitted"
        constraints = [models.CheckConstraint(condition=Q(quantity__gt=0), name="fitted_quantity_positive")]

    def __str__(self):
        return f"{self.quantity} × {self.part_id} on visit {self.visit_id}"


class TakenOut(models.Model):
    """A fitted part that came out again because it was not the fault: it renewed nothing."""

    fitted = models.OneToOneField(Fitted, on_delete=models.PROTECT, related_name="taken_out")
    condition = models.CharField(max_length=8, choices=[*Condition.choices, ("scrapped", "Scrapped")])
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="taken_out")
    on = models.DateField()
    by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "taken out"

    def __str__(self):
        return f"{self.fitted_id} out again"


class Needed(models.Model):
    """What was missing on a visit: demand that no stock record shows."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="needed")
    appliance = models.ForeignKey(Appliance, on_delete=models.PROTECT, related_name="needed")
    component = models.ForeignKey(ComponentType, on_delete=models.PROTECT, related_name="needed")
    part = models.ForeignKey(Part, null=True, blank=True, on_delete=models.PROTECT, related_name="needed")
    quantity = models.DecimalField(max_digits=12, decimal_places=3, default=Decimal(1))
    settled_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "needed"
        constraints = [models.CheckConstraint(condition=Q(quantity__gt=0), name="needed_quantity_positive")]

    def __str__(self):
        return f"{self.quantity} × {self.component_id} on visit {self.visit_id}"
