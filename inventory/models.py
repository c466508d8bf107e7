"""The cache: what the department owns, where it stands, and what each line is meant to carry.

Catalogue rows (kinds, failure modes, limits, intervals) are dated data a department may edit: a change is a new row
with a later ``effective_on``. Where things stand is derived from the ledgers (``Posting``, ``Count``, ``StateEvent``).
"""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from shared.ledger import LedgerRow


class Place(models.Model):
    """A station, bay, container or shelf."""

    class Sort(models.TextChoices):
        STATION = "station", "Station"
        BAY = "bay", "Bay"
        CONTAINER = "container", "Container"
        SHELF = "shelf", "Shelf"

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="places")
    name = models.CharField(max_length=160)
    sort = models.CharField(max_length=10, choices=Sort, default=Sort.BAY)
    within = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="holds")
    order = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["order", "name"]
        constraints = [models.UniqueConstraint(fields=["department", "name"], name="place_name_once")]

    def __str__(self) -> str:
        return self.name


class FailureMode(models.Model):
    """One way a kind can fail, with its grade, class and prior; the newest row in force wins."""

    class Grade(models.TextChoices):
        IMPAIRMENT = "I", "Impairment"
        CRITICAL = "C", "Critical deficiency"
        NONCRITICAL = "N", "Noncritical deficiency"

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="failure_modes")
    code = models.CharField(max_length=8)
    name = models.CharField(max_length=120)
    grade = models.CharField(max_length=1, choices=Grade)
    cls = models.CharField("class", max_length=10)  # dormant, demand, both, condition
    rate_median = models.FloatField(null=True, blank=True)  # per item-year
    rate_error_factor = models.FloatField(null=True, blank=True)
    demand_mean = models.FloatField(null=True, blank=True)
    demand_trials = models.FloatField(null=True, blank=True)
    weight_item_years = models.FloatField(null=True, blank=True)
    limited_fraction = models.FloatField(null=True, blank=True)
    limits = models.CharField(max_length=20, default="all")  # the resource a C mode scales, or all
    intervals = models.CharField(max_length=20, blank=True)  # letters of domain: M Q A U D B W
    do_now = models.CharField(max_length=200, blank=True)
    caution = models.CharField(max_length=200, blank=True)
    effect = models.CharField(max_length=200, blank=True)
    origin = models.CharField(max_length=200)
    effective_on = models.DateField()

    class Meta:
        ordering = ["code", "-effective_on"]
        constraints = [
            models.UniqueConstraint(fields=["department", "code", "effective_on"], name="mode_row_once"),
            models.CheckConstraint(
                name="mode_fraction_in_range",
                condition=Q(limited_fraction=None) | Q(limited_fraction__gte=0, limited_fraction__lte=1),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class ItemKind(models.Model):
    """A kind of thing the cache holds: what it serves, how it is described, how it can fail, what checks it."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="kinds")
    key = models.SlugField(max_length=40)
    name = models.CharField(max_length=120)
    function = models.CharField(max_length=20, blank=True)  # one of the fourteen, or blank
    prefix = models.CharField(max_length=8, blank=True)  # of tags Holdair gives where the register has none
    serialised = models.BooleanField(default=True)
    consumable = models.BooleanField(default=False)
    per_person = models.FloatField(null=True, blank=True)
    spec_fields = models.JSONField(default=list)  # [{key, label, unit, type, default?}]
    mode_codes = models.JSONField(default=list)
    checks = models.JSONField(default=dict)  # {check_key: [codes that check can see on this kind]}: its schedule
    words = models.JSONField(default=list)  # how registers name it, for recognition
    origin = models.CharField(max_length=200, blank=True)
    effective_on = models.DateField()

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["department", "key"], name="kind_key_once")]

    def __str__(self) -> str:
        return self.name

    @property
    def scheduled_modes(self) -> set[str]:
        """Codes that some check of the schedule can see; the others are blind spots."""
        return {code for codes in self.checks.values() for code in codes}


class Limit(models.Model):
    """A numeric limit of a check, with where it comes from; one for a kind wins over the general one."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="limits")
    kind = models.ForeignKey(ItemKind, null=True, blank=True, on_delete=models.PROTECT, related_name="limits")
    key = models.SlugField(max_length=40)
    check_name = models.CharField(max_length=60)
    quantity = models.CharField(max_length=160)
    unit = models.CharField(max_length=20)
    pass_low = models.FloatField(null=True, blank=True)
    pass_high = models.FloatField(null=True, blank=True)
    limits_low = models.FloatField(null=True, blank=True)
    limits_high = models.FloatField(null=True, blank=True)
    basis = models.CharField(max_length=160, blank=True)
    origin = models.CharField(max_length=80)  # law, standard, maker, guidance, policy …
    source = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=240, blank=True)
    effective_on = models.DateField()

    class Meta:
        ordering = ["key", "-effective_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["department", "key", "effective_on"], condition=Q(kind=None), name="limit_row_once"
            ),
            models.UniqueConstraint(fields=["department", "kind", "key", "effective_on"], name="limit_of_kind_once"),
        ]


