"""Signing in from a phone, who one is, and one's phones."""

from axes.handlers.proxy import AxesProxyHandler
from django.conf import settings
from django.contrib.auth import authenticate
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.exceptions import AuthenticationFailed, NotFound, Throttled, ValidationError
from rest_framework.permissions import AllowAny, IsAuthenticated
from rest_framework.response import Response
from rest_framework.throttling import ScopedRateThrottle
from rest_framework.views import APIView

from firm import tokens
from firm.fields import Words
from firm.models import Device, Setting, User
from firm.roles import sees_costs


class SignInSerializer(serializers.Serializer):
    username = Words(longest=150)
    password = serializers.CharField(max_length=1000, trim_whitespace=False)
    device = Words(longest=80, help_text="The phone's name, as its owner calls it.")


class TokenSerializer(serializers.Serializer):
    token = serializers.CharField()
    device = serializers.IntegerField(help_text="The number under which the phone can be revoked.")


class DeviceSerializer(serializers.ModelSerializer):
    user = serializers.CharField(source="user.username")

    class Meta:
        model = Device
        fields = ["id", "name", "user", "created_at", "last_seen", "expires_at"]


class MeSerializer(serializers.ModelSerializer):
    roles = serializers.SerializerMethodField()
    firm = serializers.CharField()
    currency = serializers.CharField(help_text="ISO 4217.")
    time_zone = serializers.CharField()
    sees_costs = serializers.BooleanField()

    class Meta:
        model = User
        fields = ["username", "name", "roles", "firm", "currency", "time_zone", "sees_costs"]

    def get_roles(self, user) -> list[str]:
        return [role for role in ("owner", "office", "engineer") if getattr(user, f"is_{role}")]


class SignInView(APIView):
    """Give name and password once, get this phone's token. Too many wrong passwords shut the door for a while."""

    authentication_classes = []
    permission_classes = [AllowAny]
    throttle_classes = [ScopedRateThrottle]
    throttle_scope = "sign-in"

    @extend_schema(request=SignInSerializer, responses=TokenSerializer)
    def post(self, request):
        asked = SignInSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        given = asked.validated_data
        if not given["device"]:
            raise ValidationError({"device": "Give this phone a name."})
        user = self.known(request, username=given["username"], password=given["password"])
        device, token = tokens.issue(user, given["device"])
        return Response({"token": token, "device": device.pk})

    def known(self, request, **credentials):
        """The user with this name and password, or a problem: 401, or 429 after too many wrong ones."""
        http = request._request
        user = authenticate(http, **credentials)
        if getattr(http, "axes_locked_out", False) or not AxesProxyHandler.is_allowed(http, credentials):
            http.axes_locked_out = False  # our own problem document instead of its page
            raise Throttled(int(settings.AXES_COOLOFF_TIME * 3600), "Too many wrong passwords.")
        if user is None:
            raise AuthenticationFailed("The username or the password is wrong.")
        return user

    def get_authenticate_header(self, request):
        return "Bearer"


class SignOutView(APIView):
    """Revoke the token that is sent."""

    permission_classes = [IsAuthenticated]

    @extend_schema(request=None, responses={204: None})
    def post(self, request):
        if not isinstance(request.auth, Device):
            raise ValidationError("Only a phone with a token signs out here.")
        tokens.revoke(request.auth)
        return Response(status=status.HTTP_204_NO_CONTENT)


class MeView(APIView):
    """Who the token belongs to."""

    permission_classes = [IsAuthenticated]

    @extend_schema(responses=MeSerializer)
    def get(self, request):
        user, setting = request.user, Setting.current()
        user.firm, user.currency, user.time_zone = setting.firm_name, setting.currency, setting.time_zone
        user.sees_costs = sees_costs(user)
        return Response(MeSerializer(user).data)


def own_devices(user):
    """The phones that may still come in: one's own, and everybody's for the office."""
    devices = Device.objects.filter(revoked_at=None).select_related("user").order_by("pk")
    return devices if user.sees_office else devices.filter(user_id=user.pk)


class DeviceListView(APIView):
    """The phones that may still come in: one's own; for the office everybody's."""

    permission_classes = [IsAuthenticated]

    @extend_schema(responses=DeviceSerializer(many=True))
    def get(self, request):
        return Response(DeviceSerializer(own_devices(request.user), many=True).data)


class DeviceView(APIView):
    """Revoke one phone."""

    permission_classes = [IsAuthenticated]

    @extend_schema(responses={204: None})
    def delete(self, request, pk):
        tokens.revoke(get_object_or_404(own_devices(request.user), pk=pk))
        return Response(status=status.HTTP_204_NO_CONTENT)


@extend_schema(exclude=True)
class NothingHere(APIView):
    """Any other address under /api/: a problem document, with DEBUG on as well."""

    authentication_classes = []
    permission_classes = [AllowAny]

    def initial(self, request, *args, **kwargs):
        raise NotFound("There is nothing at this address. Every address ends with a stroke: /api/v1/visits/")
