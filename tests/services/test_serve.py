"""`manage.py serve`, as `make run` starts it: it comes up from nothing, heals, and leaves nothing behind."""

import http.client
import os
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from tests.servers import free_port, wait_for
from tests.services.deployment import ROOT, Deployment, kill_outright

pytestmark = pytest.mark.services
UP_WITHIN_S = 180  # the demo is loaded first


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    """An empty folder, and serve running in it; it is stopped as a person stops it."""
    deployment = Deployment(tmp_path_factory.mktemp("house"))
    port = free_port()
    with deployment.process("manage.py", "serve", "--port", str(port), log="serve.log") as serve:
        wait_for(lambda: serve.poll() is not None or status(port, "/sign-in/") == 200, within_s=UP_WITHIN_S, what="up")
        assert serve.poll() is None, (deployment.folder / "serve.log").read_text()
        deployment.port, deployment.serve = port, serve
        yield deployment


def status(port: int, path: str) -> int | None:
    """HTTP status of a page, or None where nobody answers."""
    asked = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        asked.request("GET", path, headers={"Host": "localhost"})
        return asked.getresponse().status
    except OSError:
        return None
    finally:
        asked.close()


def processes_of(deployment: Deployment) -> dict[int, str]:
    """Every live process that works in the deployment's folder, whoever its parent is, and its command line."""
    mark, found = f"HOLDAIR_VAR={deployment.environ['HOLDAIR_VAR']}".encode(), {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                if mark in (entry / "environ").read_bytes():
                    found[int(entry.name)] = (entry / "cmdline").read_bytes().replace(b"\0", b" ").decode()
            except OSError:  # ended meanwhile, or another user's
                continue
    return found


def test_the_sign_in_page_is_served(house):
    assert status(house.port, "/sign-in/") == 200


def test_the_address_is_printed(house):
    log = house.folder / "serve.log"
    wait_for(lambda: "Holdair is at" in log.read_text(), within_s=20, what="the address printed")
    assert f"http://localhost:{house.port}/" in log.read_text()


def test_static_files_are_served(house):
    styles = next(iter((ROOT / "shared" / "static").rglob("*.css")))
    assert status(house.port, f"/static/{styles.relative_to(ROOT / 'shared' / 'static')}") == 200


def test_the_worker_does_work_from_the_outbox(house):
    house.enqueue(steps=1)
    # The demo had asked for a run of the check values before.
    seen = house.wait_until_done(2, within_s=60)
    assert seen["rows"][-1]["result"] == {"made": True}


@pytest.mark.parametrize("program", ["gunicorn", "celery"])
def test_a_child_killed_outright_is_started_again_and_leaves_no_orphan(house, program):
    def mine() -> set[int]:
        return {pid for pid, command in processes_of(house).items() if f"-m {program}" in command}

    before = wait_for(mine, within_s=20, what=f"{program} up")
    leader = min(before, key=lambda pid: parent_of(pid) != house.serve.pid)
    os.kill(leader, signal.SIGKILL)
    wait_for(lambda: len(mine() - before) >= len(before), within_s=30, what=f"{program} up again")
    wait_for(lambda: not mine() & before, within_s=10, what="what the killed one left ended")
    assert wait_for(lambda: status(house.port, "/sign-in/") == 200, within_s=20, what="the page again")


def parent_of(pid: int) -> int | None:
    try:
        return int(re.search(r"^PPid:\s+(\d+)", Path(f"/proc/{pid}/status").read_text(), re.MULTILINE)[1])
    except OSError:
        return None


def test_a_second_one_on_the_same_folder_is_refused(house):
    refused = run_serve(house, free_port())
    assert refused.returncode == 1
    assert "already runs from" in refused.stderr


def test_a_port_that_is_taken_is_said_in_plain_words(tmp_path):
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        port = holder.getsockname()[1]
        refused = run_serve(Deployment(tmp_path), port)
    assert refused.returncode == 1
    assert re.search(rf"Port {port} .*try: make run PORT={port + 1}", refused.stderr)
    assert "Traceback" not in refused.stderr


def run_serve(deployment: Deployment, port: int) -> subprocess.CompletedProcess:
    command = [sys.executable, "manage.py", "serve", "--port", str(port)]
    return subprocess.run(command, env=deployment.environ, cwd=ROOT, capture_output=True, text=True, timeout=60)


@pytest.mark.parametrize("sig", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_one_signal_stops_everything_within_seconds(tmp_path, sig):
    deployment, port = Deployment(tmp_path), free_port()
    command = ("manage.py", "serve", "--no-demo", "--port", str(port))
    with deployment.process(*command, log="serve.log") as serve:
        wait_for(lambda: status(port, "/sign-in/") == 200, within_s=60, what="up")
        wait_for(lambda: len(processes_of(deployment)) >= 5, within_s=30, what="all five processes")
        serve.send_signal(sig)
        code = serve.wait(timeout=15)
        # Killed outright, serve can end nobody: the kernel tells its children (PR_SET_PDEATHSIG).
        wait_for(lambda: not processes_of(deployment), within_s=15, what="no process left")
    assert code == (-signal.SIGKILL if sig == signal.SIGKILL else 0)
    assert status(port, "/sign-in/") is None


def test_sigint_stops_it_even_where_a_shell_started_it_in_the_background(tmp_path):
    # A shell without job control starts `command &` with SIGINT ignored.
    ignoring = "import os, signal, sys; signal.signal(signal.SIGINT, signal.SIG_IGN); "
    ignoring += "os.execv(sys.executable, [sys.executable, *sys.argv[1:]])"
    deployment, port = Deployment(tmp_path), free_port()
    command = ("-c", ignoring, "manage.py", "serve", "--no-demo", "--port", str(port))
    with deployment.process(*command, log="serve.log") as serve:
        wait_for(lambda: status(port, "/sign-in/") == 200, within_s=60, what="up")
        serve.send_signal(signal.SIGINT)
        assert serve.wait(timeout=15) == 0


def test_work_queued_while_everything_was_down_is_done_by_the_next_start(tmp_path):
    deployment = Deployment(tmp_path)
    deployment.migrate()
    with deployment.worker() as first:
        deployment.enqueue(steps=30)
        wait_for(lambda: deployment.began, within_s=30, what="the job begun")
        kill_outright(first)
    with deployment.process("manage.py", "serve", "--no-demo", "--port", str(free_port()), log="serve.log"):
        seen = deployment.wait_until_done(1, within_s=60)
    assert (seen["rows"][0]["attempts"], seen["made"]) == (2, 1)
