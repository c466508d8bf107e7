"""Every public formula says the unit of each argument and of its result, and where it comes from."""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable
from types import ModuleType
from typing import Any

import pytest

import shared.formulas
from shared import units
from shared.verification.catalogue import public_functions, sections

UNIT = re.compile(r"\[[^\[\]]+\]")


def public_formulas(module: ModuleType) -> dict[str, Callable[..., Any]]:
    return {f"{module.__name__}.{made.__name__}": made for made in public_functions(module)}


def argument_texts(args: str) -> dict[str, str]:
    """Each argument's description, continuation lines included."""
    entries = re.split(r"^ {4}(\w+):", args, flags=re.MULTILINE)
    return dict(zip(entries[1::2], entries[2::2], strict=True))


def complaints(formula: Callable[..., Any]) -> list[str]:
    """What a formula's docstring leaves unsaid; an empty list is a pass."""
    doc = inspect.getdoc(formula)
    if not doc:
        return ["no docstring"]
    said = sections(doc)
    found = [] if said[""].split("\n\n")[0].strip().endswith(".") else ["does not open with a sentence"]
    described = argument_texts(said.get("Args", ""))
    for name in inspect.signature(formula).parameters:
        if not UNIT.search(described.get(name, "")):
            found.append(f"argument {name} has no unit in [brackets]")
    if not UNIT.search(said.get("Returns", "")):
        found.append("the result has no unit in [brackets]")
    if not said.get("Source", "").strip():
        found.append("no Source")
    # A formula that can refuse an argument says so.
    if (
        re.search(r"\b(raise|within|temperature)\b", inspect.getsource(formula).split('"""')[-1])
        and "Raises" not in said
    ):
        found.append("no Raises")
    return found


MODULES = [
    importlib.import_module(f"shared.formulas.{found.name}")
    for found in pkgutil.iter_modules(shared.formulas.__path__)
    if not found.name.startswith("_")
]
FORMULAS = {name: found for module in [*MODULES, units] for name, found in public_formulas(module).items()}


@pytest.mark.parametrize("name", sorted(FORMULAS))
def test_a_public_formula_says_its_units_and_its_source(name):
    assert complaints(FORMULAS[name]) == []


def test_the_formulas_of_every_subject_are_looked_at():
    subjects = {module.__name__.rpartition(".")[2] for module in MODULES}
    assert subjects >= {"air", "heat", "propane", "hydraulics", "electric", "people", "dates"}
    assert all(public_formulas(module) for module in MODULES)


def test_a_formula_that_leaves_things_unsaid_is_caught():
    def good(flow_m3_s: float, rise_k: float) -> float:
        """Heat carried away.

        Args:
            flow_m3_s: flow. [m3/s]
            rise_k: rise in temperature, on
                a second line. [K]

        Returns:
            Heat. [W]

        Raises:
            ValueError: an argument is out of range.

        Source: enthalpy balance.
        """
        if flow_m3_s < 0:
            raise ValueError("flow_m3_s must be at least 0 m3/s")
        return flow_m3_s * rise_k

    def bare(flow_m3_s: float) -> float:
        return flow_m3_s

    assert complaints(good) == []
    assert complaints(bare) == ["no docstring"]
    for cut, complaint in {
        " [m3/s]": "argument flow_m3_s has no unit in [brackets]",
        " [K]": "argument rise_k has no unit in [brackets]",
        " [W]": "the result has no unit in [brackets]",
        "Source: enthalpy balance.": "no Source",
        "Heat carried away.": "does not open with a sentence",
        "Raises:\n            ValueError: an argument is out of range.": "no Raises",
    }.items():
        whole = good.__doc__
        assert cut in whole
        good.__doc__ = whole.replace(cut, "")
        assert complaints(good) == [complaint]
        good.__doc__ = whole
