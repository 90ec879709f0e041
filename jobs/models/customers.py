"""Personal data, kept apart from what reliability needs, so that it can be erased while the history stays."""

from django.db import models


class Customer(models.Model):
    number = models.CharField(max_length=60, unique=True, help_text="As it stands in the column `customer`.")
    name = models.CharField(max_length=200, blank=True)
    phone = models.CharField(max_length=60, blank=True)
    email = models.CharField(max_length=254, blank=True)
    billing_address = models.CharField(max_length=300, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name", "number"]

    def __str__(self):
        return self.name or self.number


class Address(models.Model):
    """Where appliances stand. An address may lie within another: block, flat, plant room."""

    customer = models.ForeignKey(Customer, null=True, blank=True, on_delete=models.PROTECT, related_name="addresses")
    text = models.CharField(max_length=300)
    post_area = models.CharField(max_length=20, blank=True, db_index=True)
    access_note = models.CharField(max_length=300, blank=True)
    phone = models.CharField(max_length=60, blank=True)
    within = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="holds")

    class Meta:
        ordering = ["text"]
        verbose_name_plural = "addresses"
        indexes = [models.Index(fields=["text"], name="address_text")]

    def __str__(self):
        return self.text


class Contact(models.Model):
    class Role(models.TextChoices):
        OWNER = "owner"
        TENANT = "tenant"
        AGENT = "agent"
        CARETAKER = "caretaker"

    customer = models.ForeignKey(Customer, on_delete=models.CASCADE, related_name="contacts")
    address = models.ForeignKey(Address, null=True, blank=True, on_delete=models.SET_NULL, related_name="contacts")
    name = models.CharField(max_length=200)
    role = models.CharField(max_length=10, choices=Role, default=Role.OWNER)
    phones = models.JSONField(default=list)
    email = models.CharField(max_length=254, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self):
        return f"{self.name} ({self.get_role_display()})"
