"""The docstring contract: everything public says what it is, and every law of physics gives its figures an example."""

import importlib
import inspect
import pkgutil
from types import ModuleType

import pytest

import optimizer

MODULES = [importlib.import_module(found.name) for found in pkgutil.walk_packages(optimizer.__path__, "optimizer.")]


def public(module: ModuleType) -> list[tuple[str, object]]:
    """Functions and classes that a module defines for others."""
    return [
        (name, thing)
        for name, thing in vars(module).items()
        if not name.startswith("_")
        and (inspect.isfunction(thing) or inspect.isclass(thing))
        and thing.__module__ == module.__name__
    ]


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_everything_public_is_described(module: ModuleType) -> None:
    assert inspect.getdoc(module)
    for name, thing in public(module):
        doc = thing.__doc__ or ""
        generated = doc.startswith(f"{name}(")
        assert doc.strip(), f"{module.__name__}.{name} has no docstring"
        assert not generated, f"{module.__name__}.{name} has only the signature that its decorator wrote"


PHYSICS = [module for module in MODULES if module.__name__.startswith("optimizer.physics.")]


@pytest.mark.parametrize("module", PHYSICS, ids=lambda module: module.__name__)
def test_every_law_has_an_example(module: ModuleType) -> None:
    for name, thing in public(module):
        if inspect.isfunction(thing):
            assert ">>>" in (thing.__doc__ or ""), f"{module.__name__}.{name} shows no example"


def test_units_stand_in_the_names_of_numbers() -> None:
    """Every float of a model's dataclass that has a unit carries it in its name."""
    bare = {"mm", "inches", "feet", "gallons"}
    for module in MODULES:
        if module.__name__.startswith("optimizer.model."):
            for _, thing in public(module):
                for field in getattr(thing, "__dataclass_fields__", {}):
                    assert not bare & set(field.split("_")), f"{thing}.{field} is not in SI"
