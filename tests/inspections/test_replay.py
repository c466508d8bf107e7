"""Two hundred walks of mixed quality, sent in any order and more than once, end in one and the same state."""

import random
import uuid
from collections.abc import Callable
from datetime import timedelta

import pytest

from inspections import queries
from inspections.models import Inspection, Walk
from inspections.services import open_walk, record_inspection, record_repair, record_upkeep, sign_walk
from inventory.models import Item, Lot
from inventory.queries import standing_of_department
from readiness.queries import gather
from readiness.rating.as_json import as_json
from readiness.rating.mission import Mission
from readiness.rating.rate import rate
from shared import chain
from shared.models import Department
from tests.conftest import make_person
from tests.inspections.building import DAY_1, check, day, load, make_item, make_line, make_lot, make_place

WALKS = 200
DAYS = 540
END = day(DAYS + 5)
# What an officer writes down of each thing: good, so-so, bad and worthless readings alike.
READINGS = {
    "gfci": ("test_trips=yes; reset=yes", "test_trips=no; reset=yes", "test_trips=yes; reset=no", "result=pass"),
    "battery": (
        "rest_h=24; temp_F=77; OCV_V=12.83",
        "rest_h=24; temp_F=70; OCV_V=12.55",
        "rest_h=24; temp_F=77; OCV_V=11.6",
        "rest_h=2; temp_F=77; OCV_V=12.83",
        "rest_h=24; temp_F=77; OCV_V=12.2; capacity_Ah=20",
    ),
    "propane": (
        "gross_lb=166; tare_lb=68; soap=none; upright_outdoors=yes; plug=yes",
        "gross_lb=120; tare_lb=68; soap=none",
        "gross_lb=160; tare_lb=68; soap=seen",
        "gross_lb=60; tare_lb=68",
    ),
    "hold": (
        "p1_psi=3.0; t1_degF=62; p2_psi=2.5; t2_degF=49; hold_min=60; same_gauge=yes; gauge_step_psi=0.01",
        "p1_psi=3.0; t1_degF=62; p2_psi=2.0; t2_degF=60; hold_min=60; same_gauge=yes; gauge_step_psi=0.01",
        "p1_psi=3.0; t1_degF=62; p2_psi=2.9; t2_degF=62; hold_min=20; same_gauge=yes; gauge_step_psi=0.01",
        "p1_psi=3.0; t1_degF=62; p2_psi=2.84; t2_degF=62; hold_min=60; same_gauge=no; gauge_step_psi=0.01",
    ),
    "heat": tuple(
        f"inlet_F=40; outlet_F={out}; head_F={head}; set_F=105; gpm={gpm}; tries={tries}; off_after_flow_s=2; "
        f"CO_ppm={co}; drained=yes"
        for out, head, gpm, tries, co in (
            (88, 95, 6, 1, 2),
            (80, 96, 5, 1, 2),
            (70, 95, 4, 2, 2),
            (88, 112, 6, 1, 2),
            (88, 96, 6, 1, 60),
        )
    ),
    "look": ("seen=yes", "seen=yes; result=pass"),
}
CHECKS_OF = {
    "gfci": ["gfci", "look"],
    "battery": ["battery"],
    "propane": ["propane"],
    "shelter": ["hold"],
    "heater": ["heat"],
}
Send = Callable[[], object]


def build(name: str) -> Department:
    """Make a department with a small line, every unit's own baseline on record before the walks begin."""
    department = load(Department.objects.create(name=name, slug=name.lower().replace(" ", "-")))
    for username in ("Quinn", "Casey", "Avery"):
        make_person(f"{username} of {name}", department, "officer")
    for kind, tags in {
        "shelter": ("SH-1",),
        "heater": ("WH-1", "WH-2"),
        "propane": ("LP-1", "LP-2", "LP-3"),
        "gfci": ("GF-1", "GF-2"),
        "battery": ("BA-1",),
    }.items():
        for tag in tags:
            item = make_item(department, kind, tag)
            if kind == "heater":
                check(
                    item,
                    "heat",
                    READINGS["heat"][0] + "; acceptance=yes",
                    at=day(-30),
                    client_id=uuid.uuid5(uuid.NAMESPACE_OID, tag),
                )
    make_lot(department, on_hand=300)
    return department


