"""What was ordered from a supplier, and what really came."""

from decimal import Decimal

from django.db import models
from django.db.models import Q

from inventory.models.catalogue import Part
from inventory.models.stock import Movement, Place
from inventory.models.suppliers import Offer, Supplier


class OrderQuerySet(models.QuerySet):
    def open(self):
        return self.exclude(state=Order.State.CLOSED)


class Order(models.Model):
    class State(models.TextChoices):
        DRAFT = "draft"
        SENT = "sent"
        PART_RECEIVED = "part-received", "Part received"
        CLOSED = "closed"

    number = models.CharField(max_length=40, unique=True)
    event = models.UUIDField(unique=True, help_text="Hidden in the form: a browser may send it twice.")
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="orders")
    deliver_to = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=14, choices=State, default=State.DRAFT)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    sent_at = models.DateTimeField(null=True, blank=True)
    expected_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=240, blank=True)

    objects = OrderQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at"]

    def __str__(self):
        return f"{self.number} ({self.supplier})"


class OrderLine(models.Model):
    """Packs of an offer, at the price agreed; `job_number` names the job that waits for it."""

    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="lines")
    offer = models.ForeignKey(Offer, on_delete=models.PROTECT, related_name="order_lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="order_lines")
    packs = models.PositiveIntegerField()
    pack = models.DecimalField(max_digits=9, decimal_places=3, default=Decimal(1), help_text="Pieces in a pack.")
    price_ex_vat = models.DecimalField(max_digits=12, decimal_places=4, null=True, help_text="Per pack, agreed.")
    job_number = models.CharField(max_length=60, blank=True, db_index=True)
    back_order_until = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=Q(packs__gte=1), name="order_line_at_least_one_pack")]

    def __str__(self):
        return f"{self.packs} × {self.offer}"

    @property
    def pieces(self):
        return self.packs * self.pack


class Receipt(models.Model):
    """One delivery, or part of one."""

    event = models.UUIDField(unique=True)
    order = models.ForeignKey(Order, null=True, blank=True, on_delete=models.PROTECT, related_name="receipts")
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="receipts")
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    delivery_note = models.CharField(max_length=80, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey("firm.User", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at"]

    def __str__(self):
        return f"{self.supplier} {self.at:%Y-%m-%d}"


class ReceiptLine(models.Model):
    """What really came: the part received, short, wrong or damaged."""

    class Outcome(models.TextChoices):
        GOOD = "good"
        SHORT = "short"
        WRONG = "wrong"
        DAMAGED = "damaged"

    receipt = models.ForeignKey(Receipt, on_delete=models.CASCADE, related_name="lines")
    order_line = models.ForeignKey(OrderLine, null=True, blank=True, on_delete=models.PROTECT, related_name="receipts")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    quantity = models.DecimalField(max_digits=12, decimal_places=3, help_text="Pieces; of a short line, those missing.")
    outcome = models.CharField(max_length=8, choices=Outcome, default=Outcome.GOOD)
    unit_price = models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True, help_text="Per piece.")
    movement = models.OneToOneField(
        Movement, null=True, blank=True, on_delete=models.PROTECT, related_name="receipt_line"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=Q(quantity__gt=0), name="receipt_quantity_positive")]

    def __str__(self):
        return f"{self.quantity} × {self.part_id} ({self.outcome})"
