"""Filters whose values are bounded before they reach a database."""

from datetime import date

import django_filters
from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from drf_spectacular.utils import extend_schema_field

YES_NO = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}
FIRST, LAST = date(1900, 1, 1), date(2200, 12, 31)


class DayField(forms.DateField):
    default_validators = [MinValueValidator(FIRST), MaxValueValidator(LAST)]


class DayFilter(django_filters.DateFilter):
    """A day, ISO 8601."""

    field_class = DayField

    def __init__(self, *args, **kwargs):
        super().__init__(*args, input_formats=["%Y-%m-%d"], **kwargs)


class TextFilter(django_filters.CharFilter):
    """Text of one line, at most 80 characters."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, max_length=80, **kwargs)


class YesField(forms.CharField):
    def to_python(self, value):
        word = (super().to_python(value) or "").lower()
        if word and word not in YES_NO:
            raise forms.ValidationError("Say yes or no.")
        return YES_NO.get(word)


@extend_schema_field({"type": "string", "enum": ["yes", "no"]})
class YesFilter(django_filters.Filter):
    """yes or no."""

    field_class = YesField
