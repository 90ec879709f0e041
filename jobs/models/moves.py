"""What should change its place, as it was once worked out: so that a printed list stays what it was."""

from django.db import models
from django.db.models import Q

from inventory.models import Part, Place
from jobs.models.long_work import LongWork


class MoveList(LongWork):
    """One reckoning of the whole firm: moves as lines, expensive slow parts and dead stock as they stood that day."""

    as_of = models.DateField()
    slow = models.JSONField(default=list, help_text="Expensive slow parts and the place that should hold each.")
    dead = models.JSONField(default=list, help_text="Stock that nobody will need where it lies, and what to do.")

    def __str__(self):
        return f"Moves as of {self.as_of}"


class MoveLine(models.Model):
    """Pieces of one part to hand from one place to another, worth how much, why, and whether it was done."""

    class Kind(models.TextChoices):
        PASS = "pass", "Pass to another van"
        RETURN = "return", "Return to the store"

    moves = models.ForeignKey(MoveList, on_delete=models.CASCADE, related_name="lines")
    kind = models.CharField(max_length=6, choices=Kind)
    rank = models.PositiveSmallIntegerField(help_text="1: worth most of its kind.")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    giver = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    taker = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField()
    worth_per_year = models.DecimalField(max_digits=12, decimal_places=2)
    why = models.TextField(blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["kind", "rank"]
        constraints = [
            models.UniqueConstraint(fields=["moves", "kind", "rank"], name="move_line_rank_once"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="move_line_quantity_positive"),
            models.CheckConstraint(condition=~Q(giver=models.F("taker")), name="move_line_goes_somewhere"),
        ]

    def __str__(self):
        return f"{self.quantity} × {self.part_id}: {self.giver_id} → {self.taker_id}"
