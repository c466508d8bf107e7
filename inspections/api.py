"""The evidence over the API: procedures, walks, inspections, repairs, upkeep, deficiencies, an item's readings."""

from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

import django_filters
from django.db.models import Exists, F, OuterRef, QuerySet, Subquery
from django.utils import timezone
from drf_spectacular.utils import OpenApiResponse, extend_schema, extend_schema_field
from rest_framework import mixins, serializers, status
from rest_framework.decorators import action
from rest_framework.parsers import JSONParser, MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from inspections import queries, services
from inspections.models import (
    AcceptedRisk,
    Calibration,
    Deficiency,
    Inspection,
    Photo,
    Procedure,
    Proof,
    Reading,
    Repair,
    Restoration,
    Upkeep,
    Walk,
)
from inspections.queries.instruments import QUANTITIES
from inspections.services.photos import add_photo
from inspections.trend_rows import TrendSerializer, trend_row
from inspections.verdicts.core import ReadingError
from inventory.api import RECORDED, ItemViewSet
from inventory.models import Item, Line, Lot, Place, StateEvent
from shared.api import (
    DepartmentViewSet,
    InstantField,
    LedgerViewSet,
    OfDepartment,
    RecordedSerializer,
    Refused,
    not_ahead,
    record_once,
    same_or_refuse,
)
from shared.files import MOST_BYTES
from shared.ledger import LedgerRow


class ProcedureSerializer(serializers.ModelSerializer):
    definition = serializers.DictField(help_text="Steps, typed inputs with their units, cautions.")

    class Meta:
        model = Procedure
        fields = ["id", "check_key", "version", "name", "definition", "effective_on", "origin"]


def _is_plain(value: object, listed: bool) -> bool:
    if listed:
        return isinstance(value, list) and all(isinstance(one, str) for one in value)
    return value is None or isinstance(value, str | int | float | bool)


class AmendSerializer(serializers.Serializer):
    check_key = serializers.SlugField(max_length=20)
    base = serializers.IntegerField(min_value=1, help_text="The version that the change was made from: the newest one.")
    definition = serializers.DictField(help_text="The whole new definition, as it is read here.")
    effective_on = serializers.DateField(help_text="Today or later.")
    origin = serializers.CharField(max_length=200, required=False, allow_blank=True)
    reason = serializers.CharField(
        max_length=300, required=False, allow_blank=True, help_text="Why, where a caution is taken away."
    )

    def validate_definition(self, told: dict[str, Any]) -> dict[str, Any]:
        """Refuse a shape that is no definition; what may stand in it is the service's to say."""
        for name in ("inputs", "steps"):
            rows = told.get(name, [])
            if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
                raise serializers.ValidationError(f"{name} is a list of objects.")
            lists = ("inputs",) if name == "steps" else ("aliases", "choices", "modes")
            if not all(_is_plain(value, key in lists) for row in rows for key, value in row.items()):
                raise serializers.ValidationError(
                    f"Of {name}, {', '.join(lists)} are lists of texts, the rest plain values."
                )
        if not _is_plain(told.get("void_when", []), listed=True):
            raise serializers.ValidationError("void_when is a list of texts.")
        return told


class ProcedureViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """How each check is done, in the version in force; a record keeps the version it was done by."""

    model, serializer_class = Procedure, ProcedureSerializer
    needs = {"create": "write", "default": "read"}
    filterset_fields = ["check_key"]

    @extend_schema(request=AmendSerializer, responses={201: ProcedureSerializer})
    def create(self, request: Request) -> Response:
        """Put another version of a check in force from a day on; what the verdict is worked out from stays."""
        body = AmendSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        row = services.amend_procedure(
            department=self.department, by=self.user, today=timezone.localdate(), **body.validated_data
        )
        return Response(ProcedureSerializer(row).data, status=status.HTTP_201_CREATED)

    def rows(self) -> QuerySet[Procedure]:
        if self.action != "list":
            return Procedure.objects.all()
        today = timezone.localdate()
        of_check = Procedure.objects.filter(
            department=OuterRef("department"), check_key=OuterRef("check_key"), effective_on__lte=today
        )
        newest = Subquery(of_check.order_by("-version").values("pk")[:1])
        return Procedure.objects.filter(pk=newest).order_by("name")


