"""Fixtures of the whole suite: people and departments, real servers, a real browser.

Markers: ``browser`` and ``services`` are given by hand; ``database`` is given here to every test that uses one, so
that the second pass of the suite (tests/run.py) can take exactly those to PostgreSQL.
"""

import os
import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta

import hypothesis
import pytest
from django.conf import settings
from django.db.backends.sqlite3.base import DatabaseOperations as SqliteOperations
from django.test import Client

from shared.models import Department, Membership, User
from tests import servers

# A property is true or not; how long a loaded machine takes over one example says nothing of it.
hypothesis.settings.register_profile("house", deadline=None)
hypothesis.settings.load_profile("house")

TODAY = date(2026, 11, 24)
NOON = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
YESTERDAY = NOON - timedelta(days=1)
LAST_YEAR = NOON - timedelta(days=365)
ID_1, ID_2, ID_3 = (uuid.UUID(int=n) for n in (1, 2, 3))
PASSWORD = "tarn-hollow-fourteen"  # of invented people in a throw-away database
TARN_HOLLOW = "Tarn Hollow Fire District"
OTHER_RIDGE = "Other Ridge Rescue"

CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
DATABASE_FIXTURES = {"db", "transactional_db", "django_db_setup", "live_server"}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what touches the suite's database, before ``-m`` chooses."""
    for item in items:
        if item.get_closest_marker("django_db") or DATABASE_FIXTURES & set(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.database)


@pytest.fixture(scope="session", autouse=True)
def _flush_despite_ledgers() -> Iterator[None]:
    """Let a transactional test clean up on SQLite, with the ledgers' triggers in force during every test.

    After a transactional test Django empties all tables: by TRUNCATE on PostgreSQL, which fires no row trigger, but by
    DELETE on SQLite, which the ledgers refuse, as they should. So the triggers against DELETE are lifted for that one
    statement list and put back as they were; no test ever runs without them.
    """
    flush = SqliteOperations.execute_sql_flush

    def lift_then_flush(self: SqliteOperations, sql_list: list[str]) -> None:
        with self.connection.cursor() as cursor:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE '%_no_delete'")
            triggers = cursor.fetchall()
            for name, _ in triggers:
                cursor.execute(f'DROP TRIGGER "{name}"')
            try:
                flush(self, sql_list)
            finally:
                for _, statement in triggers:
                    cursor.execute(statement)

    SqliteOperations.execute_sql_flush = lift_then_flush
    yield
    SqliteOperations.execute_sql_flush = flush


# Departments and people ------------------------------------------------------------------------------------------


@pytest.fixture
def department(db: None) -> Department:
    """Tarn Hollow Fire District."""
    return Department.objects.get_or_create(name=TARN_HOLLOW, defaults={"slug": "tarn-hollow"})[0]


@pytest.fixture
def other_department(db: None) -> Department:
    """Other Ridge Rescue, on the far side of the wall."""
    return Department.objects.get_or_create(name=OTHER_RIDGE, defaults={"slug": "other-ridge"})[0]


def make_person(name: str, department: Department, role: str, **membership: object) -> User:
    """Make somebody who can sign in with PASSWORD; the user carries ``.department`` and ``.membership``."""
    username = name.lower()
    user = User.objects.filter(username=username).first() or User.objects.create_user(
        username, f"{username}@tarnhollow.invalid", PASSWORD, display_name=name
    )
    user.membership, _ = Membership.objects.get_or_create(
        department=department, user=user, defaults={"role": role, **membership}
    )
    user.department = department
    return user


@pytest.fixture
def quinn(department: Department) -> User:
    """Logistics officer."""
    return make_person("Quinn", department, Membership.Role.OFFICER)


@pytest.fixture
def hollis(department: Department) -> User:
    """Head of the department."""
    return make_person("Hollis", department, Membership.Role.HEAD)


@pytest.fixture
def casey(department: Department) -> User:
    """Crew."""
    return make_person("Casey", department, Membership.Role.CREW)


@pytest.fixture
def avery(department: Department) -> User:
    """Crew, and the second name where one is needed."""
    return make_person("Avery", department, Membership.Role.CREW)


@pytest.fixture
def gray(department: Department) -> User:
    """Grant writer."""
    return make_person("Gray", department, Membership.Role.GRANTS)


@pytest.fixture
def visitor(department: Department) -> User:
    """A visitor with a pass that is in force today, by the real clock: pages read it."""
    today = datetime.now(UTC).date()
    dates = {"starts_on": today - timedelta(days=1), "ends_on": today + timedelta(days=7)}
    return make_person("Visitor", department, Membership.Role.VISITOR, **dates)


@pytest.fixture
def sam(other_department: Department) -> User:
    """Logistics officer of another department."""
    return make_person("Sam", other_department, Membership.Role.OFFICER)


@pytest.fixture
def client_of(db: None) -> Callable[[User], Client]:
    """Return a function that gives a test client signed in as somebody."""

    def sign_in(user: User) -> Client:
        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return sign_in


# Servers ---------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """URL of an empty database in a real PostgreSQL that lives as long as the session."""
    with servers.postgres_cluster() as url:
        yield url


@pytest.fixture(scope="session")
def redis_url() -> Iterator[str]:
    """URL of a real Redis that lives as long as the session."""
    with servers.redis_server() as url:
        yield url


# Browser ---------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    """A real headless Chromium, as playwright's Browser."""
    from playwright.sync_api import sync_playwright

    program = servers.chromium_program()
    if program is None:
        pytest.fail("Chromium is not installed; `make packages` installs it or says how.")
    # Playwright keeps an event loop in this thread, which makes Django refuse the ORM in it though nothing is async.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=CHROMIUM_FLAGS)
        yield browser
        browser.close()
    os.environ.pop("DJANGO_ALLOW_ASYNC_UNSAFE")


@pytest.fixture
def browse(chromium, live_server, client_of) -> Iterator[Callable[..., object]]:
    """Return a function that opens a page in Chromium: ``browse(quinn, width=390)``, or nobody signed in.

    The page's ``complaints`` lists what the browser held against it: script errors, failed requests to us, and every
    content security policy violation. ``page.goto("/")`` works with paths alone.
    """
    contexts = []

    def open_page(user: User | None = None, *, width: int = 1280, height: int = 900, script: bool = True) -> object:
        context = chromium.new_context(
            base_url=live_server.url, viewport={"width": width, "height": height}, java_script_enabled=script
        )
        contexts.append(context)
        if user is not None:
            cookie = client_of(user).cookies[settings.SESSION_COOKIE_NAME]
            context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
        page = context.new_page()
        page.complaints = []
        page.on("pageerror", lambda error: page.complaints.append(f"script error: {error}"))
        page.on("console", lambda said: said.type == "error" and page.complaints.append(said.text))
        return page

    yield open_page
    for context in contexts:
        context.close()


@pytest.fixture
def desk(browse, quinn) -> object:
    """Quinn at a desk, 1280 px wide."""
    return browse(quinn, width=1280)


@pytest.fixture
def phone(browse, quinn) -> object:
    """Quinn on a phone, 390 px wide."""
    return browse(quinn, width=390, height=844)
