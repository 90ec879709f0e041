"""What each van should carry: proposals, what was accepted of them, and how they would have done in the past."""

from django.db import models

from inventory.models import Part, Place
from jobs.models.long_work import LongWork


class LoadProposal(models.Model):
    """One proposal for one van, with the numbers that it came from."""

    event = models.UUIDField(unique=True)
    van = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="proposals")
    as_of = models.DateField()
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    inputs = models.JSONField(default=dict, help_text="Money, horizon, limits.")
    result = models.JSONField(default=dict, help_text="Spend, fix rate, binding, frontier, method, warnings.")
    accepted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]

    def __str__(self):
        return f"{self.van} as of {self.as_of}"


class LoadLine(models.Model):
    """One part of a proposal: level now, proposed, what a change saves in a year, and why."""

    proposal = models.ForeignKey(LoadProposal, on_delete=models.CASCADE, related_name="lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    now = models.PositiveIntegerField()
    proposed = models.PositiveIntegerField()
    price = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    gain_per_year = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    reason = models.TextField(blank=True)
    best = models.PositiveIntegerField(null=True, blank=True, help_text="The level that pays best, handling aside.")
    damped = models.BooleanField(default=False, help_text="Left as it is: the change is not worth its handling now.")
    flips = models.BooleanField(default=False, help_text="Another level at half or twice the cost of a second visit.")
    cost_of_fixing = models.DecimalField(
        max_digits=12, decimal_places=2, null=True, blank=True, help_text="What the fixed level loses in a year."
    )
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["part__number"]
        constraints = [models.UniqueConstraint(fields=["proposal", "part"], name="load_line_part_once")]

    def __str__(self):
        return f"{self.part_id}: {self.now} → {self.proposed}"


class BackTest(LongWork):
    """The firm's past replayed against its proposals: inputs, how far it is, and the result once it is done."""

    first = models.DateField()
    last = models.DateField()
    inputs = models.JSONField(default=dict, help_text="Money, restock days and limits as they were set.")
    steps = models.PositiveSmallIntegerField(default=0, help_text="Windows to replay.")
    done = models.PositiveSmallIntegerField(default=0, help_text="Windows replayed.")
    result = models.JSONField(default=dict)

    def __str__(self):
        return f"{self.first} to {self.last}"