class WalkSerializer(serializers.ModelSerializer):
    client_id = serializers.UUIDField(help_text="Your own id for this walk: sent twice, it is opened once.")
    place = OfDepartment(Place)
    place_name = serializers.CharField(source="place.name", read_only=True)
    by_name = serializers.CharField(source="by.signed_name", read_only=True)
    started_at = InstantField(required=False)

    class Meta:
        model = Walk
        fields = ["id", "client_id", "place", "place_name", "by_name", "started_at", "signed_at", "signed_name", "note"]
        read_only_fields = ["signed_at", "signed_name", "note"]


class SignSerializer(serializers.Serializer):
    note = serializers.CharField(required=False, allow_blank=True, default="")


class WalkViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """Rounds through a place; open until signed."""

    model, serializer_class = Walk, WalkSerializer
    needs = {"create": "walk", "sign": "walk", "default": "read"}
    filterset_fields = {"place": ["exact"], "signed_at": ["isnull"]}

    def rows(self) -> QuerySet[Walk]:
        return Walk.objects.select_related("place", "by").order_by("-started_at", "-pk")

    @extend_schema(
        request=WalkSerializer,
        responses={201: WalkSerializer, 200: OpenApiResponse(WalkSerializer, description="It was opened before.")},
    )
    def create(self, request: Request) -> Response:
        """Open a walk."""
        body = self.get_serializer(data=request.data)
        body.is_valid(raise_exception=True)
        sent = dict(body.validated_data)
        known = self.get_queryset().filter(client_id=sent["client_id"]).first()
        if known is not None:
            same_or_refuse(known, sent)
            return Response(self.get_serializer(known).data)
        started_at = not_ahead(sent.pop("started_at", None))
        walk = services.open_walk(department=self.department, by=self.user, started_at=started_at, **sent)
        return Response(self.get_serializer(walk).data, status=status.HTTP_201_CREATED)

    @extend_schema(request=SignSerializer, responses=WalkSerializer)
    @action(detail=True, methods=["post"])
    def sign(self, request: Request, pk: str) -> Response:
        """Sign a walk: the last thing that happens to it."""
        body = SignSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        signed = {"by": self.user, "signed_name": self.user.signed_name, "signed_at": timezone.now()}
        walk = services.sign_walk(walk=self.get_object(), **signed, **body.validated_data)
        return Response(self.get_serializer(walk).data)


class ReadingSerializer(serializers.ModelSerializer):
    class Meta:
        model = Reading
        fields = ["key", "number", "text", "unit", "as_entered"]


class ProofSerializer(serializers.ModelSerializer):
    proof_outcome = serializers.ChoiceField(source="outcome", choices=Proof.Outcome.choices)

    class Meta:
        model = Proof
        fields = ["mode_code", "proof_outcome", "ratio", "units"]


class FindingSerializer(serializers.Serializer):
    key = serializers.CharField()
    text = serializers.CharField()
    outcome = serializers.CharField(help_text="pass, pass with limits, fail or void.")
    value = serializers.JSONField(allow_null=True, help_text="Number, text or yes/no, as it was judged.")
    unit = serializers.CharField(allow_blank=True)
    limit_key = serializers.CharField(allow_blank=True)
    limit_text = serializers.CharField(allow_blank=True)
    origin = serializers.CharField(allow_blank=True)


class InspectionSerializer(serializers.ModelSerializer):
    class Meta:
        model = Inspection
        fields = [
            "id", "client_id", "check_key", "item", "lot", "line", "walk", "procedure", "happened_at", "recorded_at",
            "by_name", "verdict", "summary", "units_checked", "source", "remark", "corrects",
        ]  # fmt: skip


