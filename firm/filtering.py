"""Lists are filtered by django-filter; a name in the address that nothing reads is refused."""

from django_filters.rest_framework import DjangoFilterBackend
from rest_framework.exceptions import ValidationError

ALWAYS = {"format"}  # REST framework reads it


class StrictFilters(DjangoFilterBackend):
    """The usual filters. A misspelled one would leave every row and say nothing, so it is refused by name."""

    def filter_queryset(self, request, queryset, view):
        filters, asked = self.get_filterset_class(view, queryset), getattr(view, "asked_serializer", None)
        names = [*(filters.base_filters if filters else ()), *(asked().fields if asked else ())]
        if pages := getattr(view, "paginator", None):
            names += [pages.cursor_query_param, pages.page_size_query_param]
        refuse_unread(request, names)
        return super().filter_queryset(request, queryset, view)


def refuse_unread(request, names):
    """ValidationError for the first name in the address that is not among `names`."""
    unread = next((name for name in request.query_params if name not in {*names, *ALWAYS}), None)
    if unread is not None:
        readable = ", ".join(names) or "nothing"
        raise ValidationError({unread: f"Nothing can be asked by this name here, only: {readable}."})
