"""Where parts are: places, the append-only ledger of movements, and the balances that follow from it."""

from decimal import Decimal

from django.apps import apps
from django.db import models
from django.db.models import F, Q, Sum
from django.db.models.functions import Coalesce

from firm.constraints import AppendOnly
from inventory.models.catalogue import Part
from inventory.models.suppliers import Supplier


class PlaceQuerySet(models.QuerySet):
    def held(self):
        """Places whose stock we own and count: the store and the vans."""
        return self.filter(kind__in=Place.HELD)

    def vans(self):
        return self.filter(kind=Place.Kind.VAN)


class Place(models.Model):
    """The store, a van, or a counter-place that the ledger needs as the other end of a movement."""

    class Kind(models.TextChoices):
        STORE = "store"
        VAN = "van"
        SUPPLIER = "supplier"
        FITTED = "fitted"
        SCRAP = "scrap"
        COUNT_DIFFERENCE = "count-difference"
        BEFORE_THE_BOOK = "before-the-book"
        STOLEN_OR_LOST = "stolen-or-lost"
        CUSTOMERS_OWN = "customers-own"

    HELD = (Kind.STORE, Kind.VAN)

    key = models.CharField(max_length=80, unique=True, help_text="As it stands in the column `place`.")
    kind = models.CharField(max_length=16, choices=Kind)
    name = models.CharField(max_length=160, blank=True)
    engineer = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="places")
    supplier = models.OneToOneField(Supplier, null=True, blank=True, on_delete=models.PROTECT, related_name="place")
    litres = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True, help_text="Empty: no limit.")
    kilograms = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True, help_text="Empty: no limit.")
    budget = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True, help_text="Empty: no limit.")
    post_areas = models.JSONField(default=list, help_text="Post areas that a van serves.")
    retired_on = models.DateField(null=True, blank=True)

    objects = PlaceQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "key"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="supplier", supplier__isnull=False) | (~Q(kind="supplier") & Q(supplier__isnull=True)),
                name="place_supplier_fits_kind",
            ),
            models.UniqueConstraint(
                fields=["kind"], condition=~Q(kind__in=["store", "van", "supplier"]), name="place_counter_place_once"
            ),
        ]

    def __str__(self):
        return self.name or self.key

    @property
    def is_held(self):
        return self.kind in self.HELD


class VanUse(models.Model):
    """Who drives which van from when until when."""

    van = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="uses")
    engineer = models.ForeignKey("firm.User", on_delete=models.PROTECT, related_name="van_uses")
    since = models.DateField()
    until = models.DateField(null=True, blank=True, help_text="The last day; empty: until further notice.")

    class Meta:
        ordering = ["van", "-since"]
        constraints = [
            models.CheckConstraint(condition=Q(until=None) | Q(until__gte=F("since")), name="van_use_ends_after_start"),
        ]

    def __str__(self):
        return f"{self.engineer}: {self.van} from {self.since}"


class Condition(models.TextChoices):
    NEW = "new"
    OPENED = "opened"


