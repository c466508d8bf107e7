"""The larger deployment's own commands, run for real on this machine: PostgreSQL, Redis, web, worker and beat."""

import http.client

import pytest

from tests.architecture.test_deployment import GIVEN, SERVICES
from tests.servers import free_port, wait_for
from tests.services.compose import OURS, environment_of
from tests.services.deployment import Deployment
from tests.services.test_worker import new_database

pytestmark = pytest.mark.services


def page(port: int, path: str) -> tuple[int, str] | None:
    asked = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        asked.request("GET", path, headers={"Host": GIVEN["HOLDAIR_HOSTS"], "X-Forwarded-Proto": "https"})
        answer = asked.getresponse()
        return answer.status, answer.read().decode()
    except OSError:
        return None
    finally:
        asked.close()


@pytest.fixture(scope="module")
def larger(tmp_path_factory, postgres, redis_url):
    """Each service's command and environment as docker-compose.yml has them, but for host names and ports."""
    folder, port = tmp_path_factory.mktemp("larger"), free_port()
    environ = environment_of(SERVICES["web"], GIVEN)
    environ |= {
        "DATABASE_URL": new_database(postgres, "larger"),
        "CELERY_BROKER_URL": redis_url,
        "HOLDAIR_STATIC": str(folder / "static"),
        "HOLDAIR_STATICFILES": "whitenoise.storage.CompressedManifestStaticFilesStorage",
    }
    deployment = Deployment(folder, environ)
    commands = {name: as_modules(SERVICES[name]["command"], port, folder) for name in OURS}
    deployment.python("manage.py", "collectstatic", "--noinput", "-v0")
    deployment.python(*commands["migrate"])
    with (
        deployment.process(*commands["web"], log="web.log"),
        deployment.process(*commands["worker"], log="worker.log"),
        deployment.process(*commands["beat"], log="beat.log"),
    ):
        wait_for(lambda: page(port, "/healthz"), within_s=60, what="the web server")
        deployment.port = port
        yield deployment


def as_modules(command: list[str], port: int, folder) -> list[str]:
    """The command for this interpreter, on a port and in a folder of the test's own."""
    program, *arguments = command
    start = [] if program == "python" else ["-m", program]
    here = {"0.0.0.0:8000": f"127.0.0.1:{port}", "/tmp/beat-schedule": str(folder / "beat-schedule")}
    return [*start, *(here.get(argument, argument) for argument in arguments)]


def test_the_sign_in_page_is_served_with_its_hashed_style_sheet(larger):
    status, text = page(larger.port, "/sign-in/")
    assert status == 200
    sheet = text.split('rel="stylesheet" href="')[1].split('"')[0]
    assert page(larger.port, sheet)[0] == 200
    assert sheet.count(".") == 2  # name, hash, css


def test_a_host_name_nobody_gave_is_refused(larger):
    asked = http.client.HTTPConnection("127.0.0.1", larger.port, timeout=10)
    asked.request("GET", "/sign-in/", headers={"Host": "elsewhere.invalid"})
    assert asked.getresponse().status == 400


def test_work_goes_through_redis_to_the_worker(larger):
    larger.enqueue(steps=1, count=3)
    seen = larger.wait_until_done(3, within_s=40)
    assert seen["made"] == 3


def test_the_scheduler_finds_work_whose_message_was_lost(larger):
    silent = Deployment(larger.folder, {**larger.environ, "CELERY_BROKER_URL": "redis://127.0.0.1:1/0"})
    silent.enqueue(steps=1)
    seen = larger.wait_until_done(4, within_s=60)
    assert seen["made"] == 4


def test_the_workers_health_check_is_content(larger):
    larger.python(*as_modules(SERVICES["worker"]["healthcheck"]["test"][1:], larger.port, larger.folder))
