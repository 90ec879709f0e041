"""Work that takes longer than a page may: begun once, worked off in the background, kept with its end."""

from datetime import timedelta

from django.db import models
from django.utils import timezone


class LongWork(models.Model):
    """A row that is worked off after it was begun. One of a kind runs at a time: the database sees to it."""

    QUIET = timedelta(minutes=10)  # without progress for so long, its process is gone

    event = models.UUIDField(unique=True)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    moved_at = models.DateTimeField(auto_now=True)
    running = models.BooleanField(null=True, unique=True, help_text="True while it is worked off: one at a time.")
    finished_at = models.DateTimeField(null=True, blank=True)
    problem = models.TextField(blank=True, help_text="Why it ended without a result.")

    class Meta:
        abstract = True
        ordering = ["-made_at", "-pk"]

    @property
    def state(self):
        """done, failed, stopped (its process died: run it again) or running."""
        if self.finished_at:
            return "failed" if self.problem else "done"
        return "stopped" if self.moved_at < timezone.now() - self.QUIET else "running"
