"""The cache over the API: places, kinds, items, lots, load lists, and the ledgers that move them."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import django_filters
from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.utils import timezone
from drf_spectacular.utils import OpenApiResponse, extend_schema, extend_schema_field
from rest_framework import mixins, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory import queries, services
from inventory.models import Count, Item, ItemKind, Line, LoadListRow, Lot, Place, Posting
from inventory.queries.standing import PLACING
from shared.api import DepartmentViewSet, InstantField, LedgerViewSet, OfDepartment, RecordedSerializer, not_ahead

MOST_ID = 2**63 - 1  # what a database can compare an id with
RECORDED = {
    201: RecordedSerializer,
    200: OpenApiResponse(RecordedSerializer, description="The same client_id was recorded before."),
}


class PlaceSerializer(serializers.ModelSerializer):
    place_sort = serializers.ChoiceField(source="sort", choices=Place.Sort.choices)

    class Meta:
        model = Place
        fields = ["id", "name", "place_sort", "within", "order"]


class PlaceViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """Stations, bays, containers and shelves."""

    model, serializer_class = Place, PlaceSerializer
    filterset_fields = ["within", "sort"]


class SpecFieldSerializer(serializers.Serializer):
    key = serializers.CharField()
    label = serializers.CharField()
    unit = serializers.CharField(allow_blank=True)
    type = serializers.CharField()


class KindSerializer(serializers.ModelSerializer):
    spec_fields = SpecFieldSerializer(many=True)
    mode_codes = serializers.ListField(child=serializers.CharField())
    checks = serializers.DictField(
        child=serializers.ListField(child=serializers.CharField()),
        help_text="The kind's schedule: check key to the failure modes that check can see.",
    )

    class Meta:
        model = ItemKind
        fields = [
            "id", "key", "name", "function", "serialised", "consumable", "per_person", "spec_fields", "mode_codes",
            "checks", "origin",
        ]  # fmt: skip


class ModeSerializer(serializers.Serializer):
    code = serializers.CharField()
    name = serializers.CharField()
    grade = serializers.CharField(help_text="I impairment, C critical deficiency, N noncritical deficiency.")
    mode_class = serializers.CharField(source="cls")
    scheduled = serializers.BooleanField(help_text="False: a blind spot, seen by no scheduled check.")


class LimitSerializer(serializers.Serializer):
    key = serializers.CharField()
    quantity = serializers.CharField()
    unit = serializers.CharField()
    pass_low = serializers.FloatField(allow_null=True)
    pass_high = serializers.FloatField(allow_null=True)
    limits_low = serializers.FloatField(allow_null=True)
    limits_high = serializers.FloatField(allow_null=True)
    basis = serializers.CharField()
    origin = serializers.CharField()
    source = serializers.CharField()
    effective_on = serializers.DateField()


class KindDetailSerializer(KindSerializer):
    modes = serializers.SerializerMethodField()
    limits = serializers.SerializerMethodField()

    class Meta(KindSerializer.Meta):
        fields = [*KindSerializer.Meta.fields, "modes", "limits"]

    @extend_schema_field(ModeSerializer(many=True))
    def get_modes(self, kind: ItemKind) -> list[dict[str, Any]]:
        rows = queries.modes_for(kind.department, timezone.localdate())
        seen = kind.scheduled_modes
        found = [rows[code] for code in kind.mode_codes if code in rows]
        for row in found:
            row.scheduled = row.code in seen
        return ModeSerializer(found, many=True).data

    @extend_schema_field(LimitSerializer(many=True))
    def get_limits(self, kind: ItemKind) -> list[dict[str, Any]]:
        rows = queries.limits_for(kind.department, kind, timezone.localdate())
        return LimitSerializer([rows[key] for key in sorted(rows)], many=True).data


class KindViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """Kinds of things the cache holds, with their failure modes, checks and limits."""

    model = ItemKind
    lookup_field = "key"
    lookup_value_regex = "[-_a-zA-Z0-9]+"
    filterset_fields = ["function", "consumable"]

    def rows(self) -> QuerySet[ItemKind]:
        return ItemKind.objects.select_related("department")

    def get_serializer_class(self) -> type[KindSerializer]:
        return KindDetailSerializer if self.action == "retrieve" else KindSerializer


class StandingSerializer(serializers.Serializer):
    """Where an item stands now, derived from the ledgers."""

    quantity = serializers.IntegerField()
    counted_on = serializers.DateField(allow_null=True, help_text="Null: the register's figure only, never counted.")
    place = serializers.IntegerField(source="place.pk", default=None, allow_null=True)
    place_name = serializers.CharField(source="place.name", default=None, allow_null=True)
    line = serializers.IntegerField(source="line.pk", default=None, allow_null=True)
    line_name = serializers.CharField(source="line.name", default=None, allow_null=True)
    state = serializers.CharField()
    state_since = serializers.DateTimeField(allow_null=True)
    state_reason = serializers.CharField(allow_blank=True)
    awaiting_second_name = serializers.BooleanField()


class ItemSerializer(serializers.ModelSerializer):
    kind = serializers.CharField(source="kind.key")
    kind_name = serializers.CharField(source="kind.name")
    function = serializers.CharField(source="kind.function")
    award = serializers.CharField(source="award.number", default=None, allow_null=True)
    standing = serializers.SerializerMethodField()

    class Meta:
        model = Item
        fields = ["id", "tag", "name", "serial", "kind", "kind_name", "function", "award", "custodian", "standing"]

    @extend_schema_field(StandingSerializer(allow_null=True))
    def get_standing(self, item: Item) -> dict[str, Any] | None:
        standing = self.context["standings"].get(item.pk)
        return StandingSerializer(standing).data if standing else None


class ItemDetailSerializer(ItemSerializer):
    spec = serializers.DictField(help_text="Nameplate by the kind's spec_fields, US customary as on the plate.")

    class Meta(ItemSerializer.Meta):
        fields = [
            *ItemSerializer.Meta.fields, "plate", "acquired_on", "acquired_month_only", "accepted_on",
            "acceptance_assumed", "manufactured_on", "unit_cost", "federal_share", "funding_source", "title_holder",
            "use", "condition", "spec", "note",
        ]  # fmt: skip


class ItemFilter(django_filters.FilterSet):
    q = django_filters.CharFilter(method="search", label="Part of a tag, name, serial or plate.")
    kind = django_filters.CharFilter("kind__key")
    function = django_filters.CharFilter("kind__function")
    award = django_filters.CharFilter("award__number")
    line = django_filters.NumberFilter(method="stands", label="Id of the line it is on now.")
    place = django_filters.NumberFilter(method="stands", label="Id of the place it is at now.")

    class Meta:
        model = Item
        fields = ["condition", "custodian"]

    def search(self, rows: QuerySet[Item], name: str, words: str) -> QuerySet[Item]:
        for word in words.split():
            fields = ("tag", "name", "serial", "plate")
            rows = rows.filter(Q(*[(f"{field}__icontains", word) for field in fields], _connector=Q.OR))
        return rows

    def stands(self, rows: QuerySet[Item], name: str, value: Decimal) -> QuerySet[Item]:
        if not value.is_finite() or abs(value) > MOST_ID:
            return rows.none()
        now = timezone.now()
        placing = Posting.objects.as_of(now, now).filter(item=OuterRef("pk"), reason__in=PLACING)
        newest = placing.order_by("-happened_at", "-recorded_at", "-pk").values(f"{name}_id")[:1]
        return rows.annotate(**{f"{name}_now": Subquery(newest)}).filter(**{f"{name}_now": int(value)})


class ItemViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """Items with where they stand; search with ``q``."""

    model = Item
    filterset_class = ItemFilter

    def rows(self) -> QuerySet[Item]:
        return Item.objects.select_related("kind", "award", "department")

    def get_serializer_class(self) -> type[ItemSerializer]:
        return ItemSerializer if self.action == "list" else ItemDetailSerializer

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List a page of items; their standings are read for the page at once."""
        page = self.paginate_queryset(self.filter_queryset(self.get_queryset()))
        return self.get_paginated_response(self._with_standing(page))

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Return one item's card, where it stands, and what is known of it."""
        return Response(self._with_standing([self.get_object()])[0])

    def _with_standing(self, items: Sequence[Item]) -> Sequence[dict[str, Any]]:
        now = timezone.now()
        context = self.get_serializer_context() | {"standings": queries.standing_of_items(items, now, now)}
        return self.get_serializer_class()(items, many=True, context=context).data


