"""From a figure on the Line page to the equation it came from."""

import re
import sys
from collections.abc import Callable
from types import FrameType

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Line
from readiness import queries
from readiness.page_formulas import FORMULAS_OF, HOW_SURE, PEOPLE_AN_HOUR
from readiness.rating.mission import Mission
from readiness.rating.rate import rate
from readiness.rating.words import FUNCTIONS
from shared.models import User
from shared.verification.catalogue import anchor_of, catalogue
from tests.demo_district import loaded_for_a_module

KNOWN = {formula.name for formula in catalogue()}
NAMED = {*PEOPLE_AN_HOUR, *HOW_SURE}.union(*FORMULAS_OF.values())


@pytest.fixture(scope="module")
def _demo(django_db_setup, django_db_blocker):
    with loaded_for_a_module(django_db_blocker) as department:
        yield department


@pytest.fixture
def demo(_demo, db):
    return _demo


def called_in(act: Callable[[], object]) -> set[str]:
    """Return the public formulas that run while something is done, as their subjects and names."""
    found = set()

    def note(frame: FrameType, event: str, arg: object) -> None:
        module = frame.f_globals.get("__name__", "")
        if event == "call" and module.startswith("shared.formulas."):
            found.add(f"{module.rpartition('.')[2]}.{frame.f_code.co_name}")

    sys.setprofile(note)
    try:
        act()
    finally:
        sys.setprofile(None)
    return found & KNOWN


def test_every_formula_that_a_rating_runs_is_named_on_the_page_of_its_line(demo):
    now = timezone.now()
    facts = queries.gather_department(demo, now, now).values()
    called = called_in(lambda: [rate(one, Mission.from_json(dict(one.rated_mission))) for one in facts])
    assert called, "nothing was traced"
    assert called <= NAMED


def test_every_formula_that_is_named_is_one_and_stands_behind_a_function_of_the_chain():
    assert set(FORMULAS_OF) <= set(FUNCTIONS)
    assert NAMED <= KNOWN


def test_each_function_leads_to_the_verification_of_its_formulas(demo, client_of):
    line = Line.objects.get(department=demo, name="Line A")
    client = client_of(User.objects.get(username="quinn"))
    page = client.get(reverse("readiness:line", args=[line.pk])).content.decode()
    led = set(re.findall(r'href="/proof-book/verification#([\w-]+)"', page))
    wanted = {anchor_of(name) for name in NAMED}
    assert led == wanted
    there = client.get(reverse("proof-book:verification")).content.decode()
    assert all(f'id="{anchor}"' in there for anchor in wanted)
    heat = page[page.index('id="fn-heat"') :]
    assert "#heat-head_temperature_k" in heat[: heat.index("</details>")]
