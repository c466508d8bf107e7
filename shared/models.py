"""Departments, people and what they may do, the audit trail, the outbox and API tokens."""

import uuid
from datetime import date

from django.contrib.auth.models import AbstractUser
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone


class Department(models.Model):
    """A fire department or hospital: the wall that everything else stands behind."""

    name = models.CharField(max_length=160, unique=True)
    slug = models.SlugField(max_length=80, unique=True)
    time_zone = models.CharField(max_length=64, default="America/New_York")
    # In 100; a line below it is Limited: unsure. domain default, editable by the head.
    target_score = models.FloatField(default=80, validators=[MinValueValidator(0), MaxValueValidator(100)])
    station_pressure_psi = models.FloatField(default=14.70)  # used where a hold test recorded no barometer
    cold_season_from = models.PositiveSmallIntegerField(default=10)  # month the cold season starts in
    cold_season_to = models.PositiveSmallIntegerField(default=4)  # month it ends in, inclusive
    # Points of 100 that a line's score must drop by before its head is told.
    alert_step = models.FloatField(default=10, validators=[MinValueValidator(1), MaxValueValidator(100)])
    created_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class User(AbstractUser):
    """Somebody who can sign in. What they may do is in their memberships."""

    display_name = models.CharField(max_length=120, blank=True)
    uses_si = models.BooleanField(default=False)

    @property
    def signed_name(self) -> str:
        return self.display_name or self.get_full_name() or self.username


class MembershipQuerySet(models.QuerySet):
    def current(self, on: date) -> "MembershipQuerySet":
        """Return memberships in force on a day; a visitor's pass has dates, others may."""
        return self.filter(Q(starts_on=None) | Q(starts_on__lte=on), Q(ends_on=None) | Q(ends_on__gte=on))


class Membership(models.Model):
    """One person's role in one department."""

    class Role(models.TextChoices):
        HEAD = "head", "Department head"
        OFFICER = "officer", "Logistics officer"
        CREW = "crew", "Crew"
        GRANTS = "grants", "Grant writer"
        VISITOR = "visitor", "Visitor"

    department = models.ForeignKey(Department, on_delete=models.PROTECT, related_name="memberships")
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=12, choices=Role)
    starts_on = models.DateField(null=True, blank=True)
    ends_on = models.DateField(null=True, blank=True)
    # What somebody wants mailed; an address is on the user. Alerts go to heads, reminders to those who walk.
    wants_alerts = models.BooleanField(default=True)
    wants_reminders = models.BooleanField(default=True)
    wants_digest = models.BooleanField(default=True)

    objects = MembershipQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["department", "user"], name="membership_once"),
            models.CheckConstraint(
                name="membership_visitor_is_dated", condition=~Q(role="visitor") | Q(ends_on__isnull=False)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user.signed_name}, {self.get_role_display().lower()} of {self.department}"


class AuditEntry(models.Model):
    """Who did what to which record, for changes that are not ledger rows themselves (settings, roles, missions)."""

    department = models.ForeignKey(Department, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    did = models.CharField(max_length=80)
    subject = models.CharField(max_length=200)
    detail = models.JSONField(default=dict)

    class Meta:
        indexes = [models.Index(fields=["department", "at"], name="audit_when")]


class OutboxRow(models.Model):
    """Work that must not be lost: written with the change that asks for it, swept until it is done."""

    class State(models.TextChoices):
        QUEUED = "queued", "Queued"
        CLAIMED = "claimed", "Being done"
        DONE = "done", "Done"
        FAILED = "failed", "Failed"

    department = models.ForeignKey(Department, null=True, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4, unique=True)
    task = models.CharField(max_length=120)  # a name registered in shared.outbox
    payload = models.JSONField(default=dict)
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    asked_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now)
    not_before = models.DateTimeField(default=timezone.now)
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True, blank=True)
    claim = models.UUIDField(null=True, blank=True)  # whose claim this is; a late worker cannot finish another's
    progress = models.PositiveSmallIntegerField(default=0)  # in 100
    progress_note = models.CharField(max_length=120, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    result = models.JSONField(null=True, blank=True)
    error = models.TextField(blank=True)

    class Meta:
        indexes = [models.Index(fields=["state", "not_before"], name="outbox_sweep")]


class ApiToken(models.Model):
    """A named, expiring key for the API; only its hash is kept."""

    department = models.ForeignKey(Department, on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="api_tokens")
    name = models.CharField(max_length=80)
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)


class Invitation(models.Model):
    """A place kept for somebody who has no sign-in yet: good once, until it expires or is withdrawn."""

    department = models.ForeignKey(Department, on_delete=models.PROTECT, related_name="invitations")
    display_name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    role = models.CharField(max_length=12, choices=Membership.Role)
    starts_on = models.DateField(null=True, blank=True)
    ends_on = models.DateField(null=True, blank=True)
    digest = models.CharField(max_length=64, unique=True)  # of the key in the address; the key itself is not kept
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-made_at"]


class StoredFile(models.Model):
    """A photo or paper somebody sent, kept below MEDIA_ROOT under its own digest; never changed."""

    department = models.ForeignKey(Department, on_delete=models.PROTECT, related_name="files")
    client_id = models.UUIDField(default=uuid.uuid4)
    name = models.CharField(max_length=160)  # as it was called where it came from
    sort = models.CharField(max_length=40)  # media type as found in the file itself
    size = models.PositiveIntegerField()
    digest = models.CharField(max_length=64)
    path = models.CharField(max_length=240)  # below MEDIA_ROOT
    recorded_at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["department", "client_id"], name="file_sent_once")]


class Notice(models.Model):
    """One thing told to one person. The key says which thing: the same one is never told twice."""

    department = models.ForeignKey(Department, on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="notices")
    key = models.CharField(max_length=160)
    sort = models.CharField(max_length=12)  # alert, reminder, digest, invitation
    subject = models.CharField(max_length=200)
    body = models.TextField()
    address = models.EmailField(blank=True)
    made_at = models.DateTimeField(default=timezone.now)
    sent_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]
        constraints = [models.UniqueConstraint(fields=["department", "user", "key"], name="notice_once")]


class ChainLink(models.Model):
    """One signed record's place in its department's chain: its content's hash, bound to the link before."""

    department = models.ForeignKey(Department, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveBigIntegerField()  # 1, 2, 3 … within a department
    table = models.CharField(max_length=60)
    row = models.PositiveBigIntegerField()
    content = models.CharField(max_length=64)  # hash of what the row says
    seal = models.CharField(max_length=64)  # hash of the seal before and of this content
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["department", "number"]
        constraints = [
            models.UniqueConstraint(fields=["department", "number"], name="chain_number_once"),
            models.UniqueConstraint(fields=["department", "table", "row"], name="chain_row_once"),
        ]
