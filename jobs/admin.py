"""For looking and mending. What was fitted, found and needed can only be looked at."""

from django.contrib import admin

from firm.admin import LookOnly
from jobs import models


class CauseInline(admin.TabularInline):
    model = models.Cause
    extra = 0
    autocomplete_fields = ["component"]


class AddressInline(admin.TabularInline):
    model = models.Address
    extra = 0
    fields = ["text", "post_area", "access_note", "phone"]


class VisitEngineerInline(admin.TabularInline):
    model = models.VisitEngineer
    extra = 0
    autocomplete_fields = ["engineer"]


@admin.register(models.Customer)
class CustomerAdmin(admin.ModelAdmin):
    list_display = ["number", "name", "phone", "email", "erased_at"]
    search_fields = ["number", "name", "phone"]
    inlines = [AddressInline]


@admin.register(models.Address)
class AddressAdmin(admin.ModelAdmin):
    list_display = ["text", "post_area", "customer"]
    search_fields = ["text", "post_area"]
    list_select_related = ["customer"]
    autocomplete_fields = ["customer", "within"]


@admin.register(models.Contact)
class ContactAdmin(admin.ModelAdmin):
    list_display = ["name", "role", "customer"]
    list_select_related = ["customer"]
    search_fields = ["name"]
    autocomplete_fields = ["customer", "address"]


@admin.register(models.Appliance)
class ApplianceAdmin(admin.ModelAdmin):
    list_display = ["number", "model", "customer", "installed_on", "in_care_from", "in_care_until"]
    list_filter = ["model__kind", "on_service"]
    search_fields = ["number", "serial", "customer__name"]
    list_select_related = ["model", "customer"]
    autocomplete_fields = ["customer", "address", "model"]


@admin.register(models.Earlier)
class EarlierAdmin(admin.ModelAdmin):
    list_display = ["appliance", "component", "position", "renewed_on", "precision"]
    list_select_related = ["appliance__model", "component"]
    search_fields = ["appliance__number"]
    autocomplete_fields = ["appliance", "component"]


@admin.register(models.Symptom)
class SymptomAdmin(admin.ModelAdmin):
    list_display = ["key", "__str__"]
    search_fields = ["key"]
    inlines = [CauseInline]


@admin.register(models.Job)
class JobAdmin(admin.ModelAdmin):
    list_display = ["number", "kind", "appliance", "reported_on", "closed_on"]
    list_filter = ["kind", "verdict"]
    search_fields = ["number", "appliance__number", "appliance__customer__name"]
    list_select_related = ["appliance__model"]
    autocomplete_fields = ["appliance", "also", "address", "called_by", "return_of", "symptoms"]
    readonly_fields = ["event"]


@admin.register(models.Visit)
class VisitAdmin(admin.ModelAdmin):
    list_display = ["number", "job", "on", "time", "place", "outcome"]
    list_filter = ["outcome"]
    search_fields = ["number", "job__number"]
    list_select_related = ["job", "place"]
    autocomplete_fields = ["job", "place"]
    inlines = [VisitEngineerInline]


@admin.register(models.Fitted)
class FittedAdmin(LookOnly):
    list_display = ["visit", "part", "component", "quantity", "why", "cost", "charge_ex_vat"]
    list_filter = ["why"]
    search_fields = ["part__number", "visit__number"]
    list_select_related = ["visit", "part", "component"]


@admin.register(models.Needed)
class NeededAdmin(LookOnly):
    list_display = ["visit", "component", "part", "quantity", "settled_on"]
    search_fields = ["visit__number"]
    list_select_related = ["visit", "component", "part"]


@admin.register(models.Finding)
class FindingAdmin(LookOnly):
    list_display = ["visit", "component", "no_part_cause", "failure_mode"]
    search_fields = ["visit__number"]
    list_select_related = ["visit", "component"]


@admin.register(models.Charge)
class ChargeAdmin(LookOnly):
    list_display = ["job", "kind", "amount_ex_vat", "vat_rate", "vat"]
    search_fields = ["job__number"]
    list_select_related = ["job"]


@admin.register(models.TakenOut, models.ServiceCheck)
class RecordAdmin(LookOnly):
    pass


@admin.register(models.LoadProposal)
class LoadProposalAdmin(LookOnly):
    list_display = ["van", "as_of", "made_at", "made_by", "accepted_at"]
    list_select_related = ["van", "made_by"]


@admin.register(models.BackTest)
class BackTestAdmin(LookOnly):
    list_display = ["first", "last", "made_at", "made_by", "state", "problem"]
    list_select_related = ["made_by"]


class MoveLineInline(admin.TabularInline):
    model = models.MoveLine
    extra = 0
    can_delete = False
    fields = readonly_fields = ["kind", "rank", "part", "giver", "taker", "quantity", "worth_per_year", "done_at"]


@admin.register(models.MoveList)
class MoveListAdmin(LookOnly):
    list_display = ["as_of", "made_at", "made_by", "state", "problem"]
    list_select_related = ["made_by"]
    inlines = [MoveLineInline]
