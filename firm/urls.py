from django.contrib import admin
from django.http import HttpResponse
from django.urls import path

urlpatterns = [
    path("healthy/", lambda request: HttpResponse("yes", content_type="text/plain"), name="healthy"),
    path("admin/", admin.site.urls),
]
