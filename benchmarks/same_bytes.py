"""Whether the commands still print the same bytes as at another commit: for rebuilds that must not change any answer.

    python -m benchmarks.same_bytes HEAD~3                       every quick question
    python -m benchmarks.same_bytes HEAD~3 nano_60 best          those with all of these words in their name
    python -m benchmarks.same_bytes HEAD~3 --all share           slow ones too (branches, bands, households, kits)
    python -m benchmarks.same_bytes --list --all                 names only

Both trees answer from one copy of this tree's demo files. Status, output and errors are compared, and every file that was
written. Exit status 1 when anything differs.
"""

from __future__ import annotations

import argparse
import difflib
import io
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "parts_demo"
BRANCHED = ("ricefish_160", "stem_plants_200")
BUDGETS = ("40", "150")
COMMANDS = (
    "best cheapest front drill loop measure diagnose verify log ageing share kits compare report plot columns guide "
    "glossary demo new help stock"
)
SHOWN_LINES = 20
LONGEST_S = 900.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One question: its name, the arguments of the command, and whether it is left out without ``--all``."""

    name: str
    arguments: tuple[str, ...]
    slow: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What came of a question: status, output, errors, and the files that it wrote."""

    status: int
    texts: tuple[tuple[str, bytes], ...]


def cases() -> Iterator[Case]:
    """Every question, those about one rig after the other."""
    for path in sorted((DEMO / "rigs").glob("*.toml")):
        yield from _rig_cases(path.stem)
    yield from _other_cases()


def _rig_cases(stem: str) -> Iterator[Case]:
    rig, branched = f"parts_demo/rigs/{stem}.toml", stem in BRANCHED

    def case(what: str, *arguments: str, slow: bool = False) -> Case:
        return Case(name=f"{stem} {what}", arguments=(*arguments[:1], rig, *arguments[1:]), slow=slow or branched)

    little, much = BUDGETS
    yield case(f"best {little}", "best", "--budget", little)
    yield case(f"best {much} json", "best", "--budget", much, "--json")
    yield case(f"cheapest {much}", "cheapest", "--turnover", "4 per hour", "--budget", much)
    yield case("why", "best", "--budget", little, "--why", "PUMP-2400MA")
    for command in ("loop", "measure", "diagnose", "ageing"):
        yield case(f"{command} json", command, "--json")
        yield case(command, command, slow=True)
    yield case("drill", "drill", "--jet", "1 m/s")
    yield case("drill json", "drill", "--evenness", "90 %", "--new-bar", "--json", slow=True)
    yield case(f"best {little} json", "best", "--budget", little, "--json", slow=True)
    yield case(f"best {much}", "best", "--budget", much, slow=True)
    yield case(f"cheapest {little} json", "cheapest", "--turnover", "4 per hour", "--budget", little, "--json", slow=True)
    yield case("best us", "best", "--budget", little, "--units", "us", slow=True)
    yield case("best after", "best", "--budget", little, "--after", "written/after.toml", slow=True)
    yield case("best csv", "best", "--budget", little, "--csv", "written/bill.csv", "--xlsx", "written/bill.xlsx", slow=True)
    yield case("best report", "best", "--budget", little, "--report", "written/tank.html", slow=True)
    yield case("front json", "front", "--budget", little, "--json", slow=True)
    for budget in BUDGETS:
        yield case(f"front {budget}", "front", "--budget", budget, slow=stem != "nano_60")
        for extra in (("--prove",), ("--interval", "60 d"), ("--alternatives", "3"), ("--order",), ("--bands",)):
            yield case(f"best {budget} {' '.join(extra)}", "best", "--budget", budget, *extra, slow=True)


def _other_cases() -> Iterator[Case]:
    for word in ("", "--json"):
        ending = " json" if word else ""
        more = (word,) if word else ()
        rigs = tuple(f"parts_demo/rigs/{stem}.toml" for stem in ("nano_60", "planted_300"))
        before, after = (f"parts_demo/rigs/reading_corner_130{end}.toml" for end in ("", "_after"))
        log = "parts_demo/logs/reading_corner_130.log"
        yield Case(name=f"compare{ending}", arguments=("compare", *rigs, "--budget", "60", *more))
        yield Case(name=f"verify{ending}", arguments=("verify", before, after, *more))
        yield Case(name=f"log{ending}", arguments=("log", log, "--rig", before, *more))
        for path in sorted((DEMO / "households").glob("*.toml")):
            for budget in ("30", "60"):
                arguments = ("share", f"parts_demo/households/{path.name}", "--budget", budget, *more)
                yield Case(name=f"share {path.stem} {budget}{ending}", arguments=arguments, slow=True)
        for path in sorted((DEMO / "shops").glob("*.toml")):
            yield Case(name=f"kits {path.stem}{ending}", arguments=("kits", f"parts_demo/shops/{path.name}", *more), slow=True)
    yield Case(name="stock check", arguments=("stock", "check"))
    yield Case(name="columns household", arguments=("columns", "household"))
    yield Case(name="guide fills", arguments=("guide", "fills"))
    yield Case(name="guide fills markdown", arguments=("guide", "fills", "--markdown"))
    yield Case(name="help best, its own command", arguments=("help", "best"))
    yield Case(name="nothing", arguments=())
    for command in ("columns", "glossary"):
        yield Case(name=command, arguments=(command,))
        yield Case(name=f"{command} markdown", arguments=(command, "--markdown"))
    for command in COMMANDS.split():
        yield Case(name=f"help {command}", arguments=(command, "--help"))
    yield Case(name="guide", arguments=("guide",))
    yield Case(name="help", arguments=("--help",))
    yield Case(name="bad input", arguments=("best", "parts_demo/catalog/about.toml", "--budget", "12 cows"))


