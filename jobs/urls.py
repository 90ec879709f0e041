from django.urls import path

from jobs.views import find

urlpatterns = [
    path("find/", find.find, name="find"),
]