class InspectionDetailSerializer(InspectionSerializer):
    readings = ReadingSerializer(many=True)
    findings = FindingSerializer(many=True)
    proofs = ProofSerializer(many=True)
    measured = serializers.DictField(help_text="Quantities the rating uses: name to value, unit, at_least; SI.")

    class Meta(InspectionSerializer.Meta):
        fields = [*InspectionSerializer.Meta.fields, "started_at", "readings", "findings", "proofs", "measured"]


class ValueField(serializers.Field):
    """One value of a check: a number, some text, or yes/no."""

    def to_internal_value(self, data: object) -> str | float | bool:
        if not isinstance(data, str | int | float | bool) or (
            isinstance(data, str) and (len(data) > 200 or "\0" in data)
        ):
            self.fail("invalid")
        return data

    def to_representation(self, value: object) -> object:
        return value

    default_error_messages = {"invalid": "A value is a number, a text of at most 200 letters, or true or false."}


VALUES_SCHEMA = {
    "type": "object",
    "additionalProperties": {"type": ["number", "string", "boolean"]},
    "description": "Input key of the procedure to value, in that input's unit.",
    "examples": [{"P1": 3.0, "T1": 62, "P2": 2.5, "T2": 49, "hold_min": 60, "same_gauge": True}],
}


@extend_schema_field(VALUES_SCHEMA)
class ValuesField(serializers.DictField):
    child = ValueField()


class RecordInspectionSerializer(serializers.Serializer):
    client_id = serializers.UUIDField(help_text="Your own id for this record: sent twice, it is recorded once.")
    check_key = serializers.SlugField(max_length=20)
    item = OfDepartment(Item, required=False)
    lot = OfDepartment(Lot, required=False)
    line = OfDepartment(Line, required=False)
    walk = OfDepartment(Walk, required=False)
    values = ValuesField()
    happened_at = InstantField(required=False, help_text="When the check ended; now where left out.")
    started_at = InstantField(required=False)
    remark = serializers.CharField(max_length=300, required=False, allow_blank=True)

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        if len({"item", "lot", "line"} & sent.keys()) != 1:
            raise serializers.ValidationError("Name one item, one lot or one line.")
        not_ahead(sent.get("happened_at"))
        return sent


class InspectionFilter(django_filters.FilterSet):
    since = django_filters.IsoDateTimeFilter("happened_at", "gte")
    until = django_filters.IsoDateTimeFilter("happened_at", "lt")

    class Meta:
        model = Inspection
        fields = ["item", "lot", "line", "walk", "check_key", "verdict"]


class InspectionViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """Checks with their verdicts, newest first."""

    model = Inspection
    filterset_class = InspectionFilter
    needs = {"create": "walk", "default": "read"}

    def rows(self) -> QuerySet[Inspection]:
        rows = Inspection.objects.order_by("-happened_at", "-pk")
        return rows if self.action == "list" else rows.prefetch_related("readings", "proofs")

    def get_serializer_class(self) -> type[serializers.BaseSerializer]:
        return InspectionSerializer if self.action == "list" else InspectionDetailSerializer

    @extend_schema(
        request=RecordInspectionSerializer,
        responses={
            201: InspectionDetailSerializer,
            200: OpenApiResponse(InspectionDetailSerializer, description="It was recorded before."),
        },
    )
    def create(self, request: Request) -> Response:
        """Record one check: it is judged at once, and what it proved or found wrong is recorded with it."""
        body = RecordInspectionSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        sent = dict(body.validated_data)
        known = self.get_queryset().filter(client_id=sent["client_id"]).first()
        if known is not None:
            # The service compares the check, its subject, its readings and who signed; what is left is compared here.
            same_or_refuse(known, {key: sent[key] for key in ("walk", "started_at", "remark") if key in sent})
        happened_at = sent.get("happened_at") or (known.happened_at if known else timezone.now())
        row = _record(sent | {"happened_at": happened_at}, self)
        row = self.get_queryset().get(pk=row.pk)
        code = status.HTTP_201_CREATED if known is None else status.HTTP_200_OK
        return Response(self.get_serializer(row).data, status=code)


