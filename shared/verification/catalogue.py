"""The public formulas, read from the code itself: what each gives, where it comes from, and which kinds exercise it."""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable
from functools import lru_cache
from types import ModuleType
from typing import Any, Final, NamedTuple

import shared.formulas
from shared import units
from shared.verification import kinds as _kinds  # noqa: F401  (fills the registry)
from shared.verification.registry import KINDS

SECTION: Final = re.compile(r"^(Args|Returns|Raises|Source):", re.MULTILINE)


class Formula(NamedTuple):
    """One public formula as people read of it."""

    name: str  # with its subject: heat.flow_limit
    subject: str
    sentence: str
    source: str
    kinds: tuple[str, ...]

    @property
    def anchor(self) -> str:
        """Where a page speaks of it."""
        return anchor_of(self.name)


def anchor_of(name: str) -> str:
    """Return the anchor of a formula on a page: heat-flow_limit."""
    return name.replace(".", "-")


@lru_cache(maxsize=1)
def catalogue() -> tuple[Formula, ...]:
    """Return every public formula, by subject and in the order in which they are written."""
    modules = [
        importlib.import_module(f"shared.formulas.{found.name}")
        for found in pkgutil.iter_modules(shared.formulas.__path__)
        if not found.name.startswith("_")
    ]
    return tuple(_formula(module, made) for module in [*modules, units] for made in public_functions(module))


def public_functions(module: ModuleType) -> list[Callable[..., Any]]:
    """Return the functions that a module defines itself and does not hide behind an underscore."""
    found = [
        made
        for name, made in inspect.getmembers(module, inspect.isfunction)
        if not name.startswith("_") and made.__module__ == module.__name__
    ]
    return sorted(found, key=lambda made: made.__code__.co_firstlineno)


def sections(doc: str) -> dict[str, str]:
    """Return the text under each heading of a docstring, and under "" what stands before the first."""
    parts = SECTION.split(doc)
    return {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}


def _formula(module: ModuleType, made: Callable[..., Any]) -> Formula:
    said = sections(inspect.getdoc(made) or "")
    subject = module.__name__.rpartition(".")[2]
    exercised = tuple(sorted(kind.name for kind in KINDS.values() if made in kind.formulas))
    first = said[""].split("\n\n")[0]
    return Formula(f"{subject}.{made.__name__}", subject, _joined(first), _joined(said.get("Source", "")), exercised)


def _joined(text: str) -> str:
    return " ".join(text.split())
