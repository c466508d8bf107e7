"""A trend as the API gives it: SI, with the limit in force and what is foretold of the day it is met."""

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from rest_framework import serializers

from inspections.trending import LEVEL, Trend, in_words
from shared.units import UNITS


class TrendPointSerializer(serializers.Serializer):
    happened_at = serializers.DateTimeField()
    value = serializers.FloatField()
    at_least = serializers.BooleanField(help_text="The test showed a lower bound only; the line leaves it out.")
    verdict = serializers.CharField()
    inspection = serializers.UUIDField(help_text="client_id of the record.")


class TrendBoundSerializer(serializers.Serializer):
    side = serializers.ChoiceField(choices=["low", "high"])
    limit = serializers.FloatField()


class TrendSerializer(serializers.Serializer):
    quantity = serializers.CharField()
    label = serializers.CharField()
    unit = serializers.CharField(help_text="SI.")
    bounds = TrendBoundSerializer(many=True)
    limit_key = serializers.CharField(allow_blank=True)
    origin = serializers.CharField(allow_blank=True)
    trend_outcome = serializers.CharField(allow_null=True, help_text="Null where nothing is foretold; see words.")
    words = serializers.CharField()
    towards = serializers.CharField(allow_null=True, help_text="The side of the limit that is told of: low or high.")
    level = serializers.FloatField(help_text="Of the range about the trend.")
    crosses_on = serializers.DateField(allow_null=True, help_text="The trend itself meets the limit.")
    earliest_on = serializers.DateField(allow_null=True, help_text="A single reading may first meet it.")
    since = serializers.DateTimeField(allow_null=True, help_text="The repair, use or refill that began the series.")
    since_what = serializers.CharField(allow_blank=True)
    outlier_suspected = serializers.BooleanField()
    points = TrendPointSerializer(many=True)


def trend_row(trend: Trend, on: date, zone: ZoneInfo) -> dict[str, Any]:
    """Return one trend as its serializer reads it."""
    series, found = trend.series, trend.forecast

    def of(at: datetime | None) -> date | None:
        return None if at is None else at.astimezone(zone).date()

    return {
        "quantity": trend.quantity.key,
        "label": trend.quantity.label,
        "unit": UNITS[trend.quantity.unit].si,
        "bounds": [{"side": one.side, "limit": one.value} for one in series.bounds],
        "limit_key": trend.quantity.limit,
        "origin": ", ".join(part for part in (series.origin, series.source) if part),
        "trend_outcome": found.outcome if found else None,
        "words": in_words(trend, on, zone),
        "towards": trend.bound.side if trend.bound else None,
        "level": LEVEL,
        "crosses_on": of(trend.crosses_at),
        "earliest_on": of(trend.earliest_at),
        "since": series.since.at if series.since else None,
        "since_what": series.since.what if series.since else "",
        "outlier_suspected": bool(found and found.outlier_suspected),
        "points": [
            {
                "happened_at": one.at,
                "value": one.value,
                "at_least": one.at_least,
                "verdict": one.verdict,
                "inspection": one.ref,
            }
            for one in series.points
        ],
    }
