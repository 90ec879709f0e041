"""For looking and mending. What was sent is append-only and can only be looked at."""

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

from firm.models import Device, Refusal, Sent, Setting, User, VatRate


class LookOnly(admin.ModelAdmin):
    """Rows that nobody adds, changes or deletes here."""

    def has_add_permission(self, request):
        return False

    def has_change_permission(self, request, obj=None):
        return False

    def has_delete_permission(self, request, obj=None):
        return False


@admin.register(User)
class PersonAdmin(UserAdmin):
    list_display = ["username", "name", "is_owner", "is_office", "is_engineer", "is_active"]
    list_filter = ["is_owner", "is_office", "is_engineer", "is_active"]
    search_fields = ["username", "name"]
    fieldsets = [
        (None, {"fields": ["username", "password", "name", "email"]}),
        ("Roles", {"fields": ["is_owner", "is_office", "is_engineer", "is_active", "is_staff", "is_superuser"]}),
    ]


@admin.register(Device)
class DeviceAdmin(admin.ModelAdmin):
    list_display = ["name", "user", "created_at", "last_seen", "revoked_at"]
    list_filter = ["revoked_at"]
    search_fields = ["name", "user__name"]
    list_select_related = ["user"]
    readonly_fields = ["created_at", "last_seen"]

    def has_add_permission(self, request):
        return False


@admin.register(Setting)
class SettingAdmin(admin.ModelAdmin):
    list_display = ["firm_name", "currency", "country", "time_zone"]

    def has_add_permission(self, request):
        return not Setting.objects.exists()

    def has_delete_permission(self, request, obj=None):
        return False


@admin.register(VatRate)
class VatRateAdmin(admin.ModelAdmin):
    list_display = ["name", "per_cent", "valid_from"]


@admin.register(Sent)
class SentAdmin(LookOnly):
    list_display = ["uuid", "kind", "number", "device", "by", "at"]
    list_filter = ["kind"]
    search_fields = ["uuid"]
    list_select_related = ["device__user", "by"]


@admin.register(Refusal)
class RefusalAdmin(admin.ModelAdmin):
    list_display = ["uuid", "kind", "device", "by", "at", "settled_at"]
    list_filter = ["kind", "settled_at"]
    list_select_related = ["device__user", "by"]
    readonly_fields = ["uuid", "kind", "body", "problem", "device", "by", "at"]

    def has_add_permission(self, request):
        return False
