"""Pages of a list by cursor: the same cost for the first page and the thousandth."""

from django.core.exceptions import ValidationError
from rest_framework.exceptions import NotFound
from rest_framework.exceptions import ValidationError as Refused
from rest_framework.pagination import CursorPagination

NO_CURSOR = "The cursor is not one of ours."


class CursorPages(CursorPagination):
    """Ordered as the view's `ordering` says, else by primary key."""

    ordering = "pk"
    page_size = 100
    page_size_query_param = "page_size"
    max_page_size = 500
    invalid_cursor_message = NO_CURSOR

    def get_ordering(self, request, queryset, view):
        return getattr(view, "ordering", None) or (self.ordering,)

    def get_page_size(self, request):
        """A number from 1 on, at most max_page_size of them on a page; anything else is refused."""
        asked = request.query_params.get(self.page_size_query_param, "")
        if asked and not (asked.isascii() and asked.isdigit() and asked.strip("0")):
            raise Refused({self.page_size_query_param: f"Give a whole number from 1 to {self.max_page_size}."})
        return self.max_page_size if len(asked) > 18 else super().get_page_size(request)

    def decode_cursor(self, request):
        cursor = super().decode_cursor(request)
        if cursor and cursor.position and not cursor.position.isprintable():
            raise NotFound(NO_CURSOR)
        return cursor

    def paginate_queryset(self, queryset, request, view=None):
        """A cursor that is no cursor is not found; Django would fail on the text inside it."""
        try:
            return super().paginate_queryset(queryset, request, view)
        except (ValueError, OverflowError, TypeError, ValidationError) as error:
            raise NotFound(NO_CURSOR) from error