class Interval(models.Model):
    """How long a proof of one failure mode is trusted for a kind: overrides the mode's own interval letters."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="intervals")
    kind = models.ForeignKey(ItemKind, null=True, blank=True, on_delete=models.PROTECT, related_name="intervals")
    mode_code = models.CharField(max_length=8)
    months = models.PositiveSmallIntegerField()
    grace_days = models.PositiveSmallIntegerField(default=0)
    origin = models.CharField(max_length=12)  # one of inventory.queries.catalogue.ORIGINS
    source = models.CharField(max_length=200, blank=True)
    effective_on = models.DateField()


class Award(models.Model):
    """A grant award that paid for items."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="awards")
    number = models.CharField(max_length=60)  # the FAIN
    assistance_listing = models.CharField(max_length=20, blank=True)
    title = models.CharField(max_length=160, blank=True)
    threshold_usd = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    ends_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["department", "number"], name="award_number_once")]

    def __str__(self) -> str:
        return self.number


class Line(models.Model):
    """A deployable set meant to run one decontamination corridor."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="lines")
    name = models.CharField(max_length=80)
    home = models.ForeignKey(Place, null=True, blank=True, on_delete=models.PROTECT, related_name="lines")
    order = models.PositiveIntegerField(default=0)
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["order", "name"]
        constraints = [models.UniqueConstraint(fields=["department", "name"], name="line_name_once")]

    def __str__(self) -> str:
        return self.name


class Item(models.Model):
    """A serialised thing, or a row of n alike without serials. Place, line, quantity and state are derived."""

    class Condition(models.TextChoices):
        NEW = "new", "New"
        USABLE = "usable", "Usable"
        REPAIRABLE = "repairable", "Repairable"
        SALVAGE = "salvage", "Salvage"
        SCRAP = "scrap", "Scrap"
        UNKNOWN = "unknown", "Not recorded"

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="items")
    kind = models.ForeignKey(ItemKind, on_delete=models.PROTECT, related_name="items")
    tag = models.CharField(max_length=40)
    name = models.CharField(max_length=160)  # as the register names it
    serial = models.CharField(max_length=80, blank=True)
    plate = models.CharField(max_length=200, blank=True)
    acquired_on = models.DateField(null=True, blank=True)
    acquired_month_only = models.BooleanField(default=False)
    accepted_on = models.DateField(null=True, blank=True)
    acceptance_assumed = models.BooleanField(default=False)
    manufactured_on = models.DateField(null=True, blank=True)
    unit_cost = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    federal_share = models.DecimalField(
        max_digits=5,
        decimal_places=4,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(1)],
    )
    award = models.ForeignKey(Award, null=True, blank=True, on_delete=models.PROTECT, related_name="items")
    funding_source = models.CharField(max_length=120, blank=True)
    title_holder = models.CharField(max_length=160, blank=True)
    use = models.CharField(max_length=200, blank=True)
    condition = models.CharField(max_length=10, choices=Condition, default=Condition.UNKNOWN)
    condition_as_written = models.CharField(max_length=60, blank=True)
    custodian = models.CharField(max_length=120, blank=True)
    spec = models.JSONField(default=dict)  # typed by kind.spec_fields, units in the key
    spec_as_written = models.CharField(max_length=300, blank=True)
    note = models.TextField(blank=True)
    order = models.PositiveIntegerField(default=0)
    kind_sureness = models.FloatField(
        null=True, blank=True
    )  # of recognition at import, 0 to 1; null: chosen by a person
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["order", "tag"]
        constraints = [
            models.UniqueConstraint(fields=["department", "tag"], name="item_tag_once"),
            models.UniqueConstraint(fields=["department", "serial"], condition=~Q(serial=""), name="item_serial_once"),
        ]

    def __str__(self) -> str:
        return f"{self.tag} {self.name}"


class Lot(models.Model):
    """A batch of one consumable that expires together."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="lots")
    kind = models.ForeignKey(ItemKind, on_delete=models.PROTECT, related_name="lots")
    number = models.CharField(max_length=60)
    name = models.CharField(max_length=160)
    received_on = models.DateField(null=True, blank=True)
    expires_on = models.DateField(null=True, blank=True)  # null: no shelf life, or none recorded
    unit_cost = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    per_person = models.FloatField(null=True, blank=True)  # overrides the kind's
    note = models.TextField(blank=True)
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["name", "expires_on"]
        constraints = [
            models.UniqueConstraint(fields=["department", "kind", "number"], name="lot_number_once"),
            models.CheckConstraint(
                name="lot_expires_after_receipt",
                condition=Q(expires_on=None) | Q(received_on=None) | Q(expires_on__gt=F("received_on")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, lot {self.number}"


class _OfItemOrLot(LedgerRow):
    """A ledger row about exactly one item or one lot."""

    item = models.ForeignKey(Item, null=True, blank=True, on_delete=models.PROTECT, related_name="%(class)ss")
    lot = models.ForeignKey(Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="%(class)ss")

    class Meta(LedgerRow.Meta):
        abstract = True
        constraints = [
            *LedgerRow.Meta.constraints,
            models.CheckConstraint(
                name="%(app_label)s_%(class)s_one_subject",
                condition=Q(item__isnull=False, lot__isnull=True) | Q(item__isnull=True, lot__isnull=False),
            ),
        ]


class Posting(_OfItemOrLot):
    """So many units put at a place, on a line or on none: an item stands where it was put last, lots add up."""

    class Reason(models.TextChoices):
        REGISTERED = "registered", "Registered"
        RECEIVED = "received", "Received"
        MOVED = "moved", "Moved"
        USED = "used", "Used"
        LOST = "lost", "Lost"
        FOUND = "found", "Found"
        DISPOSED = "disposed", "Disposed"

    change = models.IntegerField()
    place = models.ForeignKey(Place, null=True, blank=True, on_delete=models.PROTECT, related_name="postings")
    line = models.ForeignKey(Line, null=True, blank=True, on_delete=models.PROTECT, related_name="postings")
    reason = models.CharField(max_length=12, choices=Reason)
    note = models.CharField(max_length=240, blank=True)


class Count(_OfItemOrLot):
    """What was counted, where: from then on the count stands, plus later postings."""

    counted = models.PositiveIntegerField()
    line = models.ForeignKey(Line, null=True, blank=True, on_delete=models.PROTECT, related_name="counts")
    inspection_ref = models.UUIDField(null=True, blank=True)  # the inspection it was part of, by its client id
    note = models.CharField(max_length=240, blank=True)


class StateEvent(LedgerRow):
    """Something that changed whether an item counts: its state is the outcome of these rows."""

    class Event(models.TextChoices):
        BOXED = "boxed", "Boxed"
        ACCEPTED = "accepted", "Accepted"
        TAKEN_OUT = "taken out", "Taken out of service"
        RESTORED = "restored", "Restored"
        RESTORED_AWAITING = "restored awaiting", "Restored, awaiting second name"
        QUARANTINED = "quarantined", "Quarantined"
        CLEARED = "cleared", "Cleared"
        WET = "wet", "Wet"
        DRYING = "drying", "Drying"
        PACKED = "packed", "Dry and packed"
        LENT = "lent", "Lent"
        RETURNED = "returned", "Returned"
        CONDEMNED = "condemned", "Condemned"
        DISPOSED = "disposed", "Disposed"

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="state_events")
    event = models.CharField(max_length=20, choices=Event)
    reason = models.CharField(max_length=240, blank=True)
    mode_code = models.CharField(max_length=8, blank=True)  # the impairment a taken-out or restored row is about
    note = models.CharField(max_length=240, blank=True)


class LoadListRow(models.Model):
    """What must be aboard a line for one function: n carried, k of them needed."""

    class Scales(models.TextChoices):
        LINE = "line", "for the line whatever the lanes"
        LANE = "lane", "in proportion to the lanes"
        PERSON = "person", "for each person washed"

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="+")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="load_rows")
    function = models.CharField(max_length=20)
    kind = models.ForeignKey(ItemKind, on_delete=models.PROTECT, related_name="load_rows")
    quantity = models.PositiveIntegerField()  # n aboard; the par of a consumable
    needed = models.FloatField(default=0)  # k for the rated lanes; 0: carried, not required
    scales = models.CharField(max_length=6, choices=Scales, default=Scales.LINE)
    way = models.CharField(max_length=12, default="a")  # rows of one function with different ways are alternatives
    assumed = models.BooleanField(default=False)
    order = models.PositiveIntegerField(default=0)
    effective_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["order"]
        constraints = [
            models.CheckConstraint(name="load_row_k_of_n", condition=Q(needed__lte=F("quantity")) | Q(scales="person"))
        ]


