"""What a line is rated against, and the stored answers."""

from django.conf import settings
from django.db import models
from django.utils import timezone


class RatedMission(models.Model):
    """What a line is judged against: the newest row in force wins; a change is a new row."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="+")
    line = models.ForeignKey("inventory.Line", on_delete=models.PROTECT, related_name="rated_missions")
    mission = models.JSONField()  # see readiness.rating.mission
    assumed = models.BooleanField(default=False)
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    effective_at = models.DateTimeField(default=timezone.now)
    recorded_at = models.DateTimeField(default=timezone.now)
    note = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["-effective_at", "-pk"]
        indexes = [models.Index(fields=["department", "line", "effective_at"], name="rated_mission_when")]


class StoredRating(models.Model):
    """The rating of a line's rated mission at one instant. Kept for good; the newest is what pages read."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="+")
    line = models.ForeignKey("inventory.Line", on_delete=models.PROTECT, related_name="ratings")
    at = models.DateTimeField()
    known_at = models.DateTimeField()
    made_at = models.DateTimeField(default=timezone.now)
    word = models.CharField(max_length=8)
    reason = models.CharField(max_length=12, blank=True)
    probability = models.FloatField()
    next_change_at = models.DateTimeField(null=True)
    rating = models.JSONField()  # readiness.rating.as_json
    because = models.CharField(max_length=120, blank=True)  # what made us rate again

    class Meta:
        ordering = ["-made_at", "-pk"]
        indexes = [models.Index(fields=["department", "line", "-made_at"], name="rating_newest")]


class LineState(models.Model):
    """One row a line: which stored rating stands, and whether facts have moved since."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="+")
    line = models.OneToOneField("inventory.Line", on_delete=models.PROTECT, related_name="state")
    newest = models.ForeignKey(StoredRating, null=True, on_delete=models.SET_NULL, related_name="+")
    stale_since = models.DateTimeField(null=True, blank=True)
    rate_at = models.DateTimeField(null=True, blank=True)  # next instant it can change by itself

    class Meta:
        indexes = [models.Index(fields=["department", "rate_at"], name="line_state_due")]


class Alert(models.Model):
    """A line's word changed or its score dropped by the department's step: said once, with the reason."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="+")
    line = models.ForeignKey("inventory.Line", on_delete=models.PROTECT, related_name="alerts")
    before = models.ForeignKey(StoredRating, on_delete=models.PROTECT, related_name="+")
    after = models.OneToOneField(StoredRating, on_delete=models.PROTECT, related_name="alert")
    at = models.DateTimeField(default=timezone.now)
    text = models.CharField(max_length=300)
    seen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["department", "-at"], name="alert_newest")]
