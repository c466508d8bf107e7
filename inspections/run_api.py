"""Runs, run sheets, hand receipts, snaps and hidden test faults over the API."""

import secrets
from typing import Any

import django_filters
from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import mixins, serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inspections.models import HandReceipt, Plant, PlantEvent, Run, RunEvent, Snap, SnapAnswer
from inspections.predictions import prediction_of
from inspections.queries.plants import known_to
from inspections.queries.runs import runs_of
from inspections.queries.snaps import snap_states
from inspections.services.plants import PlantsAboard, plant_fault, remove_plant, show_at_send
from inspections.services.runs import CONTAMINATIONS, Return, receive_line, record_run_event, send_line
from inspections.services.snaps import answer_snap, draw_snap
from inventory.api import RECORDED
from inventory.models import Item, Line, Lot
from shared.api import DepartmentViewSet, InstantField, LedgerViewSet, OfDepartment, not_ahead, record_once

ONCE = "Your own id for this record: sent twice, it is recorded once."
NO_NAMES = "Equipment only: no casualty's name, and nothing of anybody's health."


class RunSerializer(serializers.ModelSerializer):
    line_name = serializers.CharField(source="line.name")
    run_sort = serializers.CharField(source="sort")
    is_back = serializers.BooleanField()
    people = serializers.IntegerField(help_text="How many came through, as tapped.")
    predicted = serializers.DictField(help_text="What the rating said of the line beforehand.")

    class Meta:
        model = Run
        fields = [
            "id", "client_id", "line", "line_name", "run_sort", "title", "site", "happened_at", "recorded_at",
            "by_name", "is_back", "people", "predicted",
        ]  # fmt: skip


class SendSerializer(serializers.Serializer):
    client_id = serializers.UUIDField(help_text=ONCE)
    line = OfDepartment(Line)
    run_sort = serializers.ChoiceField(source="sort", choices=Run.Sort.choices)
    title = serializers.CharField(max_length=160, help_text=NO_NAMES)
    site = serializers.CharField(max_length=160, required=False, allow_blank=True)
    accepted_by = serializers.CharField(max_length=120, help_text="Who accepts the line, by name.")
    organisation = serializers.CharField(max_length=160, required=False, allow_blank=True)
    note = serializers.CharField(max_length=300, required=False, allow_blank=True)
    plants_known = serializers.BooleanField(
        default=False, help_text="You were shown the test faults planted aboard, and send it all the same."
    )
    happened_at = InstantField(required=False, help_text="When it was ordered; now where left out.")


class CameBackSerializer(serializers.Serializer):
    """How many of one item or lot came back."""

    item = OfDepartment(Item, required=False)
    lot = OfDepartment(Lot, required=False)
    quantity = serializers.IntegerField(min_value=0, max_value=1_000_000)

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        if len({"item", "lot"} & sent.keys()) != 1:
            raise serializers.ValidationError("Name one item or one lot.")
        return sent


class ReceiveSerializer(serializers.Serializer):
    client_id = serializers.UUIDField(help_text=ONCE)
    handed_by = serializers.CharField(max_length=120, help_text="Who hands the line back, by name.")
    organisation = serializers.CharField(max_length=160, required=False, allow_blank=True)
    contamination = serializers.ChoiceField(choices=[(name, name) for name in CONTAMINATIONS])
    water_ran = serializers.BooleanField(help_text="Whether anything got wet.")
    unused = serializers.ListField(
        child=OfDepartment(Item), required=False, max_length=2000, help_text="Items that were not used."
    )
    came_back = CameBackSerializer(many=True, required=False, help_text="What did not all come back; lots counted.")
    note = serializers.CharField(max_length=300, required=False, allow_blank=True)
    happened_at = InstantField(required=False, help_text="When it came back; now where left out.")


class RunFilter(django_filters.FilterSet):
    is_back = django_filters.BooleanFilter("is_back")

    class Meta:
        model = Run
        fields = ["line"]


class RunViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """Lines sent out, newest first, with whether they are back."""

    model, serializer_class, filterset_class = Run, RunSerializer, RunFilter
    needs = {"create": "walk", "receive": "walk", "default": "read"}

    def rows(self) -> QuerySet[Run]:
        return runs_of(self.department)

    @extend_schema(
        request=SendSerializer,
        responses={201: RunSerializer, 200: OpenApiResponse(RunSerializer, description="It was sent before.")},
    )
    def create(self, request: Request) -> Response:
        """Send a line out and sign it over: its load and its seals stand on the hand receipt as they are."""
        body = SendSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        sent = dict(body.validated_data)
        at = not_ahead(sent.pop("happened_at", None))
        known = Run.objects.filter(department=self.department, client_id=sent["client_id"]).exists()
        try:
            run = send_line(**self.signed, **sent, happened_at=at, predicted=prediction_of(sent["line"], at))
        except PlantsAboard as refused:
            show_at_send(line=sent["line"], states=refused.states, sender=self.user, at=at)
            raise
        row = self.get_queryset().get(pk=run.pk)
        return Response(self.get_serializer(row).data, status=status.HTTP_200_OK if known else status.HTTP_201_CREATED)

    @extend_schema(request=ReceiveSerializer, responses=RECORDED)
    @action(detail=True, methods=["post"])
    def receive(self, request: Request, pk: str) -> Response:
        """Receive a line back: what was used is due, what is wet is on the clock, what is missing is lost."""
        run = self.get_object()
        body = ReceiveSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        sent = dict(body.validated_data)
        back = sent.get("came_back", ())
        came = Return(
            contamination=sent["contamination"],
            water_ran=sent["water_ran"],
            unused=frozenset(item.pk for item in sent.get("unused", ())),
            items_back={row["item"].pk: row["quantity"] for row in back if "item" in row},
            lots_back={row["lot"].pk: row["quantity"] for row in back if "lot" in row},
        )
        said = {key: sent[key] for key in ("client_id", "handed_by", "organisation", "note") if key in sent}
        at = not_ahead(sent.get("happened_at"))
        compared = {key: said[key] for key in ("client_id", "handed_by", "organisation") if key in said} | {"run": run}
        return record_once(
            model=HandReceipt, department=self.department, sent=compared,
            write=lambda: receive_line(run=run, came=came, happened_at=at, **self.signed, **said),
        )  # fmt: skip


class RunEventSerializer(serializers.ModelSerializer):
    client_id = serializers.UUIDField(help_text=ONCE)
    run = OfDepartment(Run)
    sheet_event = serializers.CharField(source="event", max_length=20, help_text="A stamp, person, fuel, used, undone.")
    lane = serializers.IntegerField(required=False, allow_null=True, min_value=1, max_value=12)
    item = OfDepartment(Item, required=False)
    lot = OfDepartment(Lot, required=False)
    number = serializers.FloatField(required=False, allow_null=True)
    text = serializers.CharField(max_length=300, required=False, allow_blank=True, help_text=NO_NAMES)
    corrects = OfDepartment(RunEvent, required=False, help_text="The row of this run that this one corrects or undoes.")
    happened_at = InstantField(required=False, help_text="When it was; now where left out.")

    class Meta:
        model = RunEvent
        fields = [
            "id", "client_id", "run", "sheet_event", "lane", "walking", "item", "lot", "number", "unit", "text",
            "corrects", "happened_at", "recorded_at", "by_name",
        ]  # fmt: skip
        read_only_fields = ["recorded_at", "by_name"]

    def validate_sheet_event(self, event: str) -> str:
        return event.strip()


class RunEventViewSet(LedgerViewSet):
    """Run sheets: stamps of the clock, people through the lanes, uses and faults. A slip is corrected by a new row."""

    model, serializer_class = RunEvent, RunEventSerializer
    needs = {"create": "walk", "default": "read"}
    filterset_fields = ["run", "event", "lane"]

    @extend_schema(request=RunEventSerializer, responses=RECORDED)
    def create(self, request: Request) -> Response:
        """Put one row on a run sheet."""
        return self.record(request, record_run_event)


class HandReceiptSerializer(serializers.ModelSerializer):
    load = serializers.ListField(child=serializers.DictField())
    seals = serializers.ListField(child=serializers.DictField())

    class Meta:
        model = HandReceipt
        fields = [
            "id", "client_id", "run", "way", "by_name", "handed_by", "accepted_by", "organisation", "load", "seals",
            "note", "happened_at", "recorded_at",
        ]  # fmt: skip


class HandReceiptViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """Hand receipts: who handed a line over and who accepted it, with its load and seals at that instant."""

    model, serializer_class = HandReceipt, HandReceiptSerializer
    filterset_fields = ["run", "way"]

    def rows(self) -> QuerySet[HandReceipt]:
        return HandReceipt.objects.order_by("-happened_at", "-pk")


# Snap ----------------------------------------------------------------------------------------------------------------


class SnapSerializer(serializers.ModelSerializer):
    item_tag = serializers.CharField(source="item.tag")
    word = serializers.SerializerMethodField(help_text="called, in hand, overdue, not found, or the verdict.")

    class Meta:
        model = Snap
        fields = [
            "id", "client_id", "item", "item_tag", "check_key", "weight", "pool", "seed", "allowed_min", "happened_at",
            "recorded_at", "by_name", "word",
        ]  # fmt: skip

    def get_word(self, row: Snap) -> str:
        return self.context["words"].get(row.pk, "")


class DrawSerializer(serializers.Serializer):
    client_id = serializers.UUIDField(help_text=ONCE)


class SnapViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """No-notice draws of one item, newest first; each can be drawn again from its seed."""

    model, serializer_class = Snap, SnapSerializer
    needs = {"create": "write", "default": "read"}
    filterset_fields = ["item"]

    def rows(self) -> QuerySet[Snap]:
        return Snap.objects.select_related("item").order_by("-happened_at", "-pk")

    def get_serializer(self, *args: Any, **kwargs: Any) -> serializers.BaseSerializer:
        now = timezone.now()
        rows = args[0] if args else ()
        shown = list(rows) if kwargs.get("many") else [rows] if isinstance(rows, Snap) else []
        words = {state.snap.pk: state.word(now) for state in snap_states(shown, now, now)} if shown else {}
        kwargs["context"] = self.get_serializer_context() | {"words": words}
        return SnapSerializer(*args, **kwargs)

    @extend_schema(
        request=DrawSerializer,
        responses={201: SnapSerializer, 200: OpenApiResponse(SnapSerializer, description="It was drawn before.")},
    )
    def create(self, request: Request) -> Response:
        """Draw one item, weighted to the least proven."""
        body = DrawSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        client_id = body.validated_data["client_id"]
        known = Snap.objects.filter(department=self.department, client_id=client_id).exists()
        snap = draw_snap(seed=secrets.token_hex(8), happened_at=timezone.now(), client_id=client_id, **self.signed)
        return Response(self.get_serializer(snap).data, status=status.HTTP_200_OK if known else status.HTTP_201_CREATED)


class SnapAnswerSerializer(serializers.ModelSerializer):
    client_id = serializers.UUIDField(help_text=ONCE)
    snap = OfDepartment(Snap)
    in_hand_at = InstantField(required=False, allow_null=True)
    working_at = InstantField(required=False, allow_null=True)
    note = serializers.CharField(
        max_length=240, required=False, write_only=True, help_text="Where it was looked for, if it was not found."
    )
    happened_at = InstantField(required=False)

    class Meta:
        model = SnapAnswer
        fields = [
            "id", "client_id", "snap", "in_hand_at", "working_at", "found", "inspection", "note", "happened_at",
            "recorded_at", "by_name",
        ]  # fmt: skip
        read_only_fields = ["inspection", "recorded_at", "by_name"]


class SnapAnswerViewSet(LedgerViewSet):
    """What came of the snaps; the check that is read on the item answers its snap by itself."""

    model, serializer_class = SnapAnswer, SnapAnswerSerializer
    needs = {"create": "walk", "default": "read"}
    filterset_fields = ["snap"]

    @extend_schema(request=SnapAnswerSerializer, responses=RECORDED)
    def create(self, request: Request) -> Response:
        """Answer a snap: in hand, working, or not where the record says."""
        body = self.get_serializer(data=request.data)
        body.is_valid(raise_exception=True)
        sent = dict(body.validated_data)
        filled = sent | {"happened_at": not_ahead(sent.get("happened_at"))}
        compared = {key: value for key, value in sent.items() if key != "note"}
        return record_once(
            model=SnapAnswer, department=self.department, sent=compared,
            write=lambda: answer_snap(**self.signed, **filled),
        )  # fmt: skip


# Hidden test faults --------------------------------------------------------------------------------------------------


class PlantSerializer(serializers.ModelSerializer):
    client_id = serializers.UUIDField(help_text=ONCE)
    item = OfDepartment(Item)
    happened_at = InstantField(required=False)

    class Meta:
        model = Plant
        fields = [
            "id", "client_id", "item", "check_key", "mode_code", "what", "happened_at", "recorded_at", "by_name",
        ]  # fmt: skip
        read_only_fields = ["recorded_at", "by_name"]


class RemovePlantSerializer(serializers.Serializer):
    client_id = serializers.UUIDField(help_text=ONCE)
    note = serializers.CharField(max_length=240, required=False, allow_blank=True)
    happened_at = InstantField(required=False)


class PlantViewSet(mixins.RetrieveModelMixin, LedgerViewSet):
    """Hidden test faults that one may know of; any other is not found."""

    model, serializer_class = Plant, PlantSerializer
    needs = {"create": "write", "remove": "walk", "retrieve": "plant", "list": "plant", "default": "plant"}
    filterset_fields = ["item"]

    def rows(self) -> QuerySet[Plant]:
        role = self.request.membership.role
        known = known_to(self.department, self.user, role, timezone.now())
        return super().rows().filter(pk__in=[state.plant.pk for state in known])

    @extend_schema(request=PlantSerializer, responses=RECORDED)
    def create(self, request: Request) -> Response:
        """Seal a hidden test fault: never on gas, relief valves, GFCIs, cylinders or regulators."""
        return self.record(request, plant_fault)

    @extend_schema(request=RemovePlantSerializer, responses=RECORDED)
    @action(detail=True, methods=["post"])
    def remove(self, request: Request, pk: str) -> Response:
        """Record, under your name, that a test fault was taken away."""
        plant = self.get_object()
        body = RemovePlantSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        sent = dict(body.validated_data)
        filled = sent | {"happened_at": not_ahead(sent.get("happened_at"))}
        signed = {"by": self.user, "by_name": self.user.signed_name}
        return record_once(
            model=PlantEvent, department=self.department, sent=sent | {"plant": plant},
            write=lambda: remove_plant(plant=plant, **signed, **filled),
        )  # fmt: skip
