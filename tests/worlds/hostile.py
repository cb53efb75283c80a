"""Hostile input: files of every kind, changed at random, given to the command itself in this process.

A case is made from a seed and its number alone, so that a failure can be run again. What is changed: a rig, a catalog file, a
household, a shop, kept results, a log, a saved answer, the answers to `new`, the words of the command line.
"""

from __future__ import annotations

import contextlib
import io
import json
import re
import shutil
import signal
import sys
import traceback
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from types import FrameType

from optimizer.cli import main
from optimizer.errors import InputError
from optimizer.line_file import entry_of, line_of

DATA = Path(__file__).parents[1] / "data" / "small"
CPU_SECONDS, SECONDS = 20.0, 200.0
"""A case that works or waits for longer is a failure: what is asked is small, or refused."""

FILL = """
[[fill]]
volume = "10 l"
seconds = [61.2, "1 min 0.8 s"]
below_water = "40 cm"
state = "guard off"
date = 2026-03-01
"""
HOUSE = """name = "Two tanks"
budget = "12.50"
power = "80 W"
[[room]]
name = "study"
noise = "40 dB(A)"
[[tank]]
name = "desk"
room = "study"
listening_distance = "2 m"
flow = "500 l/h"
[[tank.filter]]
name = "left"
rig = "hall.toml"
[[tank.filter]]
name = "right"
rig = "hall.toml"
installed = false
price = "40"
[[tank]]
name = "hall"
rig = "pair.toml"
turnover = "2 per hour"
"""
SHOP = """name = "Corner shop"
kits = 1
alternatives = 1
least_gain = "3 %"
shelf_prices = ["15"]
budgets = []
[[stock]]
product = "HOSE-16-22"
count = 20
[[stock]]
product = "TEE-16"
[[stock]]
product = "CPL-19"
count = 3
[canisters]
"medium" = {rig = "hall.toml"}
[kinds.calm]
turnover_max = "7 per hour"
[[band]]
name = "tanks of 450 l"
weight = 30
canisters = ["medium"]
volumes = ["450 l"]
hoses = ["16/22 mm"]
kinds = ["calm"]
"""
LIST = """Corner shop,,,
code,what,price,stock
H1,"hose 16/22, per metre",3.10,40
H2,hose 5/8 in inside coil 25 m,31.00,4
T1,hose tail 16 mm x G 1/2 male,2.10,5
T2,hose tail 19 mm x 3/4 BSPM,2.60,-1
T3,hose tail 19 mm x 3/4 thread,2.60,2
C1,clamps 16-27 pack of 10,7.50,50
W1,washer G 1/2,0.30,lots
P1,"pump 1200 l/h 1.8 m 17 W, 16 mm tail",60.00,2
G1,strainer 16 mm slots 2 mm,5.00,9
B1,spray bar 16 mm 20 holes 3 mm,8.50,3
F1,foam 20 ppi 50x50x5 cm,12.50,1
,Total,,116
"""
ANSWERS = (
    "Corner tank", "240 l", "fresh", "sponge 30 ppi", "16/22 mm", "1.6 m, 2 bends", "eheim", "foam, rings, floss", "0.9 m",
    "1200 l/h, 1.8 m, 20 W", "34 dB(A)", "none", "bar 16 x 3.5 mm", "2 cm above", "60 d", "shrimp", "5 g/day", "6 per hour",
    "100", "38 dB(A)", "", "unknown", "?",
)  # fmt: skip
NUMBERS = (
    "nan", "inf", "-inf", "1e308", "1e-300", "-1", "0", "-0.0", "1e9", "999999999", "1" * 400, "1e99", "0.000001", "1e-6",
    "1,000",
    "1.000", "12.500", "3,5", "0,001", "1e6", "100000", "0.5", "1/0", "1 1/2", "٣", "1_0", "0x10", "", "1e400", "2000000000",
)  # fmt: skip
TEXTS = (
    "", " ", "a" * 300, "x\u202ey", "\x1b[31m", "é" * 70, "=1+1", "../..", "/dev/null", ".", "null", "~", "\ud800", "a\nb",
    "-", "--",
    "0 mm", "1e-6 mm", "9 km", "-1 l", "100 %", "0 l/h", "1e9 l/h", "tail 1 mm", "hose 400 mm", "union K male", "open",
    "G 4 in male",
    "sponge", "bar", "nozzle", "foam", "rings", "fibre", "granules", "FOAM-20", "HOSE-16-22", "PUMP-1200", "CPL-16", "yes", "no",
)  # fmt: skip
TOML = (
    "nan", "inf", "-inf", "1e308", "-1", "0", "1e-300", "true", "false", "[]", "{}", "[[]]", "[{}]", '[""]', "2026-03-01",
    "9999-12-31", "0001-01-01", "12:00:00", "1979-05-27T07:32:00Z", "[1, 2]", '["a", 1]', '{a = 1}', "1" * 300, '""', '"\\u0000"',
    "[nan]", "[inf, -1]", '[{part = "FOAM-20"}]', "1_000", "0x7fffffffffffffff", "'''a\nb'''",
)  # fmt: skip
JSON: tuple[object, ...] = (
    None, True, False, 0, -1, 1e308, -1e308, 1e-300, 10**400, "", "x" * 300, [], {}, [[]], [None], {"": None}, "2026-03-01",
    "9999-12-31", "0001-01-01", "nan", 1e12, 0.5, -0.5, 3, [1.0, "a"], "\u202e", "everything",
)  # fmt: skip
BYTES = (
    b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b'"', b"'", b"\n", b"\r", b",", b";", b"=", b"[", b"]", b"{", b"}", b"#",
    b"\xe2\x80\xae",
    b"\xc2\xbd", b"\\", b"e", b"-", b".", b"9", b"[[spares]]\n", b"[loop.x]\n", b"[tank]\n", b"\xed\xa0\x80",
)  # fmt: skip
_NUMBER = re.compile(r"(?<![A-Za-z0-9])[0-9]+(?:\.[0-9]+)?")
_HEAD = re.compile(r"(?P<file>.+): (?P<count>[0-9]+) problems?, nothing was solved\.")


