"""Orders, recalls and the roster over the API."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import mixins, serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from inventory import queries, services
from inventory.api import RECORDED
from inventory.crew_currency import currency
from inventory.models import Award, CrewMember, ItemKind, Line, Order, Recall
from inventory.queries.recalls import caught_by
from inventory.services.crew import put_crew
from shared.api import DepartmentViewSet, InstantField, LedgerViewSet, OfDepartment

ID_HELP = "Your own id for this record: sent twice, it is recorded once."


class _OrderStandingSerializer(serializers.Serializer):
    """What became of an order by now."""

    expected_on = serializers.DateField(allow_null=True)
    received = serializers.IntegerField()
    remaining = serializers.IntegerField()
    late = serializers.BooleanField()
    word = serializers.CharField()


class OrderSerializer(serializers.ModelSerializer):
    client_id = serializers.UUIDField(help_text=ID_HELP)
    order_kind = OfDepartment(ItemKind, source="kind")
    line = OfDepartment(Line, required=False, allow_null=True)
    award = OfDepartment(Award, required=False, allow_null=True)
    happened_at = InstantField(required=False, help_text="When it was ordered; now where left out.")
    why = serializers.CharField(source="reason", max_length=240, required=False, allow_blank=True)
    standing = serializers.SerializerMethodField()

    class Meta:
        model = Order
        fields = [
            "id", "client_id", "order_kind", "line", "quantity", "supplier", "reference", "unit_cost", "expected_on",
            "award", "why", "happened_at", "recorded_at", "by_name", "standing",
        ]  # fmt: skip
        read_only_fields = ["recorded_at", "by_name"]

    @extend_schema_field(_OrderStandingSerializer(allow_null=True))
    def get_standing(self, order: Order) -> dict[str, Any] | None:
        standing = self.context.get("standings", {}).get(order.pk)
        return _OrderStandingSerializer(standing).data if standing else None


class OrderViewSet(mixins.RetrieveModelMixin, LedgerViewSet):
    """What was ordered, and what became of it."""

    model, serializer_class = Order, OrderSerializer
    needs = {"create": "write", "default": "read"}
    filterset_fields = ["line"]

    def get_serializer_context(self) -> dict[str, Any]:
        context = super().get_serializer_context()
        if self.drawing_schema or self.action == "create":
            return context
        now = timezone.now()
        return context | {"standings": {s.order.pk: s for s in queries.orders_of(self.department, now, now)}}

    @extend_schema(request=OrderSerializer, responses=RECORDED)
    def create(self, request: Request) -> Response:
        """Record an order; it counts for nothing until it is received."""
        return self.record(request, services.place_order)


class CaughtSerializer(serializers.Serializer):
    """One thing that a recall took out."""

    thing = serializers.CharField()
    since = serializers.DateTimeField()
    released_at = serializers.DateTimeField(allow_null=True)
    released_by = serializers.CharField()
    remedy = serializers.CharField()


class RecallSerializer(serializers.ModelSerializer):
    client_id = serializers.UUIDField(help_text=ID_HELP)
    recall_kind = OfDepartment(ItemKind, source="kind", required=False, allow_null=True)
    serials = serializers.ListField(child=serializers.CharField(max_length=80), required=False, max_length=500)
    lots = serializers.ListField(child=serializers.CharField(max_length=80), required=False, max_length=500)
    happened_at = InstantField(required=False)

    class Meta:
        model = Recall
        fields = [
            "id", "client_id", "recall_kind", "serials", "lots", "reference", "what", "remedy", "happened_at",
            "recorded_at", "by_name",
        ]  # fmt: skip
        read_only_fields = ["recorded_at", "by_name"]


class RecallDetailSerializer(RecallSerializer):
    took_out = serializers.SerializerMethodField()

    class Meta(RecallSerializer.Meta):
        fields = [*RecallSerializer.Meta.fields, "took_out"]

    @extend_schema_field(CaughtSerializer(many=True))
    def get_took_out(self, recall: Recall) -> list[dict[str, Any]]:
        return CaughtSerializer(caught_by(recall), many=True).data


class RecallViewSet(mixins.RetrieveModelMixin, LedgerViewSet):
    """Makers' recalls: recording one takes out everything it means."""

    model = Recall
    needs = {"create": "write", "default": "read"}

    def get_serializer_class(self) -> type[RecallSerializer]:
        return RecallDetailSerializer if self.action == "retrieve" else RecallSerializer

    @extend_schema(request=RecallSerializer, responses=RECORDED)
    def create(self, request: Request) -> Response:
        """Record a recall."""
        return self.record(request, services.record_recall)


class CrewSerializer(serializers.ModelSerializer):
    line = OfDepartment(Line, required=False, allow_null=True)
    counts_today = serializers.SerializerMethodField()

    class Meta:
        model = CrewMember
        fields = ["id", "name", "role", "line", "qualified_on", "qualified_until", "left_on", "counts_today"]
        extra_kwargs = {"name": {"validators": []}}

    def get_counts_today(self, member: CrewMember) -> bool:
        today = timezone.localdate()
        here = member.left_on is None or member.left_on > today
        on, until = member.qualified_on, member.qualified_until
        return here and currency(today, qualified_on=on, qualified_until=until).qualified


class CrewViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """The roster."""

    model, serializer_class = CrewMember, CrewSerializer
    needs = {"create": "write", "default": "read"}
    filterset_fields = ["line"]

    def create(self, request: Request) -> Response:
        """Put somebody on the roster."""
        body = self.get_serializer(data=request.data)
        body.is_valid(raise_exception=True)
        member = put_crew(department=self.department, by=self.user, **body.validated_data)
        return Response(self.get_serializer(member).data, status=status.HTTP_201_CREATED)