class Movement(models.Model):
    """A positive quantity of one part from one place to another. Append-only: a mistake is undone by its opposite."""

    class Reason(models.TextChoices):
        RECEIVED = "received"
        STOCK_FILE = "stock-file", "Opening stock"
        HISTORY = "history", "Fitted before the book"
        TOP_UP = "top-up", "Van topped up"
        PASSED_ON = "passed-on", "Passed to another van"
        BOUGHT = "bought", "Bought at the counter"
        FITTED = "fitted"
        TAKEN_OUT = "taken-out", "Taken out again"
        SCRAPPED = "scrapped"
        COUNTED = "counted", "Count difference"
        NOT_IN_BOOK = "not-in-book", "The book said there was none"
        LATE_NEWS = "late-news", "Already in the count"
        RETURNED = "returned", "Returned to the supplier"
        INTO_STOCK = "into-stock", "No longer kept for a job"
        LOST = "lost", "Stolen or lost"
        UNDONE = "undone", "Keying mistake undone"

    event = models.UUIDField(help_text="The sender's UUID; one event may need several lines.")
    line = models.PositiveSmallIntegerField(default=1)
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="movements")
    quantity = models.DecimalField(max_digits=12, decimal_places=3, help_text="In the part's unit.")
    source = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="movements_out")
    destination = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="movements_in")
    condition = models.CharField(max_length=6, choices=Condition, default=Condition.NEW)
    reason = models.CharField(max_length=12, choices=Reason)
    unit_cost = models.DecimalField(
        max_digits=14, decimal_places=4, null=True, blank=True, help_text="Ex VAT; empty: unknown, never nil."
    )
    own_cost = models.BooleanField(default=False, help_text="Bought for a job: at its own cost, outside the average.")
    job_number = models.CharField(max_length=60, blank=True)
    undoes = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="undone_by")
    ticket = models.CharField(max_length=80, blank=True, help_text="The merchant's ticket.")
    note = models.CharField(max_length=240, blank=True)
    happened_at = models.DateTimeField(help_text="When it happened, by whoever reports it.")
    at = models.DateTimeField(auto_now_add=True, help_text="When it was booked.")
    by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(fields=["part", "source"], name="movement_part_source"),
            models.Index(fields=["part", "destination"], name="movement_part_destination"),
            models.Index(fields=["happened_at"], name="movement_happened_at"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["event", "line"], name="movement_event_line_once"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="movement_quantity_positive"),
            models.CheckConstraint(condition=~Q(source=F("destination")), name="movement_goes_somewhere"),
            models.CheckConstraint(
                condition=Q(unit_cost=None) | Q(unit_cost__gte=0), name="movement_cost_not_negative"
            ),
            AppendOnly(name="movement_append_only"),
        ]

    def __str__(self):
        return f"{self.quantity} × {self.part_id}: {self.source_id} → {self.destination_id} ({self.reason})"


class PassConfirmed(models.Model):
    """The other side's record of a hand-over that stood in the book already: two records of one become one."""

    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="confirmed")
    event = models.UUIDField(unique=True)
    by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        verbose_name_plural = "passes confirmed"

    def __str__(self):
        return f"{self.movement_id} confirmed"


class CostCorrection(models.Model):
    """What a movement really cost, learned later from the invoice. Append-only; the newest row counts."""

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="corrections")
    unit_cost = models.DecimalField(max_digits=14, decimal_places=4)
    why = models.CharField(max_length=240)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(unit_cost__gte=0), name="cost_correction_not_negative"),
            AppendOnly(name="cost_correction_append_only"),
        ]

    def __str__(self):
        return f"{self.movement_id}: {self.unit_cost}"


class StockQuerySet(models.QuerySet):
    def there(self):
        return self.filter(on_hand__gt=0)

    def free(self):
        """Annotate `held_for_jobs` and `free`: what is on hand and kept for no job."""
        held = apps.get_model("inventory", "Held").objects.filter(
            place=models.OuterRef("place"), part=models.OuterRef("part"), released_at=None
        )
        total = held.values("part").annotate(total=Sum("quantity")).values("total")
        zero = models.Value(Decimal(0), output_field=models.DecimalField(max_digits=12, decimal_places=3))
        return self.annotate(held_for_jobs=Coalesce(models.Subquery(total), zero)).annotate(
            free=F("on_hand") - F("held_for_jobs")
        )


class Stock(models.Model):
    """The balance of one part in one held place, changed in the transaction of each movement."""

    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="stock")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="stock")
    condition = models.CharField(max_length=6, choices=Condition, default=Condition.NEW)
    on_hand = models.DecimalField(max_digits=12, decimal_places=3, default=Decimal(0))
    shelf = models.CharField(max_length=40, blank=True, help_text="Shelf or bin within the place.")

    objects = StockQuerySet.as_manager()

    class Meta:
        ordering = ["place", "part__number", "condition"]
        verbose_name_plural = "stock"
        constraints = [
            models.UniqueConstraint(fields=["place", "part", "condition"], name="stock_once"),
            models.CheckConstraint(condition=Q(on_hand__gte=0), name="stock_never_negative"),
        ]

    def __str__(self):
        return f"{self.place}: {self.on_hand} × {self.part_id}"


class AverageCost(models.Model):
    """The weighted average cost of what the firm holds of a part (without what was bought for a job)."""

    part = models.OneToOneField(Part, on_delete=models.PROTECT, related_name="average")
    held = models.DecimalField(max_digits=14, decimal_places=3, default=Decimal(0))
    unit_cost = models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(held__gte=0), name="average_cost_held_not_negative")]

    def __str__(self):
        return f"{self.part_id}: {self.unit_cost}"