class SharedNode(models.Model):
    """Something that takes several items with it when it fails: one cord, key, bay, fuel batch or lot."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="+")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="shared_nodes")
    name = models.CharField(max_length=80)
    sort = models.CharField(max_length=20)
    item = models.ForeignKey(Item, null=True, blank=True, on_delete=models.PROTECT, related_name="node_of")
    probability = models.FloatField(null=True, blank=True)  # works when asked, where it is no item; stated, sourced
    origin = models.CharField(max_length=200, blank=True)
    members = models.ManyToManyField(Item, related_name="hangs_on")
    effective_on = models.DateField()


class CrewMember(models.Model):
    """Somebody on the decontamination roster, with when they qualified."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="crew")
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=40, blank=True)
    line = models.ForeignKey(Line, null=True, blank=True, on_delete=models.PROTECT, related_name="crew")  # null: all
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="roster"
    )
    qualified_on = models.DateField(null=True, blank=True)
    qualified_until = models.DateField(null=True, blank=True)
    made_at = models.DateTimeField(default=timezone.now)
    left_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["department", "name"], name="crew_name_once")]


class ImportRun(models.Model):
    """One register taken in: what was read, refused and found, so that the same file twice changes nothing."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="imports")
    sort = models.CharField(max_length=10)  # cache or checks
    file_name = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    report = models.JSONField(default=dict)


class ItemFile(LedgerRow):
    """A certificate, manual, invoice or photo of an item, or a manual that serves a whole kind."""

    class Sort(models.TextChoices):
        MANUAL = "manual", "Maker's manual"
        CERTIFICATE = "certificate", "Certificate"
        INVOICE = "invoice", "Invoice"
        PLATE = "plate", "Photo of the plate"
        OTHER = "other", "Other paper"

    item = models.ForeignKey(Item, null=True, blank=True, on_delete=models.PROTECT, related_name="files")
    kind = models.ForeignKey(ItemKind, null=True, blank=True, on_delete=models.PROTECT, related_name="files")
    file = models.ForeignKey("shared.StoredFile", on_delete=models.PROTECT, related_name="item_files")
    sort = models.CharField(max_length=12, choices=Sort)
    valid_until = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=240, blank=True)

    class Meta(LedgerRow.Meta):
        constraints = [
            *LedgerRow.Meta.constraints,
            models.CheckConstraint(
                name="item_file_of_item_or_kind",
                condition=Q(item__isnull=False, kind__isnull=True) | Q(item__isnull=True, kind__isnull=False),
            ),
        ]


class Seal(LedgerRow):
    """What happened to the seal of a container: while it is found unbroken, the last count of what is inside stands."""

    class Event(models.TextChoices):
        APPLIED = "applied", "Applied"
        INTACT = "intact", "Found unbroken"
        BROKEN = "broken", "Found broken or opened"

    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="seals")
    event = models.CharField(max_length=8, choices=Event)
    number = models.CharField(max_length=40)
    note = models.CharField(max_length=240, blank=True)


class LotHold(LedgerRow):
    """A lot withheld from use, or released again: held, it is on hand and counts for nothing."""

    class Event(models.TextChoices):
        HELD = "held", "Held"
        RELEASED = "released", "Released"

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="holds")
    event = models.CharField(max_length=8, choices=Event)
    reason = models.CharField(max_length=240)
    # Whose hold this is: a lot that two recalls name is free when both have released it.
    recall = models.ForeignKey("Recall", null=True, blank=True, on_delete=models.PROTECT, related_name="holds")


class Recall(LedgerRow):
    """A maker's recall by kind, serials or lots: everything that matches is taken out of service."""

    kind = models.ForeignKey(ItemKind, null=True, blank=True, on_delete=models.PROTECT, related_name="recalls")
    serials = models.JSONField(default=list)  # as the notice gives them; a trailing * stands for any ending
    lots = models.JSONField(default=list)
    reference = models.CharField(max_length=120)  # number or date of the notice
    what = models.CharField(max_length=300)
    remedy = models.CharField(max_length=300, blank=True)

    def __str__(self) -> str:
        return f"Recall {self.reference}"

    @property
    def code(self) -> str:
        """Return the code under which it takes items out: only its own release brings them back."""
        return f"R{self.pk}"


