"""One revocable token per phone: 256 random bits, kept as a SHA-256 digest, looked up in one small query."""

import hashlib
import secrets
from datetime import timedelta

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, SessionAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed

from firm.models import Device

SEEN_EVERY = timedelta(minutes=15)


def issue(user, name, *, days=365):
    """Make a device of `user` and return (device, token). The token is shown once and never stored."""
    token = secrets.token_urlsafe(32)
    expires_at = timezone.now() + timedelta(days=days)
    device = Device.objects.create(user=user, name=name[:80], digest=_digest(token), expires_at=expires_at)
    return device, token


def _digest(token):
    return hashlib.sha256(token.encode()).digest()


class TokenAuthentication(BaseAuthentication):
    def authenticate(self, request):
        words = get_authorization_header(request).split()
        if not words or words[0].lower() != b"bearer":
            return None
        if len(words) != 2 or len(words[1]) > 100:
            raise AuthenticationFailed("The token is malformed.")
        digest = hashlib.sha256(words[1]).digest()
        device = Device.objects.select_related("user").filter(digest=digest, revoked_at=None).first()
        now = timezone.now()
        if not device or not device.user.is_active or (device.expires_at and device.expires_at <= now):
            raise AuthenticationFailed("The token is unknown, expired or revoked.")
        if device.last_seen is None or now - device.last_seen > SEEN_EVERY:
            Device.objects.filter(pk=device.pk).update(last_seen=now)
        return device.user, device

    def authenticate_header(self, request):
        return "Bearer"


class BrowserAuthentication(SessionAuthentication):
    """The browser's session, with CSRF checked."""
