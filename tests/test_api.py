"""The Python interface is a table: every name stands in it once, is described, and loads its room when it is asked for."""

from __future__ import annotations

import ast
import inspect
import pydoc
import subprocess
import sys
from pathlib import Path

import pytest

from optimizer import api
from optimizer.commands.table import COMMANDS, ELSEWHERE

ROOT = Path(__file__).parents[1]


def test_names_types_and_rooms_are_the_same() -> None:
    tree = ast.parse((ROOT / "optimizer" / "api.py").read_text(encoding="utf-8"))
    types = next(node for node in tree.body if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING")
    typed = {
        alias.name: (node.module or "").removeprefix("optimizer.")
        for node in types.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert typed == api.ROOMS
    assert sorted(api.ROOMS) == sorted(api.__all__) == dir(api)


def test_every_name_is_described_and_at_home_in_its_room() -> None:
    text = pydoc.plain(pydoc.render_doc(api))
    for name, room in api.ROOMS.items():
        function = getattr(api, name)
        assert function.__module__ == f"optimizer.{room}"
        assert (inspect.getdoc(function) or "").splitlines()[0] in text
        assert str(inspect.signature(function)).partition(",")[0] in text


def test_what_is_not_there_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'worst'"):
        api.worst  # noqa: B018  looked up on purpose


def test_neither_the_interface_nor_a_help_text_loads_a_numeric_library() -> None:
    """A process of its own imports the interface and every command, as their help texts do."""
    modules = ", ".join(ELSEWHERE.get(name, f"optimizer.commands.{name}") for name in COMMANDS)
    heavy = {"numpy", "scipy", "pandas", "pint", "networkx", "pulp"}
    code = f"import sys, optimizer.api, {modules}; print({heavy!r} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout == "set()\n"
