"""The evidence: procedures, walks, inspections with their readings, what each proved, and what was found wrong."""

from django.conf import settings
from django.db import models
from django.utils import timezone

from shared.ledger import LedgerRow


class Procedure(models.Model):
    """How one check is done: steps, typed inputs, cautions and the modes it can see. A record keeps its version."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="procedures")
    check_key = models.SlugField(max_length=20)
    version = models.PositiveIntegerField(default=1)
    name = models.CharField(max_length=80)
    definition = models.JSONField()  # DEVELOPERS.md, "Procedures": steps, inputs, cautions
    effective_on = models.DateField()
    origin = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["check_key", "-version"]
        constraints = [
            models.UniqueConstraint(fields=["department", "check_key", "version"], name="procedure_version_once")
        ]

    def __str__(self) -> str:
        return self.name


class Walk(models.Model):
    """One round through a place. Open until signed; signing is the last thing that happens to it."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="walks")
    client_id = models.UUIDField()
    place = models.ForeignKey("inventory.Place", on_delete=models.PROTECT, related_name="walks")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="walks")
    started_at = models.DateTimeField(default=timezone.now)
    signed_at = models.DateTimeField(null=True, blank=True)
    signed_name = models.CharField(max_length=120, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["-started_at"]
        constraints = [models.UniqueConstraint(fields=["department", "client_id"], name="walk_sent_once")]


class Inspection(LedgerRow):
    """One check of one item, lot or line, with its verdict and the numbers that decided it."""

    class Verdict(models.TextChoices):
        PASS = "pass", "Pass"
        LIMITS = "pass with limits", "Pass with limits"
        FAIL = "fail", "Fail"
        VOID = "void", "Void"

    check_key = models.SlugField(max_length=20)
    procedure = models.ForeignKey(Procedure, null=True, on_delete=models.PROTECT, related_name="inspections")
    walk = models.ForeignKey(Walk, null=True, blank=True, on_delete=models.PROTECT, related_name="inspections")
    item = models.ForeignKey(
        "inventory.Item", null=True, blank=True, on_delete=models.PROTECT, related_name="inspections"
    )
    lot = models.ForeignKey(
        "inventory.Lot", null=True, blank=True, on_delete=models.PROTECT, related_name="inspections"
    )
    line = models.ForeignKey(
        "inventory.Line", null=True, blank=True, on_delete=models.PROTECT, related_name="inspections"
    )
    started_at = models.DateTimeField(null=True, blank=True)  # happened_at is when it ended
    verdict = models.CharField(max_length=16, choices=Verdict)
    findings = models.JSONField(default=list)  # see inspections.verdicts.Finding
    measured = models.JSONField(default=dict)  # quantities the rating uses: {key: {value, unit, at_least}}
    summary = models.CharField(max_length=300, blank=True)
    units_checked = models.PositiveIntegerField(default=1)  # of a row of n alike
    source = models.CharField(max_length=12, default="page")  # page, api, phone, register
    remark = models.CharField(max_length=300, blank=True)

    class Meta(LedgerRow.Meta):
        indexes = [
            *LedgerRow.Meta.indexes,
            models.Index(fields=["department", "item", "check_key", "happened_at"], name="inspection_of_item"),
        ]


class Reading(models.Model):
    """One measured or stated value of an inspection, as entered and as understood."""

    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="readings")
    key = models.CharField(max_length=40)
    number = models.FloatField(null=True, blank=True)
    text = models.CharField(max_length=200, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    as_entered = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["inspection", "key"], name="reading_key_once")]


class Proof(LedgerRow):
    """What one inspection showed about one failure mode of one item."""

    class Outcome(models.TextChoices):
        PROVEN = "proven", "Proven absent"
        CLAIMED = "claimed", "Claimed absent"
        LIMITED = "limited", "Present, limits"
        FAILED = "failed", "Present"

    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="proofs")
    item = models.ForeignKey("inventory.Item", null=True, blank=True, on_delete=models.PROTECT, related_name="proofs")
    line = models.ForeignKey("inventory.Line", null=True, blank=True, on_delete=models.PROTECT, related_name="proofs")
    mode_code = models.CharField(max_length=8)
    outcome = models.CharField(max_length=8, choices=Outcome)
    ratio = models.FloatField(null=True, blank=True)  # measured over full, where the mode limits a capacity
    units = models.PositiveIntegerField(default=1)

    sealed_apart = False  # a part of its inspection

    class Meta(LedgerRow.Meta):
        indexes = [
            *LedgerRow.Meta.indexes,
            models.Index(fields=["department", "item", "mode_code", "happened_at"], name="proof_of_mode"),
        ]