class TooLongError(BaseException):
    """The time of a case is up. No `Exception`, so that nothing in the program takes it for one of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What is run: the words of the command, the file that is changed and what it holds, and the lines typed in."""

    kind: str
    argv: tuple[str, ...]
    file: str = ""
    content: bytes = b""
    typed: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """How a case went: its exit status, what was printed, the lists of problems, and what is wrong with it (empty: nothing)."""

    status: int | None
    out: str
    err: str
    told: tuple[InputError, ...]
    wrong: str = ""


@dataclass(slots=True, kw_only=True)
class World:
    """Small files of every kind in a folder, with what they hold."""

    folder: Path
    files: dict[str, bytes] = field(default_factory=dict)

    def keep(self) -> None:
        """Take note of all that stands in the folder."""
        self.files = {str(path.relative_to(self.folder)): path.read_bytes() for path in _all_files(self.folder)}

    def restore(self) -> str:
        """Put everything back as it was; what was changed, made or lost, in words."""
        now = {str(path.relative_to(self.folder)): path.read_bytes() for path in _all_files(self.folder)}
        told = [f"{name} is new" for name in now if name not in self.files]
        told += [f"{name} was changed" for name, content in self.files.items() if now.get(name) != content]
        for name in now:
            if name not in self.files:
                (self.folder / name).unlink()
        for name, content in self.files.items():
            if now.get(name) != content:
                (self.folder / name).write_bytes(content)
        return ", ".join(told)


def _all_files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


