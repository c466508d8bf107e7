"""What falls due, over the API."""

from datetime import timedelta
from zoneinfo import ZoneInfo

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from inspections.due_forms import FARTHEST
from inspections.queries import Wanted, agenda
from inspections.queries.agenda import SORTS, may_see
from inventory.models import ItemKind, Line, Place
from shared.api import Asked, OfDepartment
from shared.pagination import Pages
from shared.walls import may


class AgendaAskSerializer(serializers.Serializer):
    """The query string: how far ahead, and of what."""

    days = serializers.IntegerField(min_value=0, max_value=2 * FARTHEST + 6, default=30)
    line = OfDepartment(Line, required=False, default=None)
    place = OfDepartment(Place, required=False, default=None)
    kind = OfDepartment(ItemKind, required=False, default=None)
    check_key = serializers.SlugField(max_length=20, required=False)
    person = serializers.CharField(max_length=120, required=False)
    agenda_sort = serializers.ChoiceField(source="sort", choices=list(SORTS.items()), required=False)


class AgendaRowSerializer(serializers.Serializer):
    """One thing with a date; ``due_on`` is null for what is asked when a line is sent."""

    key = serializers.CharField(help_text="Which thing it is, whatever its date.")
    agenda_sort = serializers.ChoiceField(source="sort", choices=list(SORTS.items()))
    due_on = serializers.DateField(allow_null=True)
    what = serializers.CharField()
    subject = serializers.CharField()
    why = serializers.CharField()
    months = serializers.IntegerField(source="rule.months", default=None, allow_null=True)
    grace_days = serializers.IntegerField()
    origin = serializers.CharField(help_text="law, standard or guidance, local policy, the maker, ...")
    source = serializers.CharField()
    check_key = serializers.CharField()
    item = serializers.IntegerField(source="item.pk", default=None, allow_null=True)
    lot = serializers.IntegerField(source="lot.pk", default=None, allow_null=True)
    line = serializers.IntegerField(source="line.pk", default=None, allow_null=True)
    place = serializers.IntegerField(source="place.pk", default=None, allow_null=True)
    kind = serializers.IntegerField(source="kind.pk", default=None, allow_null=True)
    person = serializers.CharField()
    link = serializers.CharField(help_text="The page where it is done or stands; empty where there is none.")


class AgendaView(Asked, APIView):
    needs = "read"

    @extend_schema(
        operation_id="agenda_list",
        parameters=[AgendaAskSerializer, OpenApiParameter("page", int), OpenApiParameter("page_size", int)],
        responses=AgendaRowSerializer(many=True),
    )
    def get(self, request: Request) -> Response:
        """List what is overdue and falls due within so many days, soonest first."""
        asked = AgendaAskSerializer(data=request.query_params, context={"request": request})
        asked.is_valid(raise_exception=True)
        said, on = dict(asked.validated_data), timezone.localdate(timezone=ZoneInfo(self.department.time_zone))
        until = on + timedelta(days=said.pop("days"))
        rows = agenda(self.department, on, until, wanted=Wanted(**said), with_passes=may(request.membership, "people"))
        pages = Pages()
        page = pages.paginate_queryset([r for r in rows if may_see(r, request.membership)], request, view=self)
        return pages.get_paginated_response(AgendaRowSerializer(page, many=True).data)
