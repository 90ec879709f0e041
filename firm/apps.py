from django.apps import AppConfig


class FirmConfig(AppConfig):
    name = "firm"
    default_auto_field = "django.db.models.BigAutoField"