def _record(sent: Mapping[str, Any], view: InspectionViewSet) -> Inspection:
    try:
        return services.record_inspection(**view.signed, source="api", **sent)
    except ReadingError as refused:
        raise Refused([_problem(error) for error in refused.every]) from refused


def _problem(error: ReadingError) -> tuple[str, str, str]:
    where = "check_key" if error.key == "check" else f"values.{error.key}"
    return where, f"{error.value!r}: {error.problem}", error.mend


class DeficiencySerializer(serializers.ModelSerializer):
    item_tag = serializers.CharField(source="item.tag")
    found_by = serializers.CharField(source="by_name")
    is_open = serializers.BooleanField()
    awaiting_second_name = serializers.BooleanField()

    class Meta:
        model = Deficiency
        fields = [
            "id", "item", "item_tag", "inspection", "mode_code", "grade", "check_key", "text", "found_by",
            "happened_at", "recorded_at", "is_open", "awaiting_second_name",
        ]  # fmt: skip


class OpenDeficiencySerializer(serializers.Serializer):
    client_id = serializers.UUIDField(help_text="Your own id for this record: sent twice, it is recorded once.")
    item = OfDepartment(Item)
    mode_code = serializers.CharField(max_length=8, help_text="One of the failure modes of the item's kind.")
    grade = serializers.ChoiceField(choices=["I", "C", "N"], help_text="I takes the item out of service.")
    text = serializers.CharField(max_length=300)
    happened_at = InstantField(required=False, help_text="When it was found; now where left out.")


class _DecisionSerializer(serializers.Serializer):
    client_id = serializers.UUIDField(help_text="Your own id for this record: sent twice, it is recorded once.")
    reason = serializers.CharField(max_length=300)
    happened_at = InstantField(required=False, help_text="When it was decided; now where left out.")


class AcceptSerializer(_DecisionSerializer):
    until = serializers.DateField(help_text="The last day it may be run with.")


class WithdrawSerializer(_DecisionSerializer):
    pass


class StateRestoredSerializer(serializers.Serializer):
    client_id = serializers.UUIDField(help_text="Your own id for this record: sent twice, it is recorded once.")
    statement = serializers.CharField(max_length=300, help_text="What was seen that shows it is put right.")
    happened_at = InstantField(required=False, help_text="When it was seen; now where left out.")


class AcceptedRiskSerializer(serializers.ModelSerializer):
    class Meta:
        model = AcceptedRisk
        fields = ["id", "client_id", "deficiency", "until", "reason", "withdrawn", "by_name", "happened_at"]
        read_only_fields = fields


class PhotoSerializer(serializers.ModelSerializer):
    file = serializers.HyperlinkedRelatedField(view_name="shared:file", read_only=True)

    class Meta:
        model = Photo
        fields = ["id", "client_id", "file", "note", "by_name", "happened_at", "recorded_at"]
        read_only_fields = fields


class SendPhotoSerializer(serializers.Serializer):
    client_id = serializers.UUIDField(help_text="Your own id for this photo: sent twice, it is kept once.")
    photo = serializers.FileField(help_text="JPEG, PNG or WebP, or a PDF; at most 15 MB.")
    note = serializers.CharField(max_length=200, required=False, allow_blank=True)
    happened_at = InstantField(required=False, help_text="When it was taken; now where left out.")

    def validate_photo(self, sent: Any) -> Any:
        if sent.size > MOST_BYTES:
            raise serializers.ValidationError("The file is larger than 15 MB.")
        return sent


