"""The rooms of the package: no circle of imports, hidden ones inside functions included, and one place that prints."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import networkx as nx

ROOT = Path(__file__).parents[1]
FILES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
    for path in (ROOT / "optimizer").rglob("*.py")
}


def imported(tree: ast.AST) -> Iterator[str]:
    """Modules of the package that a tree imports, wherever it does so when it runs, and the packages they lie in."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            yield from (name for each in node.orelse for name in imported(ast.Module([each], [])))
            continue
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0 and node.module, "imports name the whole way"
            names = [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
        for name in names:
            parts = name.split(".")
            yield from (way for way in (".".join(parts[: n + 1]) for n in range(len(parts))) if way in FILES)
        yield from imported(node)


def test_no_import_goes_round() -> None:
    """Packages are left out only as the parents of the module that imports: those are loaded before it in any case."""
    graph = nx.DiGraph()
    for name, path in FILES.items():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        graph.add_edges_from((name, other) for other in imported(tree) if not f"{name}.".startswith(f"{other}."))
    assert graph.has_edge("optimizer.answers.asked", "optimizer.answers.by_fills"), "imports inside functions are seen"
    assert not graph.has_edge("optimizer.api", "optimizer.answers.best"), "those for types are not"
    circles = [sorted(circle) for circle in nx.strongly_connected_components(graph) if len(circle) > 1]
    assert circles == []


PRINTS = {
    "optimizer.cli",
    "optimizer.commands.parser",
    "optimizer.commands.streams",
    "optimizer.tanks.highs",
    "optimizer.check_proof",
}
"""`streams` prints answers and remarks, the parser help texts; `cli` looks whether somebody sits there, and what keeps a solver
quiet lets out what was printed before it does; the checker of proofs stands alone."""


def test_one_place_prints() -> None:
    """No other module calls `print` or touches the standard streams."""
    found = set()
    for name, path in FILES.items():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            calls = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
            streams = isinstance(node, ast.Attribute) and ast.unparse(node) in ("sys.stdout", "sys.stderr", "sys.stdin")
            found |= {name} if calls or streams else set()
    assert found == PRINTS
