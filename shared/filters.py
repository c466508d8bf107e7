"""How lists of the API are filtered."""

from typing import Any

from django.db.models import QuerySet
from django_filters.rest_framework import DjangoFilterBackend
from rest_framework.request import Request


class DepartmentFilter(DjangoFilterBackend):
    """Filters by ids that only the asking department's rows have: another's id is as unknown as one never given."""

    def get_filterset(self, request: Request, queryset: QuerySet, view: Any) -> Any:
        filters = super().get_filterset(request, queryset, view)
        for one in filters.filters.values() if filters else ():
            model = getattr(one.extra.get("queryset"), "model", None)
            if model is not None:
                one.queryset = model._default_manager.filter(department=request.department)
        return filters