def answered(tree: Path, place: Path, arguments: Sequence[str]) -> Said:
    """What the command of a tree says, asked in a folder that holds the demo files."""
    written = place / "written"
    shutil.rmtree(written, ignore_errors=True)
    written.mkdir()
    environment = {**os.environ, "PYTHONPATH": str(tree), "COLUMNS": "100"}
    command = [sys.executable, "-m", "optimizer.cli", *arguments]
    done = subprocess.run(command, cwd=place, env=environment, capture_output=True, check=False, timeout=LONGEST_S)
    files = ((path.name, path.read_bytes()) for path in sorted(written.iterdir()))
    return Said(status=done.returncode, texts=(("output", done.stdout), ("errors", done.stderr), *files))


def differences(before: Said, after: Said) -> Iterator[str]:
    """Lines that tell what differs, none when nothing does."""
    if before.status != after.status:
        yield f"status {before.status}, now {after.status}"
    old, new = dict(before.texts), dict(after.texts)
    for name in sorted(old.keys() | new.keys()):
        one, other = old.get(name), new.get(name)
        if one == other:
            continue
        if one is None or other is None:
            yield f"{name}: {'only now' if one is None else 'no longer'} written"
            continue
        lines = [text.decode(errors="backslashreplace").splitlines() for text in (one, other)]
        found = list(difflib.unified_diff(*lines, "before", "now", lineterm="", n=0))
        yield f"{name}: {len(one)} bytes, now {len(other)}"
        yield from found[:SHOWN_LINES]
        if len(found) > SHOWN_LINES:
            yield f"... and {len(found) - SHOWN_LINES} lines more"


def compared(tree: Path, asked: Sequence[Case], place: Path) -> int:
    """Ask both trees everything, say what differs, and return how many questions are answered otherwise."""
    shutil.copytree(DEMO, place / "parts_demo")
    other = 0
    for number, case in enumerate(asked, 1):
        found = list(differences(*(answered(each, place, case.arguments) for each in (tree, ROOT))))
        other += bool(found)
        print(f"{number}/{len(asked)} {'DIFFERS' if found else 'same'}  {case.name}", flush=True)
        print("".join(f"    {line}\n" for line in found), end="", flush=True)
    print(f"{other} of {len(asked)} answers differ")
    return other


def main() -> int:
    """Compare the answers of a commit with those of this tree."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("commit", nargs="?", help="what to compare this tree with")
    parser.add_argument("words", nargs="*", help="only questions with all of these words in their name")
    parser.add_argument("--all", action="store_true", help="slow questions too")
    parser.add_argument("--list", action="store_true", help="list the questions and end")
    args = parser.parse_args()
    words = [*args.words, *([args.commit] if args.list and args.commit else [])]
    asked = [each for each in cases() if (args.all or not each.slow) and all(word in each.name for word in words)]
    if args.list:
        print("\n".join(each.name for each in asked))
        return 0
    if args.commit is None or not asked:
        parser.error("name a commit" if args.commit is None else "no question has all of these words in its name")
    with tempfile.TemporaryDirectory() as folder:
        tree, place = Path(folder) / "tree", Path(folder) / "place"
        place.mkdir()
        taken_out(args.commit, tree)
        return 1 if compared(tree, asked, place) else 0


def taken_out(commit: str, tree: Path) -> None:
    """Put the package as it is in a commit into a new folder."""
    packed = subprocess.run(["git", "archive", "--format=tar", commit, "optimizer"], cwd=ROOT, check=True, stdout=subprocess.PIPE)
    with tarfile.open(fileobj=io.BytesIO(packed.stdout)) as archive:
        archive.extractall(tree, filter="data")


if __name__ == "__main__":
    sys.exit(main())