class Deficiency(LedgerRow):
    """A fault found. Open until a restoration names it; ``by_name`` is who found it."""

    inspection = models.ForeignKey(
        Inspection, null=True, blank=True, on_delete=models.PROTECT, related_name="deficiencies"
    )
    item = models.ForeignKey("inventory.Item", on_delete=models.PROTECT, related_name="deficiencies")
    mode_code = models.CharField(max_length=8)
    grade = models.CharField(max_length=1)  # I, C, N as in FailureMode
    check_key = models.SlugField(max_length=20, blank=True)  # the proof that restores it
    text = models.CharField(max_length=300)


class Repair(LedgerRow):
    """Work done on a fault; ``by_name`` is who did it. A repair proves nothing by itself."""

    item = models.ForeignKey("inventory.Item", on_delete=models.PROTECT, related_name="repairs")
    deficiency = models.ForeignKey(Deficiency, null=True, blank=True, on_delete=models.PROTECT, related_name="repairs")
    what = models.CharField(max_length=300)
    cause = models.CharField(max_length=200, blank=True)
    parts = models.CharField(max_length=200, blank=True)
    vendor = models.CharField(max_length=120, blank=True)
    hours = models.FloatField(null=True, blank=True)
    cost = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)


class Restoration(LedgerRow):
    """The same proof, passed: closes a deficiency, or leaves it awaiting a second name."""

    deficiency = models.ForeignKey(Deficiency, on_delete=models.PROTECT, related_name="restorations")
    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="restorations")
    awaiting_second_name = models.BooleanField(default=False)


class Upkeep(LedgerRow):
    """Use of an item or a refill: reopens what use reopens, and moves what is known of contents."""

    class Sort(models.TextChoices):
        USED = "used", "Used"
        REFILLED = "refilled", "Refilled"

    item = models.ForeignKey("inventory.Item", on_delete=models.PROTECT, related_name="upkeep")
    sort = models.CharField(max_length=10, choices=Sort)
    hours = models.FloatField(null=True, blank=True)
    to_lb = models.FloatField(null=True, blank=True)
    note = models.CharField(max_length=240, blank=True)


class Photo(LedgerRow):
    """A picture that belongs to a check, a fault or an item as it stood."""

    file = models.ForeignKey("shared.StoredFile", on_delete=models.PROTECT, related_name="photos")
    inspection = models.ForeignKey(Inspection, null=True, blank=True, on_delete=models.PROTECT, related_name="photos")
    deficiency = models.ForeignKey(Deficiency, null=True, blank=True, on_delete=models.PROTECT, related_name="photos")
    item = models.ForeignKey("inventory.Item", null=True, blank=True, on_delete=models.PROTECT, related_name="photos")
    note = models.CharField(max_length=200, blank=True)


class AcceptedRisk(LedgerRow):
    """A named decision to run with a fault until a date. It stands beside the word and changes no number."""

    deficiency = models.ForeignKey(Deficiency, on_delete=models.PROTECT, related_name="acceptances")
    until = models.DateField()
    reason = models.CharField(max_length=300)
    withdrawn = models.BooleanField(default=False)  # a later row that takes the decision back


class WalkTakeUp(LedgerRow):
    """Somebody else goes on with a walk half done; from then on it is theirs to sign."""

    walk = models.ForeignKey(Walk, on_delete=models.PROTECT, related_name="take_ups")


class Calibration(LedgerRow):
    """An instrument held against a reference: what it was off by, and until when that is trusted."""

    item = models.ForeignKey("inventory.Item", on_delete=models.PROTECT, related_name="calibrations")
    quantity = models.CharField(max_length=20)  # pressure, mass, temperature, voltage …
    reference = models.CharField(max_length=120)
    error = models.FloatField(null=True, blank=True)  # as found: reading less reference, in ``unit``
    unit = models.CharField(max_length=12, blank=True)
    accepted = models.BooleanField()
    due_on = models.DateField()
    file = models.ForeignKey(
        "shared.StoredFile", null=True, blank=True, on_delete=models.PROTECT, related_name="calibrations"
    )


