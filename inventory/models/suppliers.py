"""Who sells a part, and for how much since when."""

from decimal import ROUND_HALF_UP, Decimal

from django.db import models
from django.db.models import OuterRef, Q, Subquery

from firm.constraints import AppendOnly
from inventory.models.catalogue import Part


class Supplier(models.Model):
    key = models.CharField(max_length=80, unique=True, help_text="As it stands in the column `supplier`.")
    name = models.CharField(max_length=160)
    lead_time_days = models.PositiveSmallIntegerField(default=1)
    same_day = models.BooleanField(default=False, help_text="Parts can be collected the same day.")
    carriage = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    carriage_free_over = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    email = models.EmailField(blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self):
        return self.name


class OfferQuerySet(models.QuerySet):
    def priced(self, on):
        """Annotate the price row that holds on a day: `price_id`, `price_per_pack`, `pack`, `minimum`, …"""
        newest = Price.objects.filter(offer=OuterRef("pk"), valid_from__lte=on).order_by("-valid_from", "-pk")
        wanted = ["pk", "price_ex_vat", "pack", "minimum", "vat_rate", "surcharge", "valid_from", "price_per_piece"]
        return self.annotate(**{f"now_{name}": Subquery(newest.values(name)[:1]) for name in wanted})


class Offer(models.Model):
    """A supplier's number for a part of ours."""

    class Availability(models.TextChoices):
        AVAILABLE = "available"
        BACK_ORDER = "back-order"
        ENDED = "ended"

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="offers")
    supplier_part = models.CharField(max_length=80)
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="offers")
    lead_time_days = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Empty: the supplier's.")
    same_day = models.BooleanField(null=True, blank=True, help_text="Empty: the supplier's.")
    availability = models.CharField(max_length=10, choices=Availability, default=Availability.AVAILABLE)
    back_order_until = models.DateField(null=True, blank=True)

    objects = OfferQuerySet.as_manager()

    class Meta:
        ordering = ["supplier__name", "supplier_part"]
        constraints = [models.UniqueConstraint(fields=["supplier", "supplier_part"], name="offer_number_once")]

    def __str__(self):
        return f"{self.supplier} {self.supplier_part}"


class PriceFile(models.Model):
    """One file of prices as it came, with what was made of it."""

    supplier = models.ForeignKey(Supplier, null=True, blank=True, on_delete=models.PROTECT, related_name="price_files")
    name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64, db_index=True)
    mapping = models.JSONField(default=dict, help_text="Our field -> the file's column; remembered for the next one.")
    valid_from = models.DateField(null=True, blank=True, help_text="Where the file has no such column.")
    content = models.BinaryField(null=True, editable=False, help_text="The file itself until it is booked.")
    booked_at = models.DateTimeField(null=True, blank=True)
    counts = models.JSONField(default=dict)
    errors = models.JSONField(default=list)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at"]

    def __str__(self):
        return self.name


class Price(models.Model):
    """What one pack of an offer costs from a day on. Append-only: a new price is a new row."""

    offer = models.ForeignKey(Offer, on_delete=models.PROTECT, related_name="prices")
    price_ex_vat = models.DecimalField(max_digits=12, decimal_places=4, help_text="Per pack.")
    pack = models.DecimalField(max_digits=9, decimal_places=3, default=Decimal(1), help_text="Pieces in a pack.")
    minimum = models.PositiveIntegerField(default=1, help_text="Packs.")
    vat_rate = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True, help_text="Per cent.")
    surcharge = models.DecimalField(
        max_digits=9, decimal_places=2, null=True, blank=True, help_text="Refunded when the old part comes back."
    )
    valid_from = models.DateField()
    price_file = models.ForeignKey(PriceFile, null=True, blank=True, on_delete=models.PROTECT, related_name="prices")
    price_per_piece = models.DecimalField(
        max_digits=14, decimal_places=4, help_text="Written with the row (per_piece): SQL never divides money."
    )

    class Meta:
        ordering = ["offer", "-valid_from"]
        constraints = [
            models.UniqueConstraint(fields=["offer", "valid_from"], name="price_once_a_day"),
            models.CheckConstraint(condition=Q(price_ex_vat__gte=0), name="price_not_negative"),
            models.CheckConstraint(condition=Q(pack__gt=0), name="price_pack_positive"),
            models.CheckConstraint(condition=Q(minimum__gte=1), name="price_minimum_positive"),
            AppendOnly(name="price_append_only"),
        ]

    def __str__(self):
        return f"{self.offer}: {self.price_ex_vat} from {self.valid_from}"

    @staticmethod
    def per_piece(price_ex_vat, pack):
        """Money per piece, to four places, half up."""
        return (Decimal(price_ex_vat) / Decimal(pack)).quantize(Decimal("0.0001"), ROUND_HALF_UP)
