"""Who may do what. An owner sees all the office's pages; an engineer logs work and sees no cost prices by default."""

from functools import wraps

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from rest_framework.permissions import BasePermission

from firm.models import Setting


def office_required(view):
    """For the office and the owner."""
    return _required(view, lambda user: user.sees_office)


def owner_required(view):
    return _required(view, lambda user: user.sees_owner)


def staff_required(view):
    """For anybody of the firm with a role."""
    return _required(view, lambda user: user.is_engineer or user.sees_office)


def _required(view, may):
    @login_required
    @wraps(view)
    def guarded(request, *args, **kwargs):
        if not may(request.user):
            raise PermissionDenied
        return view(request, *args, **kwargs)

    return guarded


def sees_costs(user):
    """Whether cost prices may be shown to this person."""
    return user.sees_office or Setting.current().cost_prices_on_phones


class ForOffice(BasePermission):
    def has_permission(self, request, view):
        return bool(request.user and request.user.is_authenticated and request.user.sees_office)


class ForOwner(BasePermission):
    def has_permission(self, request, view):
        return bool(request.user and request.user.is_authenticated and request.user.sees_owner)


class ForStaff(BasePermission):
    """Anybody of the firm with a role."""

    def has_permission(self, request, view):
        user = request.user
        return bool(user and user.is_authenticated and (user.is_engineer or user.sees_office))