def world(folder: Path) -> World:
    """The files of all kinds, those that the program writes written by it."""
    shutil.copytree(DATA / "catalog", folder / "catalog")
    hall = (DATA / "hall_tank.toml").read_text(encoding="utf-8")
    texts = {"hall.toml": hall, "pair.toml": (DATA / "two_intakes.toml").read_text(encoding="utf-8")}
    texts |= {"before.toml": hall + FILL, "after.toml": hall.replace("40 %", "5 %") + FILL.replace("61.2", "55.2")}
    texts |= {"house.toml": HOUSE, "shop.toml": SHOP, "list.csv": LIST}
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    for name, words in SAVED.items():
        (folder / name).write_text(_run(folder, (*words, "--json"), b"").out, encoding="utf-8")
    for words in LOGGED:
        _run(folder, ("log", "tank.log", *words), b"")
    _run(folder, ("stock", "import", "list.csv", "--into", "bought", "--yes"), b"")
    shutil.rmtree(folder / "bought")
    _run(folder, ("kits", "shop.toml", "--catalog", "catalog", "--results", "kept.results"), b"")
    (folder / "page.html").unlink(missing_ok=True)
    made = World(folder=folder)
    made.keep()
    for name in (*SAVED, "tank.log", "kept.results"):
        assert len(made.files[name]) > 100, name
    return made


