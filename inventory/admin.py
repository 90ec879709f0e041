"""For looking and mending. The ledger, costs, prices, receipts and counts can only be looked at."""

from django.contrib import admin

from firm.admin import LookOnly
from inventory import models


class ModelComponentInline(admin.TabularInline):
    model = models.ModelComponent
    extra = 1
    autocomplete_fields = ["component"]


class RecipePartInline(admin.TabularInline):
    model = models.RecipePart
    extra = 1
    autocomplete_fields = ["part"]


class OfferInline(admin.TabularInline):
    model = models.Offer
    extra = 0
    autocomplete_fields = ["supplier"]


class VanUseInline(admin.TabularInline):
    model = models.VanUse
    extra = 1
    autocomplete_fields = ["engineer"]


@admin.register(models.Caution)
class CautionAdmin(admin.ModelAdmin):
    list_display = ["hazard", "title", "order"]


@admin.register(models.ComponentType)
class ComponentTypeAdmin(admin.ModelAdmin):
    list_display = ["name", "key", "approved_new_only", "wears", "assumed_life_years", "from_trade_table"]
    list_filter = ["approved_new_only", "wears", "from_trade_table"]
    search_fields = ["name", "key"]


@admin.register(models.ApplianceModel)
class ApplianceModelAdmin(admin.ModelAdmin):
    list_display = ["name", "maker", "kind", "uk_number", "from_trade_table"]
    list_filter = ["kind", "maker", "from_trade_table"]
    search_fields = ["name", "key", "maker", "uk_number"]
    inlines = [ModelComponentInline]


@admin.register(models.Part)
class PartAdmin(admin.ModelAdmin):
    list_display = ["number", "description", "maker", "maker_part", "grade", "superseded_by", "no_longer_made_since"]
    list_filter = ["grade", "unit", "counted", "maker"]
    search_fields = ["number", "description", "maker_part", "gtin"]
    list_select_related = ["superseded_by"]
    autocomplete_fields = ["superseded_by", "then_also_needs", "covers", "fits"]
    inlines = [OfferInline]


@admin.register(models.Recipe)
class RecipeAdmin(admin.ModelAdmin):
    list_display = ["component", "fits_any"]
    list_select_related = ["component"]
    autocomplete_fields = ["component", "fits"]
    inlines = [RecipePartInline]


@admin.register(models.Supplier)
class SupplierAdmin(admin.ModelAdmin):
    list_display = ["name", "key", "lead_time_days", "same_day", "carriage", "carriage_free_over"]
    search_fields = ["name", "key"]


@admin.register(models.Offer)
class OfferAdmin(admin.ModelAdmin):
    list_display = ["supplier", "supplier_part", "part", "availability", "back_order_until"]
    list_filter = ["availability", "supplier"]
    search_fields = ["supplier_part", "part__number"]
    list_select_related = ["supplier", "part"]
    autocomplete_fields = ["supplier", "part"]


@admin.register(models.Price)
class PriceAdmin(LookOnly):
    list_display = ["offer", "price_ex_vat", "pack", "minimum", "valid_from"]
    search_fields = ["offer__supplier_part", "offer__part__number"]
    list_select_related = ["offer__supplier"]


@admin.register(models.PriceFile)
class PriceFileAdmin(LookOnly):
    list_display = ["name", "supplier", "at", "booked_at", "by"]
    list_select_related = ["supplier", "by"]

    def get_queryset(self, request):
        return super().get_queryset(request).defer("content")


@admin.register(models.Place)
class PlaceAdmin(admin.ModelAdmin):
    list_display = ["key", "kind", "name", "engineer", "retired_on"]
    list_filter = ["kind"]
    search_fields = ["key", "name"]
    list_select_related = ["engineer"]
    autocomplete_fields = ["engineer", "supplier"]
    inlines = [VanUseInline]


@admin.register(models.CarryLevel)
class CarryLevelAdmin(admin.ModelAdmin):
    list_display = ["place", "part", "level", "fixed", "fixed_by", "until"]
    list_filter = ["fixed", "place"]
    search_fields = ["part__number", "part__description"]
    list_select_related = ["place", "part", "fixed_by"]
    autocomplete_fields = ["place", "part", "fixed_by"]


@admin.register(models.Movement)
class MovementAdmin(LookOnly):
    list_display = [
        "happened_at",
        "part",
        "quantity",
        "source",
        "destination",
        "reason",
        "unit_cost",
        "job_number",
        "by",
    ]
    list_filter = ["reason"]
    search_fields = ["part__number", "job_number", "event"]
    list_select_related = ["part", "source", "destination", "by"]


@admin.register(models.Stock)
class StockAdmin(LookOnly):
    list_display = ["place", "part", "condition", "on_hand", "shelf"]
    list_filter = ["place", "condition"]
    search_fields = ["part__number", "part__description"]
    list_select_related = ["place", "part"]


@admin.register(models.Held)
class HeldAdmin(LookOnly):
    list_display = ["job_number", "place", "part", "quantity", "since", "released_at"]
    search_fields = ["job_number", "part__number"]
    list_select_related = ["place", "part"]


@admin.register(models.AverageCost, models.CostCorrection, models.PassConfirmed, models.Receipt)
class LedgerAdmin(LookOnly):
    pass


@admin.register(models.Count)
class CountAdmin(LookOnly):
    list_display = ["place", "counted_at", "by", "device", "upto"]
    list_filter = ["place"]
    list_select_related = ["place", "by", "device__user"]


@admin.register(models.CountWanted)
class CountWantedAdmin(LookOnly):
    list_display = ["place", "part", "why", "since", "done_at"]
    list_select_related = ["place", "part"]


@admin.register(models.Order)
class OrderAdmin(LookOnly):
    list_display = ["number", "supplier", "state", "made_at", "expected_on"]
    list_filter = ["state", "supplier"]
    search_fields = ["number"]
    list_select_related = ["supplier"]
