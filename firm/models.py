"""The firm's own facts: people, their phones, its settings, and what has been sent to it."""

from decimal import Decimal

from django.contrib.auth.models import AbstractUser
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from firm.constraints import AppendOnly


class UserQuerySet(models.QuerySet):
    def engineers(self):
        return self.filter(is_engineer=True, is_active=True).order_by("name")


class User(AbstractUser):
    """A person of the firm, with one role or more."""

    first_name = None
    last_name = None
    name = models.CharField(max_length=120, blank=True, help_text="As in the firm's files: Asha, or Asha Rao.")
    is_owner = models.BooleanField(default=False)
    is_office = models.BooleanField(default=False)
    is_engineer = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["name"], condition=~Q(name=""), name="user_name_is_unique"),
        ]

    def __str__(self):
        return self.name or self.username

    @property
    def sees_office(self):
        return self.is_owner or self.is_office or self.is_superuser

    @property
    def sees_owner(self):
        return self.is_owner or self.is_superuser

    def get_full_name(self):
        return str(self)

    def get_short_name(self):
        return str(self).split(" ")[0]


class Device(models.Model):
    """One phone of one person. Its token is kept only as a SHA-256 digest."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="devices")
    name = models.CharField(max_length=80)
    digest = models.BinaryField(max_length=32, unique=True, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    last_seen = models.DateTimeField(null=True, blank=True)
    expires_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["user", "name", "pk"]

    def __str__(self):
        return f"{self.name} ({self.user})"


class Setting(models.Model):
    """The one row of the firm. Money in the firm's currency, ex VAT."""

    firm_name = models.CharField(max_length=120, default="Our firm")
    currency = models.CharField(max_length=3, default="GBP", help_text="ISO 4217.")
    country = models.CharField(max_length=2, default="GB", help_text="ISO 3166-1.")
    time_zone = models.CharField(max_length=40, default="Europe/London")
    labour_cost = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal("32"), help_text="Per hour.")
    labour_charge = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal("64"), help_text="Per hour.")
    call_out = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal("45"))
    travel_cost = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal("12"), help_text="Per visit.")
    second_visit = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal("90"))
    merchant_run = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal("25"))
    holding_per_year = models.DecimalField(
        max_digits=5, decimal_places=4, default=Decimal("0.25"), help_text="Of the price of what is held."
    )
    restock_days = models.PositiveSmallIntegerField(default=7, validators=[MinValueValidator(1)])
    max_per_part = models.PositiveSmallIntegerField(default=4)
    care_window_months = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal("18"))
    service_interval_months = models.PositiveSmallIntegerField(default=12)
    target_first_visit_fix_rate = models.DecimalField(
        max_digits=4,
        decimal_places=3,
        default=Decimal("0.9"),
        validators=[MinValueValidator(0), MaxValueValidator(1)],
    )
    order_cost = models.DecimalField(
        max_digits=9, decimal_places=2, default=Decimal("8"), help_text="Placing and putting away one order line."
    )
    target_fill_rate = models.DecimalField(
        max_digits=4,
        decimal_places=3,
        default=Decimal("0.95"),
        validators=[MinValueValidator(0), MaxValueValidator(Decimal("0.999"))],
        help_text="Share of the vans’ top-ups that the store should have on its shelf.",
    )
    cost_prices_on_phones = models.BooleanField(default=False)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="setting_is_one_row")]

    def __str__(self):
        return self.firm_name

    @classmethod
    def current(cls):
        return cls.objects.filter(pk=1).first() or cls(pk=1)


class VatRate(models.Model):
    """A rate with the day from which it holds; never a constant in the code."""

    name = models.CharField(max_length=60)
    per_cent = models.DecimalField(max_digits=5, decimal_places=2)
    valid_from = models.DateField()

    class Meta:
        ordering = ["name", "-valid_from"]
        constraints = [
            models.UniqueConstraint(fields=["name", "valid_from"], name="vat_rate_once_a_day"),
            models.CheckConstraint(condition=Q(per_cent__gte=0), name="vat_rate_not_negative"),
        ]

    def __str__(self):
        return f"{self.name} {self.per_cent}% from {self.valid_from}"


class Sent(models.Model):
    """What was sent to us once: the sender's UUID, a digest of the content and the answer that it got.

    The same UUID with the same content gets the same answer again; with other content it is refused. Append-only.
    """

    uuid = models.UUIDField(unique=True)
    kind = models.CharField(max_length=24)
    digest = models.BinaryField(max_length=32)
    answer = models.JSONField(default=dict)
    number = models.PositiveBigIntegerField(null=True, blank=True, help_text="The phone's running number.")
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.PROTECT, related_name="sent")
    by = models.ForeignKey(User, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    happened_at = models.DateTimeField(null=True, blank=True, help_text="By the sender's clock; for showing only.")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        indexes = [models.Index(fields=["device", "number"], name="sent_device_number")]
        constraints = [AppendOnly(name="sent_append_only")]

    def __str__(self):
        return f"{self.kind} {self.uuid}"


class Refusal(models.Model):
    """What a phone sent and we could not book, with the reason, until somebody has dealt with it."""

    uuid = models.UUIDField(unique=True)
    kind = models.CharField(max_length=24)
    body = models.JSONField(default=dict)
    problem = models.JSONField(default=dict)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL, related_name="refusals")
    by = models.ForeignKey(User, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    at = models.DateTimeField(auto_now=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        ordering = ["-at"]

    def __str__(self):
        return f"{self.kind} {self.uuid}"