class DeficiencyFilter(django_filters.FilterSet):
    is_open = django_filters.BooleanFilter("is_open")

    class Meta:
        model = Deficiency
        fields = ["item", "grade", "mode_code"]


class DeficiencyViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """Faults found, newest first; open until the same check is passed."""

    model, serializer_class, filterset_class = Deficiency, DeficiencySerializer, DeficiencyFilter
    needs = {
        "create": "walk",
        "restore": "walk",
        "accept": "accept",
        "withdraw": "accept",
        "add_photo": "walk",
        "default": "read",
    }

    def rows(self) -> QuerySet[Deficiency]:
        now = timezone.now()
        restored = Restoration.objects.as_of(now, now).filter(deficiency=OuterRef("pk"))
        rows = Deficiency.objects.as_of(now, now).select_related("item")
        rows = rows.annotate(
            is_open=~Exists(restored),
            awaiting_second_name=Exists(restored.filter(awaiting_second_name=True))
            & ~Exists(restored.filter(awaiting_second_name=False)),
        )
        return rows.order_by("-happened_at", "-pk")

    @extend_schema(request=OpenDeficiencySerializer, responses=RECORDED)
    def create(self, request: Request) -> Response:
        """Open a deficiency by hand. An impairment takes the item out of service; isolate, lock or unplug as well."""
        body = OpenDeficiencySerializer(data=request.data, context=self.get_serializer_context())
        return self._once(body, Deficiency, services.open_deficiency_by_hand)

    @extend_schema(request=StateRestoredSerializer, responses=RECORDED)
    @action(detail=True, methods=["post"])
    def restore(self, request: Request, pk: str) -> Response:
        """State that a fault which no check can see is put right; one that a check sees, that check restores."""
        fault, body = self.get_object(), StateRestoredSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        sent = dict(body.validated_data)
        sent["happened_at"] = not_ahead(sent.get("happened_at"))
        row = services.restore_by_hand(**self.signed, deficiency=fault, **sent)
        return Response(RecordedSerializer(row).data, status=status.HTTP_201_CREATED)

    @extend_schema(request=AcceptSerializer, responses=RECORDED)
    @action(detail=True, methods=["post"])
    def accept(self, request: Request, pk: str) -> Response:
        """Accept the risk of running with a fault until a day, under one's name. It changes no number."""
        return self._once(AcceptSerializer(data=request.data), AcceptedRisk, services.accept_risk, self.get_object())

    @extend_schema(request=WithdrawSerializer, responses=RECORDED)
    @action(detail=True, methods=["post"])
    def withdraw(self, request: Request, pk: str) -> Response:
        """Take an acceptance back."""
        body = WithdrawSerializer(data=request.data)
        return self._once(body, AcceptedRisk, services.withdraw_risk, self.get_object())

    @extend_schema(responses=AcceptedRiskSerializer(many=True), filters=False)
    @action(detail=True, pagination_class=None)
    def acceptances(self, request: Request, pk: str) -> Response:
        """List what was accepted and withdrawn of one fault, newest first."""
        rows = AcceptedRisk.objects.filter(deficiency=self.get_object()).order_by("-happened_at", "-pk")
        return Response(AcceptedRiskSerializer(rows, many=True).data)

    @extend_schema(responses=PhotoSerializer(many=True), filters=False)
    @action(detail=True, pagination_class=None)
    def photos(self, request: Request, pk: str) -> Response:
        """List the photos of one fault, oldest first."""
        rows = Photo.objects.filter(deficiency=self.get_object(), corrections=None).order_by("happened_at", "pk")
        return Response(PhotoSerializer(rows, many=True, context=self.get_serializer_context()).data)

    @extend_schema(request={"multipart/form-data": SendPhotoSerializer}, responses=RECORDED)
    @action(detail=True, methods=["post"], url_path="add-photo", parser_classes=[MultiPartParser, JSONParser])
    def add_photo(self, request: Request, pk: str) -> Response:
        """Keep a photo of one fault."""
        fault, body = self.get_object(), SendPhotoSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        sent = dict(body.validated_data)
        file, at = sent.pop("photo"), not_ahead(sent.pop("happened_at", None))
        row = add_photo(**self.signed, deficiency=fault, content=file.read(), name=file.name, happened_at=at, **sent)
        return Response(RecordedSerializer(row).data, status=status.HTTP_201_CREATED)

    def _once(
        self, body: serializers.Serializer, model: type[LedgerRow], service: Any, fault: Deficiency | None = None
    ) -> Response:
        body.is_valid(raise_exception=True)
        sent = dict(body.validated_data) | ({"deficiency": fault} if fault else {})
        filled = sent | {"happened_at": not_ahead(sent.get("happened_at"))}
        return record_once(
            model=model, department=self.department, sent=sent, write=lambda: service(**self.signed, **filled)
        )