SHELF = ("--catalog", "catalog")
SAVED = {
    "best.json": ("best", "hall.toml", *SHELF),
    "front.json": ("front", "hall.toml", *SHELF, "--budget", "20"),
    "order.json": ("best", "hall.toml", *SHELF, "--order"),
    "bands.json": ("best", "hall.toml", *SHELF, "--bands", "--draws", "50"),
    "all.json": ("best", "hall.toml", *SHELF, "--report", "page.html"),
    "kits.json": ("kits", "shop.toml", *SHELF),
    "share.json": ("share", "house.toml", *SHELF),
}
LOGGED = (
    ("--volume", "10 l", "--seconds", "61,60.5", "--date", "2026-03-01"),
    ("--cleaned", "everything", "--date", "2026-03-07"),
    ("--volume", "10 l", "--seconds", "51,50.5", "--date", "2026-03-08"),
    ("--volume", "10 l", "--seconds", "54,54.5", "--date", "2026-03-20"),
    ("--changed", "another bar", "--date", "2026-03-21"),
    ("--watts", "18", "--date", "2026-03-22"),
    ("--volume", "10 l", "--seconds", "58,58.5", "--date", "2026-04-02"),
)
RIG_RUNS = (
    *(("best", "{}", *SHELF, "--budget", "0"),) * 12,
    ("best", "{}", *SHELF, "--budget", "6", "--json"),
    ("best", "{}", *SHELF, "--budget", "0", "--order"),
    ("best", "{}", *SHELF, "--budget", "0", "--alternatives", "2"),
    ("best", "{}", *SHELF, "--budget", "0", "--bands", "--draws", "20"),
    ("best", "{}", *SHELF, "--budget", "0", "--interval", "30 d"),
    ("best", "{}", *SHELF, "--budget", "0", "--why", "CPL-19"),
    ("cheapest", "{}", *SHELF, "--budget", "6"),
    ("front", "{}", *SHELF, "--budget", "5", "--quiet"),
    ("drill", "{}", *SHELF, "--jet", "1 m/s"),
    ("loop", "{}", *SHELF),
    ("measure", "{}", *SHELF),
    ("measure", "{}", *SHELF, "--volume", "10 l", "--seconds", "61"),
    ("diagnose", "{}", *SHELF, "--today", "--volume", "10 l", "--seconds", "61"),
    ("verify", "before.toml", "{}", *SHELF),
    ("ageing", "{}", *SHELF),
    ("compare", "{}", "hall.toml", *SHELF),
    ("log", "tank.log", "--rig", "{}", *SHELF),
    ("share", "house.toml", *SHELF),
    ("kits", "shop.toml", *SHELF),
)
CATALOG_RUNS = (
    *(("best", "hall.toml", *SHELF, "--budget", "0"),) * 8,
    ("best", "pair.toml", *SHELF, "--budget", "0"),
    ("best", "hall.toml", *SHELF, "--budget", "8"),
    ("front", "hall.toml", *SHELF, "--budget", "4", "--quiet"),
    ("best", "hall.toml", *SHELF, "--budget", "0", "--alternatives", "2"),
    ("share", "house.toml", *SHELF),
    ("kits", "shop.toml", *SHELF),
    ("new", "made.toml", *SHELF),
    *(("stock", "check", "catalog", "--full"),) * 3,
)
SHEET_RUNS = (
    *(("stock", "import", "list.csv", "--into", "catalog"),) * 3,
    ("stock", "import", "list.csv", "--into", "bought", "--json"),
    ("stock", "import", "list.csv", "--into", "catalog", "--full", "--answer", "thread=G"),
    ("stock", "import", "list.csv", "--into", "bought", "--yes"),
    ("stock", "import", "list.csv", "--into", "catalog", "--yes", "--answer", "thread=G"),
)
LOG_RUNS = (
    *(("log", "tank.log"),) * 6,
    *(("log", "tank.log", "--flow", "500 l/h", "--json"),) * 3,
    *(("best", "hall.toml", *SHELF, "--budget", "0", "--log", "tank.log"),) * 3,
    ("log", "tank.log", "--rig", "hall.toml", *SHELF),
    ("diagnose", "hall.toml", *SHELF, "--today", "--log", "tank.log"),
)
REFERENCE = (("columns",), ("columns", "pumps"), ("glossary", "head"), ("guide", "fills"), ("help", "best"))
WORDS = (
    "best", "cheapest", "front", "drill", "loop", "measure", "diagnose", "verify", "log", "ageing", "new", "glossary", "report",
    "plot", "compare", "share", "kits", "columns", "guide", "help", "demo", "stock", "check", "import",
    "--port", "70000", "--stay",
    "list.csv", "--into", "--yes", "--mapping", "--answer", "thread=G",
    "hall.toml", "pair.toml", "before.toml", "house.toml", "shop.toml", "tank.log",
    "best.json",
    "front.json", "catalog", "no_such.toml", ".", "--budget", "0", "--flow", "500 l/h", "--turnover", "4 per hour", "--json",
    "--quiet",
    "--why", "CPL-19", "--alternatives", "2", "--order", "--bands", "--draws", "--robust", "--candidates", "--seed", "--interval",
    "30 d", "--mean", "--log", "--rig", "--catalog", "--volume", "10 l", "--seconds", "61", "--mark", "--above", "3 cm",
    "--below", "--signs", "rattle, bubbles",
    "--state", "--date", "2026-03-01", "--watts", "18", "--cleaned", "everything", "--changed", "--today", "--jet", "1 m/s",
    "--jet-most",
    "--evenness", "90 %", "--drills", "--new-bar", "--units", "us", "--out", "--figures", "--format", "svg", "--by", "--kits",
    "--objective", "--unmeasured", "--force", "--markdown", "--days", "--workers", "--scheduler", "--version",
)  # fmt: skip


# -- changes -------------------------------------------------------------------------------------------------------


def changed(random: Random, name: str, content: bytes) -> bytes:
    """The content of a file after one to three changes."""
    for _ in range(random.choice((1, 1, 1, 2, 2, 3))):
        kinds = [*_ANY, *_BY_ENDING.get(Path(name).suffix, ()) * 3]
        content = random.choice(kinds)(random, content)
    return content


def _flip(random: Random, data: bytes) -> bytes:
    at = random.randrange(max(1, len(data)))
    return data[:at] + bytes([random.randrange(256)]) + data[at + 1 :]


def _insert(random: Random, data: bytes) -> bytes:
    at = random.choice((0, random.randrange(len(data) + 1), len(data)))
    return data[:at] + random.choice(BYTES) + data[at:]


