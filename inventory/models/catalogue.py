"""What appliances are made of, and the parts that renew it."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

HAZARDS = ["pressurised-hot-water", "mains", "combustion", "gas", "oil", "refrigerant"]


class ApplianceKind(models.TextChoices):
    GAS_COMBI = "gas-combi", "Gas combi"
    GAS_SYSTEM = "gas-system", "Gas system boiler"
    GAS_REGULAR = "gas-regular", "Gas regular boiler"
    OIL = "oil", "Oil boiler"
    HEAT_PUMP = "heat-pump", "Heat pump"
    UNVENTED_CYLINDER = "unvented-cylinder", "Unvented cylinder"
    WET_SYSTEM = "wet-system", "Wet system"
    CONTROLS = "controls", "Controls"
    OTHER = "other", "Other"


class Caution(models.Model):
    """The usual cautions of one hazard class, and who may do such work."""

    hazard = models.CharField(max_length=24, unique=True, choices=[(h, h) for h in HAZARDS])
    title = models.CharField(max_length=120)
    cautions = models.JSONField(default=list, help_text="Sentences.")
    licence = models.TextField()
    licence_uk = models.TextField(blank=True)
    emergency = models.TextField(blank=True)
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["order", "hazard"]

    def __str__(self):
        return self.title


class ComponentType(models.Model):
    """A kind of component: what it does, what makes it dangerous, how long it is thought to last."""

    class Wears(models.TextChoices):
        EARLY_LIFE = "early-life", "Early failures"
        RANDOM = "random", "At any age"
        WEAR_OUT = "wear-out", "Wears out"

    key = models.CharField(max_length=60, unique=True)
    name = models.CharField(max_length=120)
    plain = models.TextField(blank=True, help_text="What it does, in a sentence.")
    kinds = models.JSONField(default=list, help_text="Kinds of appliance that it belongs to.")
    hazards = models.JSONField(default=list)
    approved_new_only = models.BooleanField(default=False)
    approved_reason = models.TextField(blank=True)
    hours_low = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    hours_usual = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    hours_high = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    drain_down = models.BooleanField(default=False)
    after_fitting = models.JSONField(default=list, help_text="Checks to do after fitting.")
    failure_modes = models.JSONField(default=list)
    wears = models.CharField(max_length=10, choices=Wears, blank=True)
    wears_why = models.TextField(blank=True)
    prior_failures_per_100_years = models.DecimalField(max_digits=8, decimal_places=4, null=True, blank=True)
    prior_source = models.CharField(max_length=200, blank=True)
    assumed_life_years = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    life_source = models.CharField(max_length=300, blank=True)
    usual_count = models.JSONField(default=dict, help_text="How many in one appliance, by kind.")
    covered_by_kits = models.JSONField(default=list)
    shelf_litres = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    shelf_kilograms = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    from_trade_table = models.BooleanField(default=False, help_text="False once the firm has its own row.")

    class Meta:
        ordering = ["name"]

    def __str__(self):
        return self.name


class ApplianceModel(models.Model):
    """A model of appliance with the components that it holds."""

    key = models.CharField(max_length=80, unique=True, help_text="As it stands in the column `model`.")
    maker = models.CharField(max_length=120, blank=True)
    name = models.CharField(max_length=160)
    kind = models.CharField(max_length=20, choices=ApplianceKind, default=ApplianceKind.GAS_COMBI)
    uk_number = models.CharField(max_length=10, blank=True, help_text="UK gas appliance number, 00-000-00.")
    components = models.ManyToManyField(ComponentType, through="ModelComponent", related_name="models")
    from_trade_table = models.BooleanField(default=False, help_text="Made by kind, for want of a row of the firm's.")

    class Meta:
        ordering = ["name", "key"]

    def __str__(self):
        return self.name


class ModelComponent(models.Model):
    """How many of a component type one appliance of the model holds."""

    model = models.ForeignKey(ApplianceModel, on_delete=models.CASCADE, related_name="holds")
    component = models.ForeignKey(ComponentType, on_delete=models.PROTECT, related_name="held_by")
    count = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["component__name"]
        constraints = [
            models.UniqueConstraint(fields=["model", "component"], name="model_component_once"),
            models.CheckConstraint(condition=Q(count__gte=1), name="model_component_at_least_one"),
        ]

    def __str__(self):
        return f"{self.model}: {self.count} × {self.component}"


class PartQuerySet(models.QuerySet):
    def search(self, text):
        """Parts whose numbers begin with, or whose words hold, every word of `text`."""
        found = self
        for word in text.split():
            found = found.filter(
                Q(number__istartswith=word)
                | Q(maker_part__istartswith=word)
                | Q(gtin__endswith=word if word.isdigit() and len(word) >= 8 else "\x01")
                | Q(description__icontains=word)
            )
        return found

    def fitting(self, model):
        """Parts that fit this appliance model."""
        return self.filter(Q(fits_any=True) | Q(fits=model)).distinct()

    def living(self):
        """Parts that are neither superseded nor no longer made."""
        return self.filter(superseded_by=None, no_longer_made_since=None)


class Part(models.Model):
    """Something with a number that can be carried and fitted."""

    class Unit(models.TextChoices):
        PIECE = "piece"
        METRE = "metre"
        LITRE = "litre"
        GRAM = "gram"

    class Grade(models.TextChoices):
        MAKER_NEW = "maker-new", "Maker’s new"
        APPROVED_EQUIVALENT = "approved-equivalent", "Approved equivalent"
        UNAPPROVED_COPY = "unapproved-copy", "Unapproved copy"
        RECONDITIONED = "reconditioned", "Reconditioned"

    class GuaranteeFrom(models.TextChoices):
        FITTED = "fitted"
        BOUGHT = "bought"

    number = models.CharField(max_length=60, unique=True)
    description = models.CharField(max_length=240)
    maker = models.CharField(max_length=120, blank=True)
    maker_part = models.CharField(max_length=80, blank=True, db_index=True)
    gtin = models.CharField(max_length=14, blank=True, db_index=True)
    unit = models.CharField(max_length=6, choices=Unit, default=Unit.PIECE)
    grade = models.CharField(max_length=20, choices=Grade, default=Grade.MAKER_NEW)
    covers = models.ManyToManyField(ComponentType, related_name="parts", blank=True)
    fits = models.ManyToManyField(ApplianceModel, related_name="parts", blank=True)
    fits_any = models.BooleanField(default=False, help_text="Universal: fits any model.")
    superseded_by = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="supersedes"
    )
    then_also_needs = models.ManyToManyField(
        "self", symmetrical=False, blank=True, help_text="What the successor needs beside it (adapter, gasket)."
    )
    no_longer_made_since = models.DateField(null=True, blank=True)
    litres = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    kilograms = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    guarantee_months = models.PositiveSmallIntegerField(null=True, blank=True)
    guarantee_from = models.CharField(max_length=6, choices=GuaranteeFrom, default=GuaranteeFrom.FITTED)
    shelf_life_months = models.PositiveSmallIntegerField(null=True, blank=True)
    pack = models.DecimalField(max_digits=9, decimal_places=3, default=Decimal(1))
    counted = models.BooleanField(default=True, help_text="False: a consumable, charged as sundries.")

    objects = PartQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.CheckConstraint(condition=~Q(superseded_by=models.F("pk")), name="part_not_its_own_successor"),
            models.CheckConstraint(condition=Q(pack__gt=0), name="part_pack_positive"),
        ]

    def __str__(self):
        return f"{self.number} {self.description}"

    def clean(self):
        if self.gtin and not gtin_is_right(self.gtin):
            raise ValidationError({"gtin": "The check digit is wrong."})

    @property
    def advisable_where_approved_new(self):
        """Whether this grade may be fitted where the class demands approved new parts."""
        return self.grade in {self.Grade.MAKER_NEW, self.Grade.APPROVED_EQUIVALENT}


def gtin_is_right(text):
    """Whether `text` is a GTIN of 8, 12, 13 or 14 digits whose check digit is right.

    Source: GS1 General Specifications, standard check digit calculation: weights 3, 1, 3, 1 from the right.

    >>> gtin_is_right("6291041500213"), gtin_is_right("96385075")
    (True, False)
    """
    if not (text.isascii() and text.isdigit() and len(text) in {8, 12, 13, 14}):
        return False
    weighted = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(text[:-1])))
    return (-weighted) % 10 == int(text[-1])


class Recipe(models.Model):
    """Parts that together renew a component where no single one does (seal and spring)."""

    component = models.ForeignKey(ComponentType, on_delete=models.PROTECT, related_name="recipes")
    fits = models.ManyToManyField(ApplianceModel, related_name="recipes", blank=True)
    fits_any = models.BooleanField(default=True)
    parts = models.ManyToManyField(Part, through="RecipePart", related_name="recipes")

    class Meta:
        ordering = ["component__name", "pk"]

    def __str__(self):
        return f"{self.component}: recipe {self.pk}"


class RecipePart(models.Model):
    recipe = models.ForeignKey(Recipe, on_delete=models.CASCADE, related_name="lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    quantity = models.DecimalField(max_digits=9, decimal_places=3, default=Decimal(1))

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["recipe", "part"], name="recipe_part_once"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="recipe_quantity_positive"),
        ]

    def __str__(self):
        return f"{self.quantity} × {self.part}"
