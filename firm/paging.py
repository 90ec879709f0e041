from rest_framework.exceptions import NotFound
from rest_framework.pagination import CursorPagination


class CursorPages(CursorPagination):
    ordering = "pk"
    page_size = 100
    page_size_query_param = "page_size"
    max_page_size = 500

    def paginate_queryset(self, queryset, request, view=None):
        """A cursor that is no cursor is not found; Django would fail on the text inside it."""
        try:
            return super().paginate_queryset(queryset, request, view)
        except (ValueError, OverflowError) as error:
            raise NotFound("The cursor is not one of ours.") from error