class OnHandSerializer(serializers.Serializer):
    """How many of a lot are on one line, or in the store (line null)."""

    line = serializers.IntegerField(source="line.pk", default=None, allow_null=True)
    line_name = serializers.CharField(source="line.name", default=None, allow_null=True)
    on_hand = serializers.IntegerField()
    counted_on = serializers.DateField(allow_null=True)


class LotSerializer(serializers.ModelSerializer):
    kind = serializers.CharField(source="kind.key")
    standing = serializers.SerializerMethodField()

    class Meta:
        model = Lot
        fields = ["id", "number", "name", "kind", "received_on", "expires_on", "unit_cost", "per_person", "standing"]

    @extend_schema_field(OnHandSerializer(many=True))
    def get_standing(self, lot: Lot) -> list[dict[str, Any]]:
        return OnHandSerializer(self.context["standings"].get(lot.pk, []), many=True).data


class LotFilter(django_filters.FilterSet):
    kind = django_filters.CharFilter("kind__key")
    expires_before = django_filters.DateFilter("expires_on", "lt")

    class Meta:
        model = Lot
        fields = ["number"]


class LotViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """Lots of consumables, with how many stand on each line."""

    model, serializer_class, filterset_class = Lot, LotSerializer, LotFilter

    def rows(self) -> QuerySet[Lot]:
        return Lot.objects.select_related("kind")

    def get_serializer_context(self) -> dict[str, Any]:
        context = super().get_serializer_context()
        if self.drawing_schema:
            return context
        now = timezone.now()
        by_lot: dict[int, list[queries.LotStanding]] = {}
        for standing in queries.standing_of_department(self.department, now, now).lots:
            by_lot.setdefault(standing.lot.pk, []).append(standing)
        return context | {"standings": by_lot}