def _cut(random: Random, data: bytes) -> bytes:
    at = random.randrange(len(data) + 1)
    return random.choice((data[:at], data[:at] + data[at + random.randrange(40) :]))


def _lines(random: Random, data: bytes) -> bytes:
    """A line deleted, written twice, or swapped with another."""
    lines = data.split(b"\n")
    one, other = random.randrange(len(lines)), random.randrange(len(lines))
    what = random.randrange(3)
    if what == 0:
        del lines[one]
    elif what == 1:
        lines.insert(other, lines[one])
    else:
        lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def _ends(random: Random, data: bytes) -> bytes:
    return random.choice((data.replace(b"\n", b"\r\n"), data.replace(b"\n", b"\r"), b"\xef\xbb\xbf" + data, b"\n" * 50 + data))


def _number(random: Random, data: bytes) -> bytes:
    """A number replaced by a hostile one or by another of the file, the unit behind it left."""
    text = data.decode("utf-8", "surrogateescape")
    found = list(_NUMBER.finditer(text))
    if not found:
        return data
    one = random.choice(found)
    new = random.choice(NUMBERS) if random.random() < 0.7 else random.choice(found)[0]
    return (text[: one.start()] + new + text[one.end() :]).encode("utf-8", "surrogateescape")


def _scaled(random: Random, data: bytes) -> bytes:
    """A number some powers of ten larger or smaller, as after a slip of the unit: mostly it can still be read."""
    text = data.decode("utf-8", "surrogateescape")
    found = list(_NUMBER.finditer(text))
    if not found:
        return data
    one = random.choice(found)
    new = f"{float(one[0]) * 10.0 ** random.choice((-4, -3, -2, -1, 1, 2, 3, 4)):.7g}"
    return (text[: one.start()] + new + text[one.end() :]).encode("utf-8", "surrogateescape")


