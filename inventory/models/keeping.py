"""What a place should hold, what it holds for a job, and what was counted there."""

from django.db import models
from django.db.models import Q

from inventory.models.catalogue import Part
from inventory.models.stock import Place


class Held(models.Model):
    """A quantity in a place that is kept for one job: not free. `unit_cost` where it was bought for that job."""

    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="held")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="held")
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    job_number = models.CharField(max_length=60, db_index=True)
    until = models.DateField(null=True, blank=True)
    own_cost = models.BooleanField(default=False)
    unit_cost = models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True)
    since = models.DateTimeField(auto_now_add=True)
    released_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["since", "pk"]
        verbose_name_plural = "held"
        constraints = [models.CheckConstraint(condition=Q(quantity__gt=0), name="held_quantity_positive")]

    def __str__(self):
        return f"{self.quantity} × {self.part_id} for job {self.job_number}"


class CarryLevel(models.Model):
    """How many of a part a place should hold after each top-up; fixed where `fixed_until` or `why` says so."""

    place = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="carry_levels")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="carry_levels")
    level = models.PositiveIntegerField()
    fixed = models.BooleanField(default=False)
    fixed_by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    why = models.CharField(max_length=240, blank=True)
    until = models.DateField(null=True, blank=True)
    since = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["place", "part__number"]
        constraints = [models.UniqueConstraint(fields=["place", "part"], name="carry_level_once")]

    def __str__(self):
        return f"{self.place}: carry {self.level} × {self.part_id}"


class Count(models.Model):
    """A count of a place. It includes the events of that van's phone up to number `upto`."""

    event = models.UUIDField(unique=True)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="counts")
    upto = models.PositiveBigIntegerField(null=True, blank=True, help_text="Last event number that it includes.")
    device = models.ForeignKey("firm.Device", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    counted_at = models.DateTimeField()
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    file_sha256 = models.CharField(max_length=64, blank=True, help_text="Of the stock file that it came from.")

    class Meta:
        ordering = ["-counted_at", "-pk"]

    def __str__(self):
        return f"{self.place} counted {self.counted_at:%Y-%m-%d}"


class StockFile(models.Model):
    """A stock file that is not applied again: it was applied once, or it is our own export, a copy of the book."""

    sha256 = models.CharField(max_length=64, unique=True)
    exported = models.BooleanField(default=False)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-at"]

    def __str__(self):
        return f"{self.sha256[:12]} {self.at:%Y-%m-%d}"


class CountLine(models.Model):
    """What was found of one part, and what the book said at that moment."""

    count = models.ForeignKey(Count, on_delete=models.CASCADE, related_name="lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    book = models.DecimalField(max_digits=12, decimal_places=3)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["count", "part"], name="count_line_once"),
            models.CheckConstraint(condition=Q(quantity__gte=0), name="count_line_not_negative"),
        ]

    def __str__(self):
        return f"{self.part_id}: {self.quantity} (book {self.book})"


class CountWanted(models.Model):
    """A part in a place whose book is in doubt, until somebody counts it."""

    place = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="counts_wanted")
    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="+")
    why = models.CharField(max_length=240)
    since = models.DateTimeField(auto_now_add=True)
    done_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-since"]
        constraints = [
            models.UniqueConstraint(fields=["place", "part"], condition=Q(done_at=None), name="count_wanted_once")
        ]

    def __str__(self):
        return f"Count {self.part_id} in {self.place}"
