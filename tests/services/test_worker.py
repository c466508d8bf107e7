"""Real worker processes: through a real Redis, and killed outright at the worst moments."""

import psycopg
import pytest

from tests.servers import wait_for
from tests.services.deployment import LEASE_S, Deployment, kill_outright

pytestmark = pytest.mark.services


@pytest.fixture(params=["sqlite", "postgresql"])
def deployment(request, tmp_path):
    """The one-machine deployment with its file broker, on either database."""
    environ = {}
    if request.param == "postgresql":
        environ["DATABASE_URL"] = new_database(request.getfixturevalue("postgres"), f"outbox_{request.node.name}")
    deployment = Deployment(tmp_path, environ)
    deployment.migrate()
    return deployment


def new_database(server_url: str, name: str) -> str:
    """Make an empty database in the suite's PostgreSQL and return its URL."""
    name = "".join(letter if letter.isalnum() else "_" for letter in name.lower())[:60]
    with psycopg.connect(server_url, autocommit=True) as connection:
        connection.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
        connection.execute(f'CREATE DATABASE "{name}"')
    return server_url.rsplit("/", 1)[0] + f"/{name}"


def test_a_task_goes_through_redis_to_a_worker_process_and_is_done(tmp_path, redis_url):
    # No sweep within the test: what is done was done because Redis carried the message.
    deployment = Deployment(tmp_path, {"CELERY_BROKER_URL": redis_url, "HOLDAIR_SWEEP_SECONDS": "3600"})
    deployment.migrate()
    with deployment.worker():
        deployment.enqueue(steps=1)
        seen = deployment.wait_until_done(1, within_s=30)
    assert seen["rows"][0]["result"] == {"made": True}
    assert (seen["rows"][0]["attempts"], seen["made"]) == (1, 1)


def test_a_job_in_progress_when_the_worker_is_killed_is_done_once_after_the_restart(deployment):
    with deployment.worker() as first:
        deployment.enqueue(steps=40)
        wait_for(lambda: deployment.began, within_s=30, what="the job begun")
        kill_outright(first)
    left = deployment.look()
    assert (left["rows"][0]["state"], left["made"]) == ("claimed", 0)
    with deployment.worker():
        seen = deployment.wait_until_done(1, within_s=LEASE_S + 40)
    assert deployment.began == ["attempt 1", "attempt 2"]
    assert seen["made"] == 1


def test_jobs_still_queued_when_the_worker_is_killed_are_all_done_after_the_restart(deployment):
    with deployment.worker() as first:
        deployment.enqueue(steps=8, count=6)
        wait_for(lambda: deployment.began, within_s=30, what="the first job begun")
        kill_outright(first)
    assert sum(row["state"] == "queued" for row in deployment.look()["rows"]) >= 3
    with deployment.worker():
        seen = deployment.wait_until_done(6, within_s=60)
    assert seen["made"] == 6


def test_a_job_whose_message_was_lost_is_found_by_the_sweep(deployment):
    deployment.enqueue(steps=1)
    if deployment.environ.get("CELERY_BROKER_URL") is None:
        for message in (deployment.folder / "var/broker/queue").iterdir():
            message.unlink()
    with deployment.worker():
        seen = deployment.wait_until_done(1, within_s=40)
    assert (seen["rows"][0]["attempts"], seen["made"]) == (1, 1)
