"""Whatever stands in a file, reading it gives a valid object or an `InputError`, never another exception."""

import shutil
import string
import tomllib
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rig_tables import RIG_TABLES

from optimizer.errors import BadValue, InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.end_text import EXAMPLES, Face, parse_end
from optimizer.files.part_kinds import PART_KINDS
from optimizer.files.rig_toml import read_rig
from optimizer.files.toml_fields import LOOP_KINDS, PLACE
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig, inner_positions

SMALL = Path(__file__).parent.parent / "data" / "small"
SHOP = SMALL / "catalog"
RIG = (SMALL / "hall_tank.toml").read_bytes()
BRANCHED = (SMALL / "two_intakes.toml").read_bytes()
FILES = {path.name: path.read_bytes() for path in sorted(SHOP.iterdir())}

FUZZ = settings(
    deadline=None,
    database=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
NASTY = [
    b"", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b'"', b"'", b"\n", b"\r", b"\r\n", b",", b";", b"=", b"[", b"]", b"{",
    b"}", b"-", b"1e999", b"nan", b"-inf", b"9" * 400, b"\xe2\x80\xae", b"\xc2\xbd", b"100 %", b"0 mm", b"1/0 in", b"0",
    b"-1 l", b"yes", b"true", b"union", b"[[spares]]\n", b"kind = 'pump'\n", b"x2", b"2000-01-01", b"1_0", b"0x10",
]  # fmt: skip


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return read_catalog(SHOP)


@st.composite
def mutated(draw: st.DrawFn, base: bytes) -> bytes:
    """A valid file after up to six flips, deletions, insertions, swaps of lines and swaps of values."""
    data = base
    for _ in range(draw(st.integers(1, 6))):
        data = draw(st.sampled_from(MUTATIONS))(draw, data)
    return data


def flip(draw: st.DrawFn, data: bytes) -> bytes:
    at = draw(st.integers(0, max(0, len(data) - 1)))
    return data[:at] + bytes([draw(st.integers(0, 255))]) + data[at + 1 :]


def insert(draw: st.DrawFn, data: bytes) -> bytes:
    at = draw(st.integers(0, len(data)))
    return data[:at] + draw(st.sampled_from(NASTY)) + data[at:]


def drop_line(draw: st.DrawFn, data: bytes) -> bytes:
    lines = data.split(b"\n")
    at = draw(st.integers(0, len(lines) - 1))
    return b"\n".join(lines[:at] + lines[at + 1 :])


def swap_lines(draw: st.DrawFn, data: bytes) -> bytes:
    lines = data.split(b"\n")
    one, other = draw(st.integers(0, len(lines) - 1)), draw(st.integers(0, len(lines) - 1))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def swap_values(draw: st.DrawFn, data: bytes) -> bytes:
    """Give one line the value of another, or one cell that of another."""
    separator = b" = " if b" = " in data else b","
    lines = data.split(b"\n")
    cells = [(row, cell) for row, line in enumerate(lines) for cell in range(1, line.count(separator) + 1)]
    if not cells:
        return data
    (row, cell), (other_row, other_cell) = draw(st.sampled_from(cells)), draw(st.sampled_from(cells))
    parts = lines[row].split(separator)
    parts[cell] = lines[other_row].split(separator)[other_cell]
    lines[row] = separator.join(parts)
    return b"\n".join(lines)


def new_value(draw: st.DrawFn, data: bytes) -> bytes:
    """Put something nasty in place of one value."""
    separator = b" = " if b" = " in data else b","
    parts = data.split(separator)
    at = draw(st.integers(0, len(parts) - 1))
    ending = b"\n" + parts[at].partition(b"\n")[2] if b"\n" in parts[at] else b""
    value = draw(st.sampled_from(NASTY))
    parts[at] = (b'"' + value + b'"' if separator == b" = " and draw(st.booleans()) else value) + ending
    return separator.join(parts)


MUTATIONS = [flip, insert, drop_line, swap_lines, swap_values, new_value]


def attempt(read: Callable[[], object]) -> object:
    """What `read` returns, or the complaint it raises, which must say something."""
    try:
        return read()
    except (InputError, BadValue) as error:
        found = error
    assert str(found)
    return found


def read_bytes(data: bytes, folder: Path, shop: Catalog) -> Rig | InputError:
    path = folder / "rig.toml"
    path.write_bytes(data)
    found = attempt(lambda: read_rig(path, shop))
    assert isinstance(found, Rig | InputError)
    return found


@settings(FUZZ, max_examples=200)
@given(data=mutated(RIG))
def test_mutated_rigs(data: bytes, tmp_path: Path, shop: Catalog) -> None:
    found = read_bytes(data, tmp_path, shop)
    if isinstance(found, Rig):
        assert found.positions[0].kind == "guard"
        assert found.turnover_per_hour(found.tank.net_m3 / 3600.0) == pytest.approx(1.0)


@settings(FUZZ, max_examples=300)
@given(data=mutated(BRANCHED))
def test_mutated_rigs_with_branches(data: bytes, tmp_path: Path, shop: Catalog) -> None:
    found = read_bytes(data, tmp_path, shop)
    if isinstance(found, Rig):
        names = [place.name for position in found.positions for place in (position, *inner_positions(position))]
        assert len(set(names)) == len(names)
        for position in found.positions:
            assert (position.kind == "branches") == bool(position.branches)
            for branch in position.branches:
                assert branch.installed or all(place.installed is None for place in branch.positions)


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    shutil.copytree(SHOP, tmp_path / "shop")
    return tmp_path / "shop"


@settings(FUZZ, max_examples=200)
@given(name=st.sampled_from(sorted(FILES)), data=st.data())
def test_mutated_catalogs(name: str, data: st.DataObject, copy: Path) -> None:
    (copy / name).write_bytes(data.draw(mutated(FILES[name])))
    found = attempt(lambda: read_catalog(copy))
    (copy / name).write_bytes(FILES[name])
    assert isinstance(found, Catalog | InputError)
    if isinstance(found, Catalog):
        assert all(line.part_id in found.parts for product in found.products for line in product.lines)
        assert all(product.price >= 0 for product in found.products)


KEYS = sorted(
    {field.name for fields in RIG_TABLES for field in fields}
    | {"kind", "tank", "site", "feeding", "limits", "wish", "loop", "spares"}
)
VALUES = [
    "120 l", "16 mm", "12 mm", "16/22 mm", "1.5 m", "800 l/h", "0 l/h: 2 m", "300-800 l/h", "40 %", "100 %", "0 %",
    "25 degC", "50 Hz", "6 per hour", "900 m2/m3", "12.50", "5 g/day", "20 ppi", "30 um", "6 cm/s", "34 dB(A)", "1 m2",
    "", " ", "nan", "foam", "rings", "bar", "nozzle", "open", "sponge", "slots", "net", "nominal", "FOAM-20",
    "HOSE-16-22", "PUMP-1200", "GUARD-SLOT", "BAR-16", "CPL-16", "CLAMP-22", "TEE-16", "branches", *EXAMPLES, *LOOP_KINDS,
]  # fmt: skip
SCALARS = (
    st.sampled_from(VALUES)
    | st.text(max_size=12)
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=True, allow_infinity=True)
    | st.dates(min_value=date(1990, 1, 1))
)
TREES = [tomllib.loads(data.decode()) for data in (RIG, BRANCHED)]
KEY = st.sampled_from(KEYS) | st.text(string.ascii_letters + " .-\u00e9", min_size=1, max_size=6)


