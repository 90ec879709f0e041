from django.contrib import admin
from django.contrib.auth.views import LogoutView
from django.http import HttpResponse
from django.urls import include, path

from firm import views

urlpatterns = [
    path("healthy/", lambda request: HttpResponse("yes", content_type="text/plain"), name="healthy"),
    path("", views.home, name="home"),
    path("sign-in/", views.SignIn.as_view(), name="sign_in"),
    path("sign-out/", LogoutView.as_view(), name="sign_out"),
    path("help/", views.help_page, name="help"),
    path("settings/", views.settings_page, name="settings"),
    path("people/", views.people, name="people"),
    path("people/new/", views.person, name="person_new"),
    path("people/<int:pk>/", views.person, name="person"),
    path("phones/<int:pk>/end/", views.phone_revoke, name="phone_revoke"),
    path("api/", include("firm.api_urls")),
    path("", include("jobs.urls")),
    path("", include("inventory.urls")),
    path("admin/", admin.site.urls),
]

handler400 = "firm.problems.bad_request"
handler404 = "firm.problems.not_found"
handler500 = "firm.problems.server_error"
