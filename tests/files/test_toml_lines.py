"""Single values of a TOML file changed, with all else as its keeper wrote it."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.errors import BadValue
from optimizer.files.rig_tables import fields_at, tables_of_loop
from optimizer.files.toml_lines import entries, line_of, with_values

ROOT = Path(__file__).parents[2]
RIGS = sorted([*(ROOT / "parts_demo" / "rigs").glob("*.toml"), *(ROOT / "tests" / "data" / "nested").glob("*.toml")])
ODD = '''# before
name = "a # b"  # after
text = """
[not.a.table]
x = "1"
"""   # behind

 [ "odd key" . b ]   # head
"c d" = 'x = 1' # one
n.m = [ # two
  "]", { a = "}" },
] # three
[[list]]
k = 1
[[list]]
k = 2'''


def _leaves(tree: Any, path: tuple[str, ...] = ()) -> dict[tuple[str, ...], Any]:
    if not isinstance(tree, dict):
        return {path: tree}
    return {key: value for name, inner in tree.items() for key, value in _leaves(inner, (*path, name)).items()}


@pytest.mark.parametrize("path", RIGS, ids=lambda path: path.stem)
def test_every_key_of_every_rig_is_found_with_its_value(path: Path) -> None:
    """Read by themselves the values are those of the whole file."""
    text = path.read_text("utf-8")
    leaves = _leaves({key: value for key, value in tomllib.loads(text).items() if key not in ("fill", "spares", "joint")})
    for entry in entries(text):
        if not entry.path[0].startswith(("fill", "spares", "joint")):
            found = _leaves(tomllib.loads(f"v = {entry.raw(text)}")["v"], entry.path)
            assert found.items() <= leaves.items()
            leaves = {key: value for key, value in leaves.items() if key not in found}
    assert leaves == {}


def test_odd_layouts() -> None:
    """Comments, quotes, tables on many lines: only what was asked for is another."""
    assert [entry.path for entry in entries(ODD)][-3:] == [("odd key", "b", "n", "m"), ("list", "1", "k"), ("list", "2", "k")]
    changed = with_values(ODD, ["odd key", "b"], {"c d": '"new"', "e": "true"})
    assert changed == ODD.replace("'x = 1' # one", '"new" # one').replace("# one\n", "# one\ne = true\n")
    gone = with_values(ODD, ["odd key", "b"], {"c d": ""})
    assert gone == ODD.replace("\"c d\" = 'x = 1' # one", "# one")
    assert with_values("a = 1", [], {"b": "2"}) == "a = 1\nb = 2\n"
    assert with_values("[a]\r\nb = 1\r\n", ["a"], {"b": "2", "c": "3"}) == "[a]\r\nb = 2\r\nc = 3\r\n"
    assert with_values("a = 1\n", ["new"], {"b": "2"}) == "a = 1\n\n[new]\nb = 2\n"
    assert (line_of(ODD, ["odd key", "b", "c d"]), line_of(ODD, ["odd key", "b", "z"]), line_of(ODD, ["no"])) == (9, 8, 0)


@pytest.mark.parametrize("raw", ["1\nb = 2", '"open', "1 # x\n[t]", "[1,", "no quotes"])
def test_what_is_no_value_is_refused(raw: str) -> None:
    """Nothing can be brought in behind a value."""
    with pytest.raises(BadValue):
        with_values("[a]\nb = 1\n", ["a"], {"b": raw})


@pytest.mark.parametrize("text", ["a = {b = 1}\n", "a.b = 1\n", "[[a]]\nb = 1\n"])
def test_what_cannot_be_changed_by_a_line_is_refused_or_right(text: str) -> None:
    """A table on one line, keys with dots, lists of tables."""
    try:
        found = with_values(text, ["a"], {"b": "2", "c": "3"})
    except BadValue:
        return
    assert tomllib.loads(found) == {"a": {"b": 2, "c": 3}}


@settings(max_examples=60, deadline=None)
@given(st.text(st.characters(exclude_categories=("Cs",)), max_size=40), st.sampled_from(RIGS))
def test_any_text_comes_back(typed: str, path: Path) -> None:
    """Whatever is put behind a key, the file then says just that, and all its other lines are as before."""
    from optimizer.files.rig_writer import toml_text

    text = path.read_text("utf-8")
    where = ["loop", next(iter(tomllib.loads(text)["loop"]))]
    changed = with_values(text, where, {"kind": toml_text(typed)})
    expected = tomllib.loads(text)
    expected["loop"][where[1]]["kind"] = typed
    assert tomllib.loads(changed) == expected
    assert [a == b for a, b in zip(text.splitlines(), changed.splitlines(), strict=True)].count(False) <= 1


@pytest.mark.parametrize("path", RIGS, ids=lambda path: path.stem)
def test_every_key_that_a_rig_has_is_one_its_table_may_have(path: Path) -> None:
    """The reader takes these files, so each key of each place is among its fields; and every place of the loop is found."""
    tree = tomllib.loads(path.read_text("utf-8"))
    tables = list(tables_of_loop(tree))
    assert [table.name for table in tables] == list(tree["loop"])
    while tables:
        table = tables.pop()
        inner: Any = tree
        for step in table.where.split("."):
            inner = inner[step]
        branches = {name for name, _ in table.branches}
        assert set(inner) - branches <= {field.name for field in fields_at(tree, table.where)}
        tables += [each for _, places in table.branches for each in places]