def tables(depth: int) -> st.SearchStrategy[dict[str, object]]:
    values: st.SearchStrategy[object] = SCALARS
    if depth:
        values = values | st.lists(values | tables(depth - 1), max_size=3) | tables(depth - 1)
    return st.dictionaries(KEY, values, max_size=5)


@st.composite
def places(draw: st.DrawFn) -> dict[str, object]:
    """A place in the loop whose keys are mostly the right ones."""
    kind = draw(st.sampled_from(LOOP_KINDS))
    fitting = "fitting" if kind in ("coupling", "valve", "elbow", "tail") else kind
    names = [field.name for field in (*PLACE[fitting], *PART_KINDS[fitting].fields)]
    values = SCALARS | st.lists(st.sampled_from(VALUES), max_size=3) | st.lists(tables(0), max_size=3)
    return {"kind": kind, **draw(st.dictionaries(st.sampled_from(names), values, max_size=8))}


@st.composite
def pairs(draw: st.DrawFn) -> dict[str, object]:
    """A place with branches whose keys are mostly the right ones."""
    branch = st.dictionaries(st.sampled_from(["a", "b", "left.a", "installed"]), places() | SCALARS, max_size=3)
    keys = st.sampled_from(["left", "right", "parting", "meeting", "x"])
    return {"kind": "branches", **draw(st.dictionaries(keys, branch | tables(0) | SCALARS, max_size=4))}


@st.composite
def rig_trees(draw: st.DrawFn) -> dict[str, object]:
    """A rig with another loop, or with places taken out of its own, and other tables."""
    tree: dict[str, object] = dict(draw(st.sampled_from(TREES)))
    loop = dict(TREES[1]["loop"])
    for name in draw(st.lists(st.sampled_from(sorted(loop)), max_size=2)):
        loop.pop(name, None)
    names = st.sampled_from(["intake", "hose", "canister", "pump", "x", "outlet", "intakes", "treatment"])
    found = draw(st.dictionaries(names, places() | pairs()))
    tree["loop"] = {**loop, **found} if draw(st.booleans()) else found
    for name in draw(st.lists(st.sampled_from(["tank", "site", "feeding", "limits", "wish", "spares"]), max_size=3)):
        tree[name] = draw(tables(1) | st.lists(tables(1), max_size=2) | SCALARS)
    return tree


@settings(FUZZ, max_examples=150)
@given(tree=rig_trees() | tables(2))
def test_random_trees(tree: dict[str, object], shop: Catalog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # the tree goes in where a parsed file would come out, so that no text form limits what it holds
    monkeypatch.setattr("optimizer.files.toml_keys.read_toml", lambda _: tree)
    found = read_bytes(b"", tmp_path, shop)
    assert isinstance(found, Rig | InputError)


@settings(FUZZ, max_examples=150)
@given(data=st.binary(max_size=200) | st.text(max_size=200).map(lambda text: text.encode("utf-8", "surrogatepass")))
def test_random_bytes(data: bytes, tmp_path: Path, shop: Catalog) -> None:
    assert isinstance(read_bytes(data, tmp_path, shop), InputError)


@settings(FUZZ, max_examples=150)
@given(words=st.lists(st.sampled_from(" ".join(EXAMPLES).split()) | st.text(max_size=4), max_size=6))
def test_random_ends(words: list[str]) -> None:
    text = " ".join(words)
    face = attempt(lambda: parse_end(text))
    assert isinstance(face, Face | BadValue)
    if isinstance(face, Face):
        # an end that was understood once is understood the same way with other spaces and, unions apart, cases
        assert parse_end(f"  {text.replace(' ', '  ')} ") == face
        if not face.key:
            assert parse_end(text.upper()) == face