class Order(LedgerRow):
    """Something ordered against a shortage. What became of it is in its events."""

    kind = models.ForeignKey(ItemKind, on_delete=models.PROTECT, related_name="orders")
    line = models.ForeignKey(Line, null=True, blank=True, on_delete=models.PROTECT, related_name="orders")
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    supplier = models.CharField(max_length=120, blank=True)
    reference = models.CharField(max_length=60, blank=True)
    unit_cost = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    expected_on = models.DateField(null=True, blank=True)
    award = models.ForeignKey(Award, null=True, blank=True, on_delete=models.PROTECT, related_name="orders")
    reason = models.CharField(max_length=240, blank=True)


class OrderEvent(LedgerRow):
    """What became of an order: a new date, a receipt of so many, or its end."""

    class Event(models.TextChoices):
        DATED = "dated", "New date"
        RECEIVED = "received", "Received"
        CANCELLED = "cancelled", "Cancelled"

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="events")
    event = models.CharField(max_length=10, choices=Event)
    expected_on = models.DateField(null=True, blank=True)
    quantity = models.PositiveIntegerField(default=0)
    item = models.ForeignKey(Item, null=True, blank=True, on_delete=models.PROTECT, related_name="order_events")
    lot = models.ForeignKey(Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="order_events")
    note = models.CharField(max_length=240, blank=True)


class ImportDraft(models.Model):
    """A register sent in the browser, looked at before it is taken in: its mapping and mended cells so far."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="import_drafts")
    sort = models.CharField(max_length=10)  # cache or checks
    file = models.ForeignKey("shared.StoredFile", on_delete=models.PROTECT, related_name="+")
    mapping = models.JSONField(default=dict)  # {sheet: {"C heading": field or ""}} as chosen
    mended = models.JSONField(default=dict)  # {sheet: {row: {"C": text}}} as mended in place
    preview = models.JSONField(null=True)  # the report of the last reading; null: not read as it stands now
    work = models.ForeignKey("shared.OutboxRow", null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    run = models.ForeignKey(ImportRun, null=True, blank=True, on_delete=models.PROTECT, related_name="drafts")
    dropped_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]


class HeadingMemory(models.Model):
    """What a department said a heading of its registers means; remembered for the next file."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="+")
    sort = models.CharField(max_length=10)
    heading = models.CharField(max_length=160)  # folded: no case, no spaces around
    field = models.CharField(max_length=40, blank=True)  # blank: not to be read
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["department", "sort", "heading"], name="heading_once")]
