"""API lists come in pages of 50."""

from rest_framework.pagination import PageNumberPagination


class Pages(PageNumberPagination):
    """Pages by number; ``page_size`` up to 200."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200