class _WorkSerializer(serializers.ModelSerializer):
    """Work done on an item, as sent and as read."""

    client_id = serializers.UUIDField(help_text="Your own id for this record: sent twice, it is recorded once.")
    item = OfDepartment(Item)
    happened_at = InstantField(required=False, help_text="When it was done; now where left out.")

    def validate_happened_at(self, at: Any) -> Any:
        not_ahead(at)
        return at


class RepairSerializer(_WorkSerializer):
    deficiency = OfDepartment(Deficiency, required=False)

    class Meta:
        model = Repair
        fields = [
            "id", "client_id", "item", "deficiency", "what", "cause", "parts", "vendor", "hours", "cost",
            "happened_at", "recorded_at", "by_name",
        ]  # fmt: skip
        read_only_fields = ["recorded_at", "by_name"]


class UpkeepSerializer(_WorkSerializer):
    upkeep_sort = serializers.ChoiceField(source="sort", choices=Upkeep.Sort.choices)

    class Meta:
        model = Upkeep
        fields = [
            "id",
            "client_id",
            "item",
            "upkeep_sort",
            "hours",
            "to_lb",
            "note",
            "happened_at",
            "recorded_at",
            "by_name",
        ]
        read_only_fields = ["recorded_at", "by_name"]


class RepairViewSet(LedgerViewSet):
    """Work done on faults; a repair proves nothing by itself, the same check passed does."""

    model, serializer_class = Repair, RepairSerializer
    needs = {"create": "walk", "default": "read"}
    filterset_fields = ["item"]

    @extend_schema(request=RepairSerializer, responses=RECORDED)
    def create(self, request: Request) -> Response:
        """Record a repair. Status here is a record: isolate, lock or unplug before servicing."""
        return self.record(request, services.record_repair)


class UpkeepViewSet(LedgerViewSet):
    """Use and refills: they reopen what use reopens."""

    model, serializer_class = Upkeep, UpkeepSerializer
    needs = {"create": "walk", "default": "read"}
    filterset_fields = ["item"]

    @extend_schema(request=UpkeepSerializer, responses=RECORDED)
    def create(self, request: Request) -> Response:
        """Record use of an item or a refill."""
        return self.record(request, services.record_upkeep)


class CalibrationSerializer(_WorkSerializer):
    corrects = OfDepartment(Calibration, required=False)
    quantity = serializers.ChoiceField(choices=list(QUANTITIES))

    class Meta:
        model = Calibration
        fields = [
            "id", "client_id", "item", "quantity", "reference", "error", "unit", "accepted", "due_on", "file",
            "happened_at", "recorded_at", "by_name", "corrects",
        ]  # fmt: skip
        read_only_fields = ["file", "recorded_at", "by_name"]