class LoadListRowSerializer(serializers.ModelSerializer):
    line_name = serializers.CharField(source="line.name")
    kind = serializers.CharField(source="kind.key")
    kind_name = serializers.CharField(source="kind.name")
    scales = serializers.ChoiceField(choices=LoadListRow.Scales.choices)

    class Meta:
        model = LoadListRow
        fields = [
            "id", "line", "line_name", "function", "kind", "kind_name", "quantity", "needed", "scales", "way",
            "assumed",
        ]  # fmt: skip


class LoadListViewSet(mixins.ListModelMixin, DepartmentViewSet):
    """What must be aboard each line today, in the order of its list."""

    model, serializer_class = LoadListRow, LoadListRowSerializer
    filterset_fields = ["line", "function"]

    def rows(self) -> QuerySet[LoadListRow]:
        today = timezone.localdate()
        in_force = Q(ends_on=None) | Q(ends_on__gt=today)
        rows = LoadListRow.objects.filter(in_force, effective_on__lte=today).select_related("kind", "line")
        return rows.order_by("line__order", "line__name", "order", "pk")


class _OfSubjectSerializer(serializers.ModelSerializer):
    """A ledger row about one item or one lot, as sent and as read."""

    client_id = serializers.UUIDField(help_text="Your own id for this record: sent twice, it is recorded once.")
    item = OfDepartment(Item, required=False)
    lot = OfDepartment(Lot, required=False)
    line = OfDepartment(Line, required=False)
    happened_at = InstantField(required=False, help_text="When it was true; now where left out.")

    class Meta:
        read_only_fields = ["by_name", "recorded_at"]

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        if ("item" in sent) == ("lot" in sent):
            raise serializers.ValidationError("Name one item or one lot.")
        not_ahead(sent.get("happened_at"))
        return sent


class PostingSerializer(_OfSubjectSerializer):
    place = OfDepartment(Place, required=False)
    corrects = OfDepartment(Posting, required=False)
    posting_reason = serializers.ChoiceField(source="reason", choices=Posting.Reason.choices)

    class Meta(_OfSubjectSerializer.Meta):
        model = Posting
        fields = [
            "id", "client_id", "item", "lot", "change", "place", "line", "posting_reason", "note", "happened_at",
            "recorded_at", "by_name", "corrects",
        ]  # fmt: skip


class CountSerializer(_OfSubjectSerializer):
    corrects = OfDepartment(Count, required=False)

    class Meta(_OfSubjectSerializer.Meta):
        model = Count
        fields = [
            "id", "client_id", "item", "lot", "line", "counted", "note", "happened_at", "recorded_at", "by_name",
            "corrects",
        ]  # fmt: skip


class PostingViewSet(LedgerViewSet):
    """What came, went and moved."""

    model, serializer_class = Posting, PostingSerializer
    needs = {"create": "write", "default": "read"}
    filterset_fields = ["item", "lot", "line"]

    @extend_schema(request=PostingSerializer, responses=RECORDED)
    def create(self, request: Request) -> Response:
        """Record that so many units came, went or moved."""
        return self.record(request, services.record_posting)


class CountViewSet(LedgerViewSet):
    """What was counted."""

    model, serializer_class = Count, CountSerializer
    needs = {"create": "walk", "default": "read"}
    filterset_fields = ["item", "lot", "line"]

    @extend_schema(request=CountSerializer, responses=RECORDED)
    def create(self, request: Request) -> Response:
        """Record a count; from then on it stands. 0 means absent."""
        return self.record(request, services.record_count)
