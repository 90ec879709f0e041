"""Everything under /api/."""

from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView

from firm import api, api_docs

urlpatterns = [
    path("schema/", SpectacularAPIView.as_view(), name="api_schema"),
    path("docs/", api_docs.docs, name="api_docs"),
    path("v1/sign-in/", api.SignInView.as_view(), name="api_sign_in"),
    path("v1/sign-out/", api.SignOutView.as_view(), name="api_sign_out"),
    path("v1/me/", api.MeView.as_view(), name="api_me"),
    path("v1/devices/", api.DeviceListView.as_view(), name="api_devices"),
    path("v1/devices/<int:pk>/", api.DeviceView.as_view(), name="api_device"),
    path("v1/", include("inventory.api_urls")),
    path("v1/", include("jobs.api_urls")),
    path("", api.NothingHere.as_view()),
    path("<path:rest>", api.NothingHere.as_view(), name="api_nothing"),
]
