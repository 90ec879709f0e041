"""One revocable token per phone: 256 random bits, kept as a SHA-256 digest, looked up in one small query."""

import hashlib
import secrets
from datetime import timedelta

from django.db import connection
from django.utils import timezone
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, SessionAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed

from firm.models import Device, User

SEEN_EVERY = timedelta(minutes=15)


def _columns(model, *wanted):
    """These columns in the order of the model's fields, which is the order that Model.from_db takes them in."""
    return [column.attname for column in model._meta.concrete_fields if column.attname in wanted]


OF_DEVICE = _columns(Device, "id", "user_id", "name")
OF_USER = _columns(User, "id", "username", "name", "is_active", "is_superuser", "is_owner", "is_office", "is_engineer")
SQL = (
    f"SELECT {', '.join(f'd.{name}' for name in OF_DEVICE)}, {', '.join(f'u.{name}' for name in OF_USER)}, "
    "CASE WHEN d.last_seen > %s THEN 0 ELSE 1 END FROM firm_device d JOIN firm_user u ON u.id = d.user_id "
    "WHERE d.digest = %s AND d.revoked_at IS NULL AND (d.expires_at IS NULL OR d.expires_at > %s)"
)


def issue(user, name, *, days=365):
    """Make a device of `user` and return (device, token). The token is shown once and never stored."""
    token = secrets.token_urlsafe(32)
    expires_at = timezone.now() + timedelta(days=days)
    device = Device.objects.create(user=user, name=name[:80], digest=_digest(token.encode()), expires_at=expires_at)
    return device, token


def revoke(device):
    """Let this phone in no longer; what it sent stays."""
    Device.objects.filter(pk=device.pk, revoked_at=None).update(revoked_at=timezone.now())


def _digest(token):
    return hashlib.sha256(token).digest()


class TokenAuthentication(BaseAuthentication):
    def authenticate(self, request):
        words = get_authorization_header(request).split()
        if not words or words[0].lower() != b"bearer":
            return None
        if len(words) != 2 or len(words[1]) > 100:
            raise AuthenticationFailed("The token is malformed.")
        user, device = _look_up(_digest(words[1]))
        if user is None or not user.is_active:
            raise AuthenticationFailed("The token is unknown, expired or revoked.")
        return user, device

    def authenticate_header(self, request):
        return "Bearer"


def _look_up(digest):
    """The user and device of a digest, with the columns that requests need; the others load when asked for."""
    now = timezone.now()
    adapt = connection.ops.adapt_datetimefield_value
    with connection.cursor() as cursor:
        cursor.execute(SQL, [adapt(now - SEEN_EVERY), digest, adapt(now)])
        row = cursor.fetchone()
    if row is None:
        return None, None
    *values, unseen = row
    user = User.from_db(connection.alias, OF_USER, values[len(OF_DEVICE) :])
    device = Device.from_db(connection.alias, OF_DEVICE, values[: len(OF_DEVICE)])
    device.user = user
    if unseen:
        Device.objects.filter(pk=device.pk).update(last_seen=now)
    return user, device


class BrowserAuthentication(SessionAuthentication):
    """The browser's session, with CSRF checked."""


class TokenDescribed(OpenApiAuthenticationExtension):
    target_class = TokenAuthentication
    name = "token"

    def get_security_definition(self, auto_schema):
        return {"type": "http", "scheme": "bearer", "description": "The token of one phone, from sign-in/."}


class BrowserDescribed(OpenApiAuthenticationExtension):
    target_class = BrowserAuthentication
    name = "browser"

    def get_security_definition(self, auto_schema):
        return {"type": "apiKey", "in": "cookie", "name": "sessionid"}