def _toml_value(random: Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    keyed = [n for n, line in enumerate(lines) if b" = " in line]
    if not keyed:
        return data
    at = random.choice(keyed)
    key, _, value = lines[at].partition(b" = ")
    what = random.randrange(4)
    if what == 0:
        value = random.choice(TOML).encode("utf-8", "surrogatepass")
    elif what == 1:
        value = json.dumps(random.choice(TEXTS), ensure_ascii=False).encode("utf-8", "surrogatepass")
    elif what == 2:
        value = lines[random.choice(keyed)].partition(b" = ")[2]
    else:
        key = lines[random.choice(keyed)].partition(b" = ")[0]
    lines[at] = key + b" = " + value
    return b"\n".join(lines)


def _toml_table(random: Random, data: bytes) -> bytes:
    """A table moved, named otherwise or written as a list."""
    text = data.decode("utf-8", "surrogateescape")
    parts = re.split(r"(?m)^(?=\[)", text)
    at = random.randrange(len(parts))
    what = random.randrange(4)
    if what == 0:
        parts.insert(random.randrange(len(parts) + 1), parts.pop(at))
    elif what == 1:
        parts[at] = re.sub(r"^\[+([\w.\" ]+)\]+", r"[[\1]]", parts[at])
    elif what == 2:
        parts[at] = re.sub(r"^\[+([\w.\" ]+)\]+", r"[\1.x]", parts[at])
    else:
        del parts[at]
    return "".join(parts).encode("utf-8", "surrogateescape")


def _cell(random: Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    rows = [n for n, line in enumerate(lines) if b"," in line]
    if not rows:
        return data
    at = random.choice(rows[1:] or rows)
    cells = lines[at].split(b",")
    other = lines[random.choice(rows)].split(b",")
    new = random.choice((random.choice(NUMBERS), random.choice(TEXTS))).encode("utf-8", "surrogatepass")
    cells[random.randrange(len(cells))] = random.choice((new, random.choice(other)))
    lines[at] = b",".join(cells)
    return b"\n".join(lines)


def _tree(random: Random, data: bytes) -> bytes:
    """A value somewhere in a JSON file replaced, or left out."""
    try:
        tree = json.loads(data)
    except ValueError:
        return data
    return json.dumps(_value_changed(random, tree), indent=2).encode("ascii")


def _value_changed(random: Random, tree: object) -> object:
    if isinstance(tree, dict) and tree and random.random() < 0.93:
        key = random.choice(sorted(tree))
        if random.random() < 0.05:
            return {name: value for name, value in tree.items() if name != key}
        return {**tree, key: _value_changed(random, tree[key])}
    if isinstance(tree, list) and tree and random.random() < 0.93:
        at = random.randrange(len(tree))
        if random.random() < 0.1:
            return tree[:at] + tree[at + 1 :] if random.random() < 0.5 else [*tree, tree[at]]
        return [*tree[:at], _value_changed(random, tree[at]), *tree[at + 1 :]]
    return random.choice(JSON)


def _summed(random: Random, data: bytes) -> bytes:
    """An entry of a log or of kept results changed, its checksum right again."""
    lines = data.split(b"\n")
    at = random.randrange(len(lines))
    entry = entry_of(lines[at])
    if entry is None:
        return data
    with contextlib.suppress(ValueError):
        lines[at] = line_of(_value_changed(random, entry)).rstrip(b"\n")
    return b"\n".join(lines)


Change = Callable[[Random, bytes], bytes]
_ANY: tuple[Change, ...] = (_flip, _insert, _cut, _lines, _lines, _ends, _number, _number, _number, _scaled, _scaled, _scaled)
_BY_ENDING: dict[str, tuple[Change, ...]] = {
    ".toml": (_toml_value, _toml_value, _toml_table),
    ".csv": (_cell, _cell),
    ".json": (_tree, _tree, _tree),
    ".log": (_summed, _summed, _summed),
    ".results": (_summed, _summed, _summed),
}


# -- cases ---------------------------------------------------------------------------------------------------------


def case(seed: int, number: int, files: dict[str, bytes]) -> Case:
    """Case `number` of a seed; `files` are those of the world."""
    random = Random(f"{seed}:{number}")
    kind = random.choice(tuple(KINDS))
    return KINDS[kind](random, kind, files)


def _of_file(random: Random, kind: str, files: dict[str, bytes], names: Sequence[str], runs: Sequence[tuple[str, ...]]) -> Case:
    name = random.choice(names)
    argv = tuple(name if word == "{}" else word for word in random.choice(runs))
    typed = _typed(random) if argv[0] == "new" else b""
    return Case(kind=kind, argv=argv, file=name, content=changed(random, name, files[name]), typed=typed)


def _rigs(random: Random, kind: str, files: dict[str, bytes]) -> Case:
    return _of_file(random, kind, files, ("hall.toml", "hall.toml", "pair.toml", "after.toml"), RIG_RUNS)


def _catalogs(random: Random, kind: str, files: dict[str, bytes]) -> Case:
    return _of_file(random, kind, files, [name for name in files if name.startswith("catalog")], CATALOG_RUNS)


def _sheets(random: Random, kind: str, files: dict[str, bytes]) -> Case:
    names = ("list.csv", "list.csv", "list.csv.mapping.toml")
    case = _of_file(random, kind, files, names, SHEET_RUNS)
    # the mapping is written anew where an import is confirmed
    argv = tuple(word for word in case.argv if word != "--yes" or case.file == "list.csv")
    return Case(kind=kind, argv=argv, file=case.file, content=case.content)


def _households(random: Random, kind: str, files: dict[str, bytes]) -> Case:
    return _of_file(random, kind, files, ("house.toml",), (("share", "{}", *SHELF), ("share", "{}", *SHELF, "--budget", "0")))


def _shops(random: Random, kind: str, files: dict[str, bytes]) -> Case:
    return _of_file(random, kind, files, ("shop.toml",), (("kits", "{}", *SHELF),))


def _results(random: Random, kind: str, files: dict[str, bytes]) -> Case:
    return _of_file(random, kind, files, ("kept.results",), (("kits", "shop.toml", *SHELF, "--results", "{}"),))


def _logs(random: Random, kind: str, files: dict[str, bytes]) -> Case:
    return _of_file(random, kind, files, ("tank.log",), LOG_RUNS)


def _saved(random: Random, kind: str, files: dict[str, bytes]) -> Case:
    runs = (("report", "{}", "--out", "made.html"),) * 4 + (("compare", "{}", "best.json", *SHELF),)
    return _of_file(random, kind, files, tuple(SAVED), runs)


def _new(random: Random, kind: str, files: dict[str, bytes]) -> Case:
    return Case(kind=kind, argv=("new", "made.toml", *SHELF), typed=_typed(random))


def _typed(random: Random) -> bytes:
    lines = []
    for _ in range(80):
        line = random.choice(("", "", random.choice(ANSWERS), random.choice(TEXTS))).replace("\n", " ")
        if random.random() < 0.3:
            line = _number(random, random.choice(ANSWERS).encode()).decode()
        lines.append(line)
    return "\n".join(lines).encode("utf-8", "surrogateescape" if "\ud800" not in "".join(lines) else "replace")


def _arguments(random: Random, kind: str, files: dict[str, bytes]) -> Case:
    base = list(random.choice((*RIG_RUNS, *LOG_RUNS, ("share", "house.toml", *SHELF), *REFERENCE)))
    words = ["hall.toml" if word == "{}" else word for word in base]
    for _ in range(random.choice((1, 1, 2, 3))):
        at = random.randrange(1, len(words) + 1)
        hostile = random.choice((*NUMBERS, *TEXTS))
        new = random.choice((random.choice(WORDS), hostile, random.choice(words).replace("0", random.choice(NUMBERS))))
        words[at : at + random.randrange(2)] = [new]
    return Case(kind=kind, argv=tuple(words), typed=_typed(random))


KINDS: dict[str, Callable[[Random, str, dict[str, bytes]], Case]] = {
    "rig": _rigs,
    "rig again": _rigs,
    "catalog": _catalogs,
    "sheet": _sheets,
    "household": _households,
    "shop": _shops,
    "results": _results,
    "log": _logs,
    "saved": _saved,
    "new": _new,
    "arguments": _arguments,
}


# -- running -------------------------------------------------------------------------------------------------------


def run(world: World, case: Case) -> Ran:
    """Run a case and say what of the contract it breaks; the files are put back as they were."""
    if case.file:
        (world.folder / case.file).write_bytes(case.content)
    ran = _run(world.folder, case.argv, case.typed)
    if case.file and not (case.argv[0] == "kits" and case.file == "kept.results"):
        now = (world.folder / case.file).read_bytes() if (world.folder / case.file).exists() else b""
        lost = "" if now == case.content else f"{case.file} was changed"
        (world.folder / case.file).write_bytes(world.files[case.file])
    else:
        lost = ""
    told = world.restore()
    wrong = ran.wrong or lost or _wrong_files(case, ran, told) or _wrong_words(case, ran, world)
    return Ran(status=ran.status, out=ran.out, err=ran.err, told=ran.told, wrong=wrong)


def _wrong_files(case: Case, ran: Ran, told: str) -> str:
    """What is wrong with the files that a run left: only what it was asked for may be new, and of a refusal nothing."""
    if case.kind == "arguments":
        return "" if ran.status == 0 else told if "is new" in told else ""
    allowed = {"made.toml is new", "made.html is new", "kept.results was changed"}
    spare = [each for each in told.split(", ") if each and each not in allowed]
    if "--yes" in case.argv and ran.status == 0:
        spare = [each for each in spare if not each.startswith(("bought/", "catalog/", "list.csv.mapping.toml "))]
    if spare:
        return f"left behind: {', '.join(spare)}"
    return "" if ran.status == 0 or "made" not in told else f"status {ran.status}, but {told}"


def _wrong_words(case: Case, ran: Ran, world: World) -> str:
    """What is wrong with what was said."""
    for text in (ran.out, ran.err):
        spoilt = next((c for c in text if not c.isprintable() and c != "\n"), "")
        if spoilt:
            return f"the character {spoilt!r} is printed"
    if ran.status not in (0, 1, 2, 3):
        return f"status {ran.status}"
    if ran.status == 1 and not ran.err.strip():
        return "status 1 without a word"
    known = {"command line", "catalog", "--results", *(Path(name).name for name in (*world.files, *case.argv))}
    for error in ran.told:
        if not error.problems:
            return "a list without a problem"
        for problem in error.problems:
            file = problem.file or error.source
            name = Path(file).name
            if name not in known and not name.startswith(("no_such", ".made")):
                return f"no file: {error.source!r}, {problem}"
            if not problem.place.strip() or not problem.what.strip() or not problem.cure.strip():
                return f"no place, nothing said or no cure: {problem}"
    return ""


def _run(folder: Path, argv: Sequence[str], typed: bytes) -> Ran:
    out, err, told = io.StringIO(), io.StringIO(), []
    with _recorded(told), _inside(folder), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), _typing(typed):
        status, wrong = _status(argv)
    return Ran(status=status, out=out.getvalue(), err=err.getvalue(), told=tuple(told), wrong=wrong)


def _status(argv: Sequence[str]) -> tuple[int | None, str]:
    try:
        with _within(CPU_SECONDS, SECONDS):
            return main(list(argv)), ""
    except SystemExit as end:
        return (end.code if isinstance(end.code, int) else 0), ""
    except TooLongError:
        return None, f"longer than {CPU_SECONDS:.0f} s\n{traceback.format_exc()}"
    except Exception:
        return None, traceback.format_exc()


@contextlib.contextmanager
def _recorded(told: list[InputError]) -> Iterator[None]:
    """Keep every list of problems that is put into words."""
    words = InputError.__str__

    def kept(error: InputError) -> str:
        told.append(error)
        return words(error)

    InputError.__str__ = kept  # type: ignore[method-assign]
    try:
        yield
    finally:
        InputError.__str__ = words  # type: ignore[method-assign]


@contextlib.contextmanager
def _inside(folder: Path) -> Iterator[None]:
    with contextlib.chdir(folder):
        yield


@contextlib.contextmanager
def _typing(typed: bytes) -> Iterator[None]:
    before = sys.stdin
    sys.stdin = io.TextIOWrapper(io.BytesIO(typed), encoding="utf-8")
    try:
        yield
    finally:
        sys.stdin = before


@contextlib.contextmanager
def _within(cpu_seconds: float, seconds: float) -> Iterator[None]:
    def stop(number: int, frame: FrameType | None) -> None:
        raise TooLongError

    timers = ((signal.SIGPROF, signal.ITIMER_PROF, cpu_seconds), (signal.SIGALRM, signal.ITIMER_REAL, seconds))
    before = [signal.signal(number, stop) for number, _, _ in timers]
    for _, timer, most in timers:
        signal.setitimer(timer, most)
    try:
        yield
    finally:
        for (number, timer, _), handler in zip(timers, before, strict=True):
            signal.setitimer(timer, 0.0)
            signal.signal(number, handler)


def fingerprint(wrong: str) -> str:
    """What a failure is about, the same for all of its kind: of a traceback its last place in the program and its error."""
    places = re.findall(r'File "[^"]*?(optimizer/[^"]+)", line ([0-9]+)', wrong)
    if not places:
        return wrong[:60]
    return f"{':'.join(places[-1])} {wrong.strip().splitlines()[-1][:80]}"