class Run(LedgerRow):
    """A line sent out: to an incident, a drill or a neighbour. ``happened_at`` is when it was ordered."""

    class Sort(models.TextChoices):
        INCIDENT = "incident", "Incident"
        DRILL = "drill", "Drill"
        LOAN = "loan", "Loan"

    line = models.ForeignKey("inventory.Line", on_delete=models.PROTECT, related_name="runs")
    sort = models.CharField(max_length=10, choices=Sort)
    title = models.CharField(max_length=160)
    site = models.CharField(max_length=160, blank=True)
    predicted = models.JSONField(default=dict)  # what the rating said beforehand: word, people an hour, probability


class RunEvent(LedgerRow):
    """One stamp of the set-up clock, one person through a lane, one use, fault or loss, or the end of a run."""

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="events")
    event = models.CharField(max_length=20)  # see inspections.runs
    lane = models.PositiveSmallIntegerField(null=True, blank=True)
    walking = models.BooleanField(null=True, blank=True)
    item = models.ForeignKey(
        "inventory.Item", null=True, blank=True, on_delete=models.PROTECT, related_name="run_events"
    )
    lot = models.ForeignKey("inventory.Lot", null=True, blank=True, on_delete=models.PROTECT, related_name="run_events")
    number = models.FloatField(null=True, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    text = models.CharField(max_length=300, blank=True)


class HandReceipt(LedgerRow):
    """Who handed a line over and who accepted it, with the load list as it was then and the seals on it."""

    class Way(models.TextChoices):
        SENT = "sent", "Sent"
        RECEIVED = "received", "Received back"

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="receipts")
    way = models.CharField(max_length=10, choices=Way)
    accepted_by = models.CharField(max_length=120)
    handed_by = models.CharField(max_length=120, blank=True)  # blank: whoever signed
    organisation = models.CharField(max_length=160, blank=True)
    load = models.JSONField(default=list)  # [{tag or lot, name, quantity, state, missing}]
    seals = models.JSONField(default=list)  # [{place, number}]
    note = models.CharField(max_length=300, blank=True)


class Snap(LedgerRow):
    """A no-notice draw of one item: why it was drawn, and the check that answered it."""

    item = models.ForeignKey("inventory.Item", on_delete=models.PROTECT, related_name="snaps")
    check_key = models.SlugField(max_length=20)
    weight = models.FloatField()  # the item's share of the draw, 0 to 1
    pool = models.PositiveIntegerField()  # how many could have been drawn
    seed = models.CharField(max_length=40)
    allowed_min = models.FloatField(default=10)


class SnapAnswer(LedgerRow):
    """What came of a snap: when the item was in hand and when it worked."""

    snap = models.ForeignKey(Snap, on_delete=models.PROTECT, related_name="answers")
    inspection = models.ForeignKey(
        Inspection, null=True, blank=True, on_delete=models.PROTECT, related_name="snap_answers"
    )
    in_hand_at = models.DateTimeField(null=True, blank=True)
    working_at = models.DateTimeField(null=True, blank=True)
    found = models.BooleanField(default=True)  # the item was where the record says


class Plant(LedgerRow):
    """A hidden test fault, sealed: who planted what, where. Its item counts zero until it is proven sound again."""

    item = models.ForeignKey("inventory.Item", on_delete=models.PROTECT, related_name="plants")
    mode_code = models.CharField(max_length=8)
    check_key = models.SlugField(max_length=20)  # the check that should find it
    what = models.CharField(max_length=300)


class PlantEvent(LedgerRow):
    """What became of a plant: found, missed, shown to who must know, taken away, proven sound."""

    class Event(models.TextChoices):
        FOUND = "found", "Found"
        MISSED = "missed", "Missed"
        SHOWN = "shown", "Shown"
        REMOVED = "removed", "Removed"
        PROVEN = "proven", "Proven sound"

    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="events")
    event = models.CharField(max_length=8, choices=Event)
    inspection = models.ForeignKey(
        Inspection, null=True, blank=True, on_delete=models.PROTECT, related_name="plant_events"
    )
    note = models.CharField(max_length=240, blank=True)
