"""Dockerfile and docker-compose.yml against the code they deploy; no engine is needed, each claim is checked alone."""

import ast
import re
from pathlib import Path

import pytest
from celery.app.utils import find_app
from celery.bin.celery import celery as celery_command
from click import Context
from django.core.management import get_commands, load_command_class
from django.utils.module_loading import import_string
from gunicorn.config import Config

from tests.services.compose import OURS, environment_of, filled_in, read_compose

ROOT = Path(__file__).resolve().parents[2]
GIVEN = {"POSTGRES_PASSWORD": "abc123", "HOLDAIR_SECRET_KEY": "k" * 50, "HOLDAIR_HOSTS": "cache.tarnhollow.invalid"}
SERVICES = read_compose()["services"]
DOCKERFILE = re.sub(r"\\\n\s*", " ", (ROOT / "Dockerfile").read_text())


def names_that_settings_read() -> set[str]:
    """Every first argument of an ``env.something(...)`` call in the settings."""
    tree = ast.parse((ROOT / "readiness" / "settings.py").read_text())
    return {
        node.args[0].value
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and getattr(node.func.value, "id", None) == "env"
        and node.args
        and isinstance(node.args[0], ast.Constant)
    }


def assert_command_is_understood(command: list[str]) -> None:
    """Parse a command with the program's own parser, without running it."""
    program, *arguments = command
    if program == "gunicorn":
        options = Config().parser().parse_args(arguments)
        assert callable(import_string(options.args[0].replace(":", ".")))
    elif program == "celery":
        options, rest, _ = celery_command.make_parser(Context(celery_command)).parse_args(list(arguments))
        assert find_app(options["app"]).main == "holdair"
        part = celery_command.commands[rest[0]]
        part.make_parser(Context(part)).parse_args(rest[1:])
    else:
        assert [program, arguments[0]] == ["python", "manage.py"]
        name = arguments[1]
        load_command_class(get_commands()[name], name).create_parser("manage.py", name).parse_args(arguments[2:])


def test_the_deployment_has_each_part():
    assert set(SERVICES) == {"postgres", "redis", *OURS}


@pytest.mark.parametrize("name", OURS)
def test_each_service_runs_a_command_that_its_program_understands(name):
    assert_command_is_understood(SERVICES[name]["command"])


def test_the_images_own_command_is_understood():
    command = re.search(r"^CMD (\[.*\])$", DOCKERFILE, re.MULTILINE)[1]
    assert_command_is_understood(ast.literal_eval(command))


def test_a_command_with_an_option_that_does_not_exist_would_be_noticed():
    with pytest.raises(Exception, match="no-such-option"):
        assert_command_is_understood(["celery", "--app", "readiness", "worker", "--no-such-option"])


@pytest.mark.parametrize("name", OURS)
def test_each_setting_given_to_a_service_is_one_that_settings_read(name):
    assert set(SERVICES[name]["environment"]) <= names_that_settings_read()


def test_each_setting_in_the_image_is_one_that_settings_read():
    given = set(re.findall(r"\b([A-Z_]+)=", re.search(r"^ENV (.*)$", DOCKERFILE, re.MULTILINE)[1]))
    of_python = {"PYTHONUNBUFFERED", "PYTHONDONTWRITEBYTECODE", "DJANGO_SETTINGS_MODULE"}
    assert given - of_python <= names_that_settings_read()


@pytest.mark.parametrize("missing", sorted(GIVEN))
def test_a_deployment_without_a_needed_setting_does_not_start(missing):
    given = {name: value for name, value in GIVEN.items() if name != missing}
    with pytest.raises(KeyError, match=missing):
        environment_of(SERVICES["web"], given)


def test_no_secret_is_written_down():
    for service in SERVICES.values():
        for name, value in service.get("environment", {}).items():
            if re.search("PASSWORD|SECRET|KEY", name):
                assert re.fullmatch(r"\$\{\w+:\?[^}]+\}", value)
    assert "abc123" in filled_in(SERVICES["web"]["environment"]["DATABASE_URL"], GIVEN)


def test_every_service_that_stays_up_says_how_it_is():
    assert [name for name, service in SERVICES.items() if name != "migrate" and "healthcheck" not in service] == []


def test_health_checks_of_our_own_call_what_exists():
    assert_command_is_understood(SERVICES["worker"]["healthcheck"]["test"][1:])
    assert "/healthz" in SERVICES["web"]["healthcheck"]["test"][-1]


def test_nothing_but_the_web_server_is_reachable_from_outside_and_that_from_this_machine_only():
    assert [name for name, service in SERVICES.items() if service.get("ports")] == ["web"]
    assert filled_in(SERVICES["web"]["ports"][0], {}).startswith("127.0.0.1:")


def test_the_image_holds_every_room_and_of_the_tests_the_check_values_alone():
    copied = set(re.findall(r"^COPY (\S+) ", DOCKERFILE, re.MULTILINE))
    rooms = {path.parent.name for path in ROOT.glob("*/apps.py")}
    assert copied == {*rooms, "manage.py", "requirements.txt", "tests/check_values/*.csv"}
    let_in = set(re.findall(r"^!(\S+)$", (ROOT / ".dockerignore").read_text(), re.MULTILINE))
    assert let_in == copied


def test_the_image_runs_as_nobody_special():
    assert re.findall(r"^USER (\S+)$", DOCKERFILE, re.MULTILINE) == ["holdair"]
