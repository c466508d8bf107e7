"""Run the whole of Holdair on one machine: the web server, the worker and the scheduler under one command."""

import fcntl
import http.client
import os
import socket
import sys
from contextlib import contextmanager
from importlib import import_module
from importlib.util import find_spec
from io import StringIO
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connections

from shared.management.supervisor import Child, Supervisor
from shared.models import Department, User

THREADS = 8
HEALTH = "/healthz"


class Command(BaseCommand):
    help = "Bring the database up to date, load the demo into an empty one, and serve until Ctrl-C."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: this machine only)")
        parser.add_argument("--no-demo", action="store_true", help="leave an empty database empty")

    def handle(self, *args: Any, **options: Any) -> None:
        host, port = options["host"], options["port"]
        with _alone(), _listening(host, port) as listener:
            try:
                welcome = self._prepare(port, with_demo=not options["no_demo"])
            except KeyboardInterrupt:
                raise CommandError("Stopped before it was up.") from None
            supervisor = Supervisor(_children(listener), self._say)
            code = supervisor.run(lambda: _answers(host, port) and self._say(welcome) is None)
        self._say("Stopped.")
        if code:
            sys.exit(code)

    def _say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()

    def _prepare(self, port: int, *, with_demo: bool) -> str:
        """Bring the database up to date and return what to say once the web server answers."""
        call_command("migrate", verbosity=0)
        if with_demo and not Department.objects.exists():
            self._say("The database is empty: loading the demo, an invented department. This takes a moment.")
            call_command("demo", "--if-empty", stdout=StringIO())  # what it says is said below, when all is up
        settings.STATIC_ROOT.mkdir(parents=True, exist_ok=True)
        lines = ["", f"Holdair is at http://localhost:{port}/  (Ctrl-C stops it)"]
        if signs_in := _demo_sign_ins():
            lines += ["", "Sign in to the demo as"]
            lines += [f"  {name:<10} {password:<24} {role}" for name, password, role in signs_in]
        connections.close_all()  # the children open their own
        return "\n".join([*lines, ""])


def _children(listener: socket.socket) -> list[Child]:
    """The web server and the worker with its scheduler.

    One solo worker is enough beside one web process: the database has one writer at a time anyway.
    """
    environ = dict(os.environ)
    python, fd = sys.executable, listener.fileno()
    web = [python, "-m", "gunicorn", settings.WSGI_APPLICATION.replace(".application", ":application")]
    # The socket is the supervisor's: requests wait in it while a web process that died is started again.
    web += ["--bind", f"fd://{fd}", "--worker-class", "gthread", "--workers", "1", "--threads", str(THREADS)]
    web += ["--graceful-timeout", "5", "--log-level", "warning", "--no-control-socket"]
    worker = [python, "-m", "celery", "--quiet", "--app", "readiness", "worker", "--beat", "--pool", "solo"]
    worker += ["--without-gossip", "--without-mingle", "--loglevel", "warning"]
    worker += ["--schedule", settings.CELERY_BEAT_SCHEDULE_FILENAME]
    return [Child("The web server", web, environ, pass_fds=[fd]), Child("The worker", worker, environ)]


@contextmanager
def _alone():
    """Hold the folder of this deployment: two schedulers on one schedule file spoil it."""
    with (settings.VAR_DIR / "serve.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise CommandError(
                f"Holdair already runs from {settings.VAR_DIR}. Stop it first, or set HOLDAIR_VAR to another folder."
            ) from None
        yield


@contextmanager
def _listening(host: str, port: int):
    """Listen on the port, or say in plain words why that cannot be."""
    listener = socket.socket()
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, port))
        except OSError as problem:
            raise CommandError(
                f"Port {port} on {host} cannot be used ({problem.strerror}). "
                f"Another program may hold it; try: make run PORT={port + 1}"
            ) from None
        listener.listen(128)
        yield listener
    finally:
        listener.close()


def _answers(host: str, port: int) -> bool:
    """Say whether the web server answers."""
    asked = http.client.HTTPConnection("127.0.0.1" if host == "0.0.0.0" else host, port, timeout=20)
    try:
        asked.request("GET", HEALTH, headers={"Host": "localhost"})
        return asked.getresponse().status < 500
    except OSError:
        return False
    finally:
        asked.close()


def _demo_sign_ins() -> list[tuple[str, str, str]]:
    """Names, passwords and roles of the demo's people, as far as this database knows them."""
    if find_spec("readiness.demo") is None:
        return []
    known = set(User.objects.values_list("username", flat=True))
    return [one for one in import_module("readiness.demo").SIGN_INS if one[0] in known]