def plan(seed: int) -> list[list[dict]]:
    """Return what each walk holds, by seed: the same for every department it is sent to."""
    rng = random.Random(seed)
    tags = {
        "SH-1": "shelter",
        "WH-1": "heater",
        "WH-2": "heater",
        "LP-1": "propane",
        "LP-2": "propane",
        "LP-3": "propane",
        "GF-1": "gfci",
        "GF-2": "gfci",
        "BA-1": "battery",
    }
    walks = []
    for number in range(WALKS):
        start = rng.uniform(0, DAYS)
        steps = []
        for step in range(rng.randint(1, 6)):
            at = DAY_1 + timedelta(days=start, minutes=7 * step, microseconds=number)
            by = rng.choice(("Quinn", "Casey", "Avery"))
            tag = rng.choice(list(tags))
            base = {"id": uuid.UUID(int=rng.getrandbits(128)), "at": at, "by": by, "tag": tag}
            draw = rng.random()
            if draw < 0.1:
                steps.append(base | {"do": "repair"})
            elif draw < 0.16:
                steps.append(base | {"do": "use"})
            elif draw < 0.26:
                steps.append(base | {"do": "count", "counted": rng.randint(0, 300)})
            else:
                key = rng.choice(CHECKS_OF[tags[tag]])
                steps.append(base | {"do": key, "text": rng.choice(READINGS[key])})
        walks.append(steps)
    return walks


def sends(department: Department, walks: list[list[dict]]) -> tuple[list[Send], list[Send], list[Send]]:
    """Return what opens the walks, what is recorded on them, and what signs them."""
    items = {item.tag: item for item in Item.objects.filter(department=department).select_related("kind", "department")}
    lot = Lot.objects.get(department=department)
    users = {m.user.display_name.split()[0]: m.user for m in department.memberships.select_related("user")}
    place = make_place(department)
    opened: dict[int, Walk] = {}

    def open_one(number: int, steps: list[dict]) -> Send:
        def send() -> None:
            opened[number] = open_walk(
                department=department,
                place=place,
                by=users[steps[0]["by"]],
                started_at=steps[0]["at"],
                client_id=uuid.uuid5(steps[0]["id"], "walk"),
            )

        return send

    def record(number: int, step: dict) -> Send:
        signed = {
            "department": department,
            "happened_at": step["at"],
            "by": users[step["by"]],
            "by_name": users[step["by"]].display_name,
            "client_id": step["id"],
        }
        item = items[step["tag"]]
        if step["do"] == "repair":
            return lambda: record_repair(item=item, what="cleaned", **signed)
        if step["do"] == "use":
            return lambda: record_upkeep(item=item, sort="used", hours=1.0, **signed)
        if step["do"] == "count":
            values = {"qty": step["counted"]}
            return lambda: record_inspection(check_key="count", lot=lot, values=values, walk=opened[number], **signed)
        values = dict(pair.strip().split("=") for pair in step["text"].split(";"))
        return lambda: record_inspection(
            check_key=step["do"], item=item, values=values, walk=opened[number], source="phone", **signed
        )

    def sign(number: int) -> Send:
        def send() -> None:
            walk = opened[number]
            if walk.inspections.exists():
                sign_walk(walk=walk, by=walk.by, signed_name=walk.by.display_name, signed_at=END)

        return send

    return (
        [open_one(n, steps) for n, steps in enumerate(walks)],
        [record(n, step) for n, steps in enumerate(walks) for step in steps],
        [sign(n) for n in range(len(walks))],
    )


