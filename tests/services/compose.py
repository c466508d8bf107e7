"""docker-compose.yml as the engine would read it, for tests on a machine where no engine runs."""

import re
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).resolve().parents[2]
OURS = ("migrate", "web", "worker", "beat")
_VARIABLE = re.compile(r"\$\{(\w+)(?::(-|\?)([^}]*))?\}")


def read_compose() -> dict[str, Any]:
    return yaml.safe_load((ROOT / "docker-compose.yml").read_text())


def filled_in(text: str, given: dict[str, str]) -> str:
    """Put variables in place as compose does: ``${A:-default}``, ``${A:?needed}`` and ``$$`` for a dollar sign.

    Raises:
        KeyError: a variable that is needed was not given.
    """

    def value(match: re.Match[str]) -> str:
        name, kind, rest = match.groups()
        if given.get(name):
            return given[name]
        if kind == "-":
            return rest
        raise KeyError(f"{name}: {rest}")

    return _VARIABLE.sub(value, text).replace("$$", "$")


def environment_of(service: dict[str, Any], given: dict[str, str]) -> dict[str, str]:
    return {name: filled_in(str(value), given) for name, value in service.get("environment", {}).items()}