class CalibrationViewSet(mixins.RetrieveModelMixin, LedgerViewSet):
    """Meters held against a reference; a rejected one puts what it read since the last good one in question."""

    model, serializer_class = Calibration, CalibrationSerializer
    needs = {"create": "write", "default": "read"}
    filterset_fields = ["item", "quantity", "accepted"]

    @extend_schema(request=CalibrationSerializer, responses=RECORDED)
    def create(self, request: Request) -> Response:
        """Record a calibration. What a meter was off by is stated beside its readings, never taken off them."""
        return self.record(request, services.record_calibration)


class ReadingOfItemSerializer(serializers.Serializer):
    inspection = serializers.IntegerField(source="inspection_id")
    check_key = serializers.CharField()
    verdict = serializers.CharField()
    happened_at = serializers.DateTimeField()
    by_name = serializers.CharField()
    key = serializers.CharField()
    number = serializers.FloatField(allow_null=True)
    text = serializers.CharField(allow_blank=True)
    unit = serializers.CharField(allow_blank=True)
    as_entered = serializers.CharField(allow_blank=True)


class TakeOutSerializer(serializers.Serializer):
    client_id = serializers.UUIDField(help_text="Your own id for this record: sent twice, it is recorded once.")
    reason = serializers.CharField(max_length=240)
    happened_at = InstantField(required=False, help_text="When it was done; now where left out.")


class EvidencedItemViewSet(ItemViewSet):
    """Items with where they stand; an item's own readings under it, and taking it out of service by hand."""

    needs = {"take_out": "walk", "bring_back": "write", "default": "read"}

    @extend_schema(request=TakeOutSerializer, responses=RECORDED)
    @action(detail=True, methods=["post"], url_path="take-out")
    def take_out(self, request: Request, pk: str) -> Response:
        """Take an item out of service on somebody's word. Status here is a record: isolate, lock or unplug as well."""
        return self._by_hand(request, services.take_out_by_hand)

    @extend_schema(request=TakeOutSerializer, responses=RECORDED)
    @action(detail=True, methods=["post"], url_path="bring-back")
    def bring_back(self, request: Request, pk: str) -> Response:
        """Bring back what was taken out by hand; what failed a check is restored by the same check, passed."""
        return self._by_hand(request, services.bring_back_by_hand)

    def _by_hand(self, request: Request, service: Any) -> Response:
        item = self.get_object()
        body = TakeOutSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        sent = dict(body.validated_data)
        filled = sent | {"happened_at": not_ahead(sent.get("happened_at"))}
        return record_once(
            model=StateEvent,
            department=self.department,
            sent=sent | {"item": item},
            write=lambda: service(**self.signed, item=item, **filled),
        )

    @extend_schema(responses=ReadingOfItemSerializer(many=True), filters=False)
    @action(detail=True, pagination_class=ItemViewSet.pagination_class)
    def readings(self, request: Request, pk: str) -> Response:
        """List what was measured on an item, newest first, as entered and as understood; corrected records left out."""
        now = timezone.now()
        known = Inspection.objects.as_of(now, now).filter(department=self.department, item=self.get_object())
        rows = Reading.objects.filter(inspection__in=known.values("pk")).order_by("-inspection__happened_at", "-pk")
        of_inspection = {name: F(f"inspection__{name}") for name in ("check_key", "verdict", "happened_at", "by_name")}
        rows = rows.values("inspection_id", "key", "number", "text", "unit", "as_entered", **of_inspection)
        page = self.paginate_queryset(rows)
        return self.get_paginated_response(ReadingOfItemSerializer(page, many=True).data)

    @extend_schema(responses=TrendSerializer(many=True), filters=False)
    @action(detail=True, pagination_class=None)
    def trends(self, request: Request, pk: str) -> Response:
        """List what was measured over time, each with its limit in force and what is foretold; SI, the newest 1000."""
        now, today = timezone.now(), timezone.localdate()
        zone = ZoneInfo(self.department.time_zone)
        rows = [trend_row(one, today, zone) for one in queries.trends(self.get_object(), now, now)]
        return Response(TrendSerializer(rows, many=True).data)