def derived(department: Department, at) -> dict:
    """Return everything that pages and the rating derive from the rows, under names that every department shares."""
    whole = standing_of_department(department, at, END + timedelta(days=4000))
    known_at = END + timedelta(days=4000)
    items = [s.item for s in whole.items]
    tags = {item.pk: item.tag for item in items}
    evidence = queries.evidence(items, at, known_at)
    return {
        "standing": {s.item.tag: (s.state, s.state_since, s.quantity, s.awaiting_second_name) for s in whole.items},
        "lots": [(s.lot.number, s.on_hand, s.counted_on) for s in whole.lots],
        "evidence": {(tags[pk], code): of for pk, modes in evidence.items() for code, of in modes.items()},
        "open": [
            (f.deficiency.item.tag, f.deficiency.mode_code, f.deficiency.grade, f.deficiency.happened_at,
             f.deficiency.by_name.split()[0], f.awaiting_second_name)
            for f in queries.open_deficiencies(department, at, known_at)
        ],
        "measured": {
            (tags[pk], name): of
            for pk, names in queries.measured(items, at, known_at).items()
            for name, of in names.items()
        },
        "doubt": {item.tag: queries.doubt_intervals(item, known_at) for item in items},
        "due": [(d.item.tag, d.check_key, d.due_on, d.why, d.mode_codes) for d in queries.due(items, at.date())],
        "verdicts": {
            str(row.client_id): (row.verdict, row.summary) for row in Inspection.objects.filter(department=department)
        },
    }  # fmt: skip


def rating(department: Department) -> dict:
    facts = gather(make_line(department), END, END + timedelta(days=4000))
    return as_json(rate(facts, Mission.from_json({"people_per_hour": 30, "hours": 1})))


def without_names(said: object) -> object:
    """Leave out the ids of rows, which differ from department to department."""
    if isinstance(said, dict):
        return {key: without_names(value) for key, value in said.items() if not key.endswith(("_id", "pk"))}
    return [without_names(value) for value in said] if isinstance(said, list) else said


def differing(got: object, said: object) -> list:
    """Name what is told on one side only, so that a failure shows which fact depends on the order of receipt."""
    if isinstance(said, dict):
        return [(key, got.get(key), said.get(key)) for key in {*got, *said} if got.get(key) != said.get(key)]
    return [("got", one) for one in got if one not in said] + [("wanted", one) for one in said if one not in got]


@pytest.fixture(scope="module")
def walks() -> list[list[dict]]:
    return plan(seed=20261126)


def replay(name: str, walks: list[list[dict]], *, seed: int | None) -> Department:
    department = build(name)
    opening, recording, signing = sends(department, walks)
    if seed is not None:
        rng = random.Random(seed)
        opening = opening + rng.sample(opening, 20)
        recording = recording + rng.choices(recording, k=len(recording) // 2)
        signing = signing + rng.sample(signing, 20)
        for part in (opening, recording, signing):
            rng.shuffle(part)
    else:
        # In the order in which it happened.
        steps = [step for walk in walks for step in walk]
        recording = [
            send for _, _, send in sorted(zip([s["at"] for s in steps], range(len(steps)), recording, strict=True))
        ]
    for send in (*opening, *recording, *signing):
        send()
    return department


@pytest.mark.django_db
def test_walks_in_any_order_and_more_than_once_end_in_the_same_state(walks):
    first, other = replay("In order", walks, seed=None), replay("Shuffled", walks, seed=1)
    verdicts = derived(first, END)["verdicts"]
    assert len(verdicts) > 400
    assert {verdict for verdict, _ in verdicts.values()} == {"pass", "pass with limits", "fail", "void"}
    for at in (END, day(300), day(100)):
        got = derived(other, at)
        for part, said in derived(first, at).items():
            assert differing(got[part], said) == [], part
    assert without_names(rating(other)) == without_names(rating(first))
    for department in (first, other):
        chain.seal_new(department=department)
        proved = chain.prove(department=department)
        assert (proved.broken, proved.waiting) == (None, 0)
        assert proved.links > 600
