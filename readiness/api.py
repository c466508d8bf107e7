"""The answer over the API: lines with their stored rating, and missions asked."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.models import Line
from readiness import queries, services
from readiness.models import Alert
from readiness.rating.as_json import as_json
from readiness.rating.mission import DEFAULTS, Mission, MissionError
from shared.api import DepartmentViewSet, InstantField, Mended, instant_in

NUMBER = {"type": "number"}
IN_100 = {"type": "number", "minimum": 0, "maximum": 100}
MISSION_SCHEMA = {
    "type": "object",
    "description": "What is asked; a key left out keeps its default, an unknown key is refused.",
    "additionalProperties": False,
    "properties": {
        key: {
            "type": "boolean" if isinstance(default, bool) else ["number", "null"] if default is None else "number",
            "default": default,
            "description": f"[{unit}] {note}. Default from: {source}.",
        }
        for key, (default, unit, source, note) in DEFAULTS.items()
    },
}
RATING_SCHEMA = {
    "type": "object",
    "description": "What a line can do, how sure that is, the word for it, and why. Probabilities are in 100.",
    "required": ["line", "at", "known_at", "mission", "word", "reason", "probability", "can_do", "limits", "functions"],
    "properties": {
        "line": {"type": "string"},
        "at": {"type": "string", "format": "date-time"},
        "known_at": {"type": "string", "format": "date-time"},
        "mission": MISSION_SCHEMA,
        "word": {"type": "string", "enum": ["Whole", "Limited", "Down"]},
        "reason": {"type": "string", "enum": ["", "short", "unproven", "unsure"]},
        "probability": IN_100,
        "probability_low": IN_100,
        "probability_high": IN_100,
        "can_do": {
            "type": "object",
            "properties": {
                "people_per_hour": NUMBER,
                "hours": NUMBER,
                "lanes": {"type": "integer"},
                "probability": IN_100,
                "probability_low": IN_100,
                "probability_high": IN_100,
                "head_degF": NUMBER,
            },
        },
        "people_per_hour": NUMBER,
        "hours": NUMBER,
        "limits": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["function", "need", "have", "unit", "bites_at_min"],
                "properties": {
                    "function": {"type": "string"},
                    "need": NUMBER,
                    "have": NUMBER,
                    "unit": {"type": "string"},
                    "bites_at_min": NUMBER,
                },
            },
        },
        "functions": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["function", "need", "have", "unit", "probability", "evidence"],
                "properties": {
                    "function": {"type": "string"},
                    "need": NUMBER,
                    "have": NUMBER,
                    "unit": {"type": "string"},
                    "probability": {"type": ["number", "null"]},
                    "evidence": {"type": "string"},
                },
            },
        },
        "not_recorded": {"type": "array", "items": {"type": "string"}},
        "blind_spots": {"type": "array", "items": {"type": "string"}},
        "single_points": {"type": "array", "items": {"type": "string"}},
        "next_change_at": {"type": ["string", "null"], "format": "date-time"},
        "at_most": {"type": "array", "items": {"type": "string"}},
    },
}


@extend_schema_field(MISSION_SCHEMA)
class MissionField(serializers.JSONField):
    pass


class LineSerializer(serializers.ModelSerializer):
    home_name = serializers.CharField(source="home.name", default=None, allow_null=True)
    word = serializers.SerializerMethodField()
    reason = serializers.SerializerMethodField()
    probability = serializers.SerializerMethodField(help_text="Readiness score, in 100; null where never rated.")
    rated_at = serializers.SerializerMethodField()
    facts_moved_since = serializers.SerializerMethodField(help_text="Set while a newer rating is being worked out.")

    class Meta:
        model = Line
        fields = [
            "id", "name", "home", "home_name", "order", "word", "reason", "probability", "rated_at",
            "facts_moved_since",
        ]  # fmt: skip

    def get_word(self, line: Line) -> str | None:
        return _newest(line, "word")

    def get_reason(self, line: Line) -> str | None:
        return _newest(line, "reason")

    def get_probability(self, line: Line) -> float | None:
        return _newest(line, "probability")

    def get_rated_at(self, line: Line) -> datetime | None:
        return _newest(line, "at")

    def get_facts_moved_since(self, line: Line) -> datetime | None:
        return getattr(getattr(line, "state", None), "stale_since", None)


class LineDetailSerializer(LineSerializer):
    rating = serializers.SerializerMethodField(help_text="The stored rating of its rated mission; null if never rated.")

    class Meta(LineSerializer.Meta):
        fields = [*LineSerializer.Meta.fields, "rating"]

    @extend_schema_field(RATING_SCHEMA | {"type": ["object", "null"]})
    def get_rating(self, line: Line) -> Mapping[str, Any] | None:
        return _newest(line, "rating")


def _newest(line: Line, name: str) -> Any:
    """A value of the rating that stands for a line; None where it was never rated."""
    return getattr(getattr(getattr(line, "state", None), "newest", None), name, None)


class AskSerializer(serializers.Serializer):
    mission = MissionField()
    at = InstantField(required=False, help_text="The instant asked about; now where left out.")


class LineViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """Lines with the rating that stands; ask a mission, or look at a past instant."""

    model = Line

    def rows(self) -> QuerySet[Line]:
        return queries.lines_of(self.department)

    def get_serializer_class(self) -> type[serializers.BaseSerializer]:
        return LineDetailSerializer if self.action == "retrieve" else LineSerializer

    @extend_schema(request=AskSerializer, responses={200: RATING_SCHEMA})
    @action(detail=True, methods=["post"])
    def ask(self, request: Request, pk: str) -> Response:
        """Ask what the line could do about a mission; nothing is stored."""
        line = self.get_object()  # first: another department's line is not there, whatever is asked of it
        body = AskSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        mission = _mission(body.validated_data["mission"])
        at = body.validated_data.get("at") or timezone.now()
        return Response(as_json(services.ask(line=line, mission=mission, at=at)))

    @extend_schema(
        parameters=[
            OpenApiParameter("at", datetime, description="The instant asked about; now where left out."),
            OpenApiParameter("known_at", datetime, description="As it was known then; as ``at`` where left out."),
        ],
        responses={200: RATING_SCHEMA},
    )
    @action(detail=True)
    def rating(self, request: Request, pk: str) -> Response:
        """Rate the line's own mission at an instant, as known at another: what we believed, or what we know since."""
        line = self.get_object()
        at = instant_in(request, "at") or timezone.now()
        known_at = instant_in(request, "known_at") or at
        mission = queries.rated_mission(line, at, known_at)
        return Response(as_json(services.ask(line=line, mission=mission, at=at, known_at=known_at)))


def _mission(sent: object) -> Mission:
    if not isinstance(sent, dict):
        raise Mended("mission", "A mission is one JSON object.", "Send its keys and values.")
    try:
        return Mission.from_json(sent)
    except MissionError as refused:
        problems = {f"mission.{key}": [what] for key, what in refused.problems}
        raise serializers.ValidationError(problems) from refused


class AlertSerializer(serializers.ModelSerializer):
    word_before = serializers.CharField(source="before.word")
    word_after = serializers.CharField(source="after.word")
    probability_before = serializers.FloatField(source="before.probability", help_text="In 100.")
    probability_after = serializers.FloatField(source="after.probability", help_text="In 100.")

    class Meta:
        model = Alert
        fields = [
            "id", "line", "at", "text", "word_before", "word_after", "probability_before", "probability_after",
            "seen_at",
        ]  # fmt: skip


class AlertViewSet(mixins.ListModelMixin, DepartmentViewSet):
    """What the head was told: a word that changed, or a score that dropped by the department's step."""

    model, serializer_class = Alert, AlertSerializer
    filterset_fields = ["line"]

    def rows(self) -> QuerySet[Alert]:
        return Alert.objects.select_related("before", "after")
