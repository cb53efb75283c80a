"""A written proof: what the search finds is accepted, whatever is changed to make it say something false is refused.

The checker imports nothing of the program. What it says is held against full listings of small worlds, and against a
mixed-integer program at the flows of large ones.
"""

import ast
import contextlib
import copy
import json
import random
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import enumeration
import numpy as np
import pytest
from branched_worlds import branched_world
from bundle_program import greatest_surplus, least_price
from how_many import some_of
from small_worlds import aged_world, large_world

from optimizer import check_proof
from optimizer.answers.certificates import Proved, certificates, claims
from optimizer.answers.question import found_standing
from optimizer.check_proof import FORM, Proof, Refused, Shelf, checked, checksum
from optimizer.cli import main
from optimizer.loop.option_heads import Heads
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig
from optimizer.search import proof_file
from optimizer.search.best import RESOLUTION_M3S, Found, Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build
from optimizer.search.proof_file import FLOW, Asked, ProofFile, Untrue

WORLDS, CHUNK, LARGE = 120, 5, range(24)


def searched(world: tuple[Rig, Catalog], target_m3s: float = 0.0) -> Proved | None:
    """A world's best bundle, or the cheapest for a target; None where there is none."""
    rig, catalog = world
    seeker = Seeker(build(choices(rig, catalog, rig.limits)))
    outcome = seeker.least_price(target_m3s) if target_m3s else seeker.most_flow()
    assert outcome.status == "proved"
    if outcome.found is None:
        return None
    stands = found_standing(rig, seeker, outcome.found)
    return Proved(says="the bundle", seeker=seeker, found=outcome.found, stands=stands, target_m3s=target_m3s)


def written(bundle: Proved) -> Any:
    """The proof of a bundle, as it is read from its file."""
    file = ProofFile(bundle.seeker)
    file.answer(bundle.says, bundle.found, claims(bundle))
    return json.loads(json.dumps(file.written()))


def signed(told: Any) -> Any:
    """What somebody changed, with the checksum that belongs to it."""
    said = {key: value for key, value in told.items() if key != "sum"}
    return {**said, "sum": checksum(said)}


@pytest.mark.parametrize("chunk", some_of(range(WORLDS // CHUNK), 8))
def test_proofs_of_random_worlds_are_accepted(chunk: int) -> None:
    """Of the most flow and of the least price for four fifths of it, with packs, coils, kits, spares and short stock."""
    accepted = 0
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        most = searched(aged_world(seed))
        if most is not None:
            cheapest = searched(aged_world(seed), max(0.8 * most.found.flow_m3s, 1e-6))
            accepted += sum(len(checked(written(each))) > 0 for each in (most, cheapest) if each is not None)
    assert accepted > CHUNK


def test_proofs_of_branched_worlds_are_accepted() -> None:
    """Ways to fill branches are options of one stage, and their losses are those of the scalar division of the flow."""
    accepted = 0
    for seed in range(8):
        most = searched(branched_world(seed))
        if most is not None:
            checks = certificates("proved", [most])
            assert all(check.agrees for check in checks), (seed, checks)
            accepted += 1
    assert accepted >= 4


def test_proofs_are_accepted_where_tables_are_long(monkeypatch: pytest.MonkeyPatch) -> None:
    """With next to no rows allowed before it, each pump has a part of its own and products are barred."""
    monkeypatch.setattr(proof_file, "FEW_ROWS", 2)
    parts = []
    for seed in (1, 4, 5, 12):
        most = searched(large_world(seed, aged=True))
        assert most is not None
        told = written(most)
        assert checked(told)
        parts += [part for claim in told["answers"][0]["claims"] for case in claim["cases"] for part in case["parts"]]
    assert any(part["pumps"] is not None and part["tracked"] for part in parts)
    assert any(step["barred"] for part in parts for step in part["probed"])


@pytest.mark.parametrize("seed", some_of(LARGE, 4))
def test_a_mixed_integer_program_bears_out_every_claim_in_large_worlds(seed: int) -> None:
    """Worlds of up to a thousand million bundles: at the flow of a claim the program finds no head left, or nothing as cheap."""
    most = searched(large_world(seed, aged=True))
    if most is None:
        return
    told = written(most)
    assert checked(told)
    problem = most.seeker.problem
    for claim in told["answers"][0]["claims"]:
        allowed = np.array([loss is not None for stage in claim["loss"][1::2] for loss in stage])
        if claim["throttled"]:
            least = least_price(problem, claim["flow"] / FLOW, allowed, throttled=True).value
            assert least is None or least > claim["sum"] + 0.5
        else:
            surplus = greatest_surplus(problem, claim["flow"] / FLOW, float(claim["sum"]), allowed).value
            assert surplus is None or surplus <= 1e-6


def test_the_checker_pays_what_the_shop_asks() -> None:
    """Any pieces that a world's bundles may need cost the same by its own look at the shelves: packs, coils, kits, stock, by the
    metre."""
    compared = 0
    for seed in range(20):
        rig, catalog = aged_world(seed)
        seeker = Seeker(build(choices(rig, catalog, rig.limits)))
        if not seeker.exact.rounds.has_paths:
            continue
        shelf, specials = Shelf(ProofFile(seeker).told), seeker.problem.specials
        rng = random.Random(seed)
        for _ in range(40 if specials else 0):
            items = [rng.randrange(len(specials)) for _ in range(rng.randint(1, 7))]
            assert shelf.cover(items, 1e9) == seeker.problem.shop.special_price(tuple(sorted(specials[n] for n in items)))
            compared += 1
    assert compared > 400


# -- what is false ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def good() -> Any:
    """A proof with tables, tracked pieces and a bill."""
    for seed in LARGE:
        most = searched(large_world(seed, aged=True))
        told = None if most is None else written(most)
        parts = [] if told is None else [p for c in told["answers"][0]["claims"] for case in c["cases"] for p in case["parts"]]
        if parts and all(part["tables"] for part in parts[:1]) and parts[0]["tracked"] and told["answers"][0]["purchases"]:
            return told
    raise AssertionError("no large world has such a proof")


def the(told: Any) -> tuple[Any, Any, Any]:
    """The answer of a file, its first claim, and the first part of that."""
    answer = told["answers"][0]
    return answer, answer["claims"][0], answer["claims"][0]["cases"][0]["parts"][0]


def cheap_edge(told: Any) -> None:
    """Every edge that the bundle does not take becomes free: something else is now cheaper."""
    for stage, edge in zip(told["stages"], the(told)[0]["edges"], strict=True):
        stage["price"] = [price if n == edge else 0 for n, price in enumerate(stage["price"])]


def strong_pumps(told: Any) -> None:
    for loss in (claim["loss"] for claim in told["answers"][0]["claims"]):
        loss[told["pump"]] = [None if each is None else each - 10**12 for each in loss[told["pump"]]]


def dear_shares(told: Any) -> None:
    the(told)[2]["shares"] = [share * 2 + 1000 for share in the(told)[2]["shares"]]


def wild_multiplier(told: Any) -> None:
    the(told)[2]["multiplier"] = 2**50


def short_table(told: Any) -> None:
    """The best row of every table is left out."""
    part = the(told)[2]
    part["tables"] = [[column[1:] for column in table] for table in part["tables"]]


def low_table(told: Any) -> None:
    """Rows say that more was lost than was."""
    part = the(told)[2]
    part["tables"] = [[end, account, price, [each + 10**10 for each in loss]] for end, account, price, loss in part["tables"]]


def cheaper_bundle(told: Any) -> None:
    the(told)[0]["price"] -= 1


def unpaid(told: Any) -> None:
    the(told)[0]["purchases"].pop()


def other_bundle(told: Any) -> None:
    the(told)[0]["edges"] = [0 if n else edge for n, edge in enumerate(the(told)[0]["edges"])]


def more_flow(told: Any) -> None:
    the(told)[0]["flow"] *= 2
    the(told)[1]["flow"] *= 2


def more_money(told: Any) -> None:
    the(told)[1]["sum"] += 1


def lost_pump(told: Any) -> None:
    the(told)[2]["pumps"] = [1]


def unbarred(told: Any) -> None:
    part = the(told)[2]
    part["probed"] = [{"multiplier": part["multiplier"], "shares": part["shares"], "barred": list(range(len(told["products"])))}]


def half_tracked(told: Any) -> None:
    the(told)[2]["tracked"] = the(told)[2]["tracked"][:1]


def fraction(told: Any) -> None:
    the(told)[1]["loss"][1] = [None if each is None else each + 0.5 for each in the(told)[1]["loss"][1]]


def nothing_said(told: Any) -> None:
    the(told)[0]["claims"] = []


def no_parts(told: Any) -> None:
    the(told)[1]["cases"][0]["parts"] = []


LIES = {
    cheap_edge: "costs|leaves a way out|costs no more than the sum|charge more",
    strong_pumps: "leaves a way out|costs no more than the sum",
    dear_shares: "the shares charge more",
    wild_multiplier: "out of range",
    short_table: "leaves a way out",
    low_table: "leaves a way out",
    cheaper_bundle: "the bundle costs",
    unpaid: "the purchases do not serve",
    other_bundle: "the bundle is no way|the bundle costs|do not serve",
    more_flow: "no head left|that is another flow",
    more_money: "that is another sum",
    lost_pump: "a pump is left out",
    unbarred: "somebody may buy",
    half_tracked: "serves both tracked and other|costs no more than the sum|leaves a way out|that is not there",
    fraction: "not all numbers are whole",
    nothing_said: "not of the form",
    no_parts: "a pump is left out",
}


@pytest.mark.parametrize("lie", LIES, ids=lambda lie: lie.__name__)
def test_what_is_changed_is_refused_with_its_reason(good: Any, lie: Callable[[Any], None]) -> None:
    """A price, a loss, a share, a multiplier, a table, the bundle, its bill, its price, its flow: also with a checksum that
    fits."""
    told = copy.deepcopy(good)
    assert checked(told)
    lie(told)
    with pytest.raises(Refused, match="checksum differs"):
        checked(told)
    with pytest.raises(Refused, match=LIES[lie]):
        checked(signed(told))


def test_no_change_of_a_file_makes_a_false_claim_pass() -> None:
    """The claim is that less than the second best costs nothing: two hundred forged proofs of it, every one refused."""
    rng, tried = random.Random(7), 0
    for seed in (2, 3, 8, 11):
        most = searched(large_world(seed, aged=True))
        assert most is not None
        told = written(most)
        answer, claim, _ = the(told)
        # the same bundle again for one coin less: a second copy of the edge that is dearest
        dearest = max(range(len(answer["edges"])), key=lambda k: told["stages"][k]["price"][answer["edges"][k]])
        stage, edge = told["stages"][dearest], answer["edges"][dearest]
        if not stage["price"][edge]:
            continue
        for name in ("from", "to", "need"):
            stage[name].append(stage[name][edge])
        stage["price"].append(stage["price"][edge] - 1)
        for each in answer["claims"]:
            each["loss"][dearest].append(each["loss"][dearest][edge])
        for _ in range(50):
            forged = copy.deepcopy(told)
            for part in (part for each in forged["answers"][0]["claims"] for case in each["cases"] for part in case["parts"]):
                _forge(part, rng)
            with pytest.raises(Refused):
                checked(signed(forged))
            tried += 1
        assert claim["kind"] == "cheaper"
    assert tried >= 100


def _forge(part: Any, rng: random.Random) -> None:
    """Change at random what a part is free to say."""
    if rng.random() < 0.7:
        part["multiplier"] = int(part["multiplier"] * rng.choice([0, 0.5, 0.9, 1, 1.1, 2, 10]))
    if rng.random() < 0.7:
        part["shares"] = [int(share * rng.choice([0.0, 0.5, 1.0, 1.0, 1.05])) for share in part["shares"]]
    if rng.random() < 0.5:
        part["pumps"] = None
    for table in part["tables"]:
        if rng.random() < 0.5 and table[0]:
            n = rng.randrange(len(table[0]))
            for column in table:
                column.pop(n)
        if rng.random() < 0.5:
            table[3] = [each + rng.randrange(-(10**9), 10**9) for each in table[3]]


@pytest.mark.parametrize("chunk", some_of(range(4), 2))
def test_nothing_is_written_of_a_bundle_that_is_not_the_best(chunk: int) -> None:
    """Of every world's listing, the best bundle of less money is said to be that of all the money: the claim is found to be
    untrue."""
    found = 0
    for seed in range(chunk * 10, chunk * 10 + 10):
        rig, catalog = aged_world(seed)
        menu = choices(rig, catalog, rig.limits)
        most = searched((rig, catalog))
        if most is None or most.found.bundle.price == 0:
            continue
        poorer = Seeker(most.seeker.problem).with_budget(most.found.bundle.price - 1).most_flow()
        best = enumeration.most_flow(enumeration.every_bundle(menu), menu, RESOLUTION_M3S)
        if poorer.found is None or best is None or poorer.found.flow_m3s > best.flow_m3s - 2 * RESOLUTION_M3S:
            continue
        above = Asked(
            kind="more",
            flow_m3s=poorer.found.flow_m3s + RESOLUTION_M3S,
            most=most.seeker.budget,
            allowed=most.seeker.all,
        )
        with pytest.raises(Untrue, match="not so: no bundle for"):
            ProofFile(most.seeker).answer("poorer", poorer.found, [_cheaper(poorer.found, most.seeker), above])
        found += 1
    assert found >= 2


def _cheaper(found: Found, seeker: Seeker) -> Asked:
    """That nothing costs less than nothing, which holds of every bundle."""
    return Asked(kind="cheaper", flow_m3s=found.flow_m3s * (1 - 1e-9), most=-1, allowed=seeker.all)


# -- by itself -------------------------------------------------------------------------------------------------------


def test_the_checker_stands_alone(good: Any, tmp_path: Path) -> None:
    """Its one file, copied elsewhere, needs the standard library and numpy only, and says what is proved or why not."""
    source = Path(check_proof.__file__)
    tree = ast.parse(source.read_text(encoding="utf-8"))
    modules = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    modules |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {name.split(".")[0] for name in modules} <= set(sys.stdlib_module_names) | {"numpy"}
    alone, proof = tmp_path / "again.py", tmp_path / "proof.json"
    shutil.copy(source, alone)
    proof.write_text(json.dumps(good), encoding="utf-8")
    run = subprocess.run([sys.executable, alone, proof], capture_output=True, text=True, cwd=tmp_path, check=False)
    assert (run.returncode, run.stderr) == (0, "")
    assert run.stdout.splitlines() == [f"Proved: {each}." for each in checked(good)]
    proof.write_text(json.dumps({**good, "budget": 10**7}), encoding="utf-8")
    run = subprocess.run([sys.executable, alone, proof], capture_output=True, text=True, cwd=tmp_path, check=False)
    assert (run.returncode, run.stdout) == (1, "")
    assert run.stderr == "Refused: the file is not as it was written: its checksum differs.\n"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "cannot be read"),
        ("{", "cannot be read"),
        ("[]", "not of the form"),
        ("{}", f"this is no {FORM}"),
        ("[" * 10000, "cannot be read"),
    ],
)
def test_what_is_no_proof_is_refused(text: str, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No file, no JSON, another form: one line that says so."""
    place = tmp_path / "proof.json"
    place.write_text(text, encoding="utf-8")
    assert check_proof.main([str(place)]) == 1
    said = capsys.readouterr().err
    assert told in said
    assert said.count("\n") == 1


def test_a_broken_file_never_ends_in_a_traceback(good: Any) -> None:
    """Whatever is taken out or replaced, at any depth: refused, or still a proof."""
    rng = random.Random(3)
    for _ in range(60):
        told = copy.deepcopy(good)
        at: Any = told
        for _ in range(rng.randint(1, 6)):
            keys = list(at) if isinstance(at, dict) else list(range(len(at))) if isinstance(at, list) else []
            if not keys:
                break
            key, above = rng.choice(keys), at
            at = at[key]
        above[key] = rng.choice([None, "x", -1, 10**30, [], {}])
        with contextlib.suppress(Refused):
            checked(signed(told))
    assert Proof(good).check()


NANO = ["best", "parts_demo/rigs/nano_60.toml", "--budget", "20", "--quiet"]


def test_the_command_keeps_the_proof_of_the_most_and_of_the_step(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One file with both bundles, the same bytes each time, that the checker takes; the answer says that it was checked."""
    first, second = tmp_path / "one.json", tmp_path / "two.json"
    assert main([*NANO, "--proof", str(first), "--json"]) == 0
    checks = json.loads(capsys.readouterr().out)["proof"]["certificates"]
    assert [check["agrees"] for check in checks] == [True] * 4
    assert main([*NANO, "--proof", str(second)]) == 0
    capsys.readouterr()
    assert first.read_bytes() == second.read_bytes()
    told = json.loads(first.read_text(encoding="utf-8"))
    assert [answer["says"] for answer in told["answers"]] == ["the most for the money", "the step that is advised"]
    assert check_proof.main([str(first)]) == 0
    assert "no bundle for 2000 of the smallest coin or less has head left" in capsys.readouterr().out


def test_where_there_is_no_proof_no_file_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing delivers so much: the answer says so, and that there is no proof to keep."""
    place = tmp_path / "proof.json"
    asked = ["cheapest", NANO[1], "--flow", "5000 l/h", "--quiet", "--proof", str(place)]
    assert main(asked) == 2
    assert "No proof is written to" in capsys.readouterr().err
    assert not place.exists()
    assert main([*NANO, "--proof", str(place), "--interval", "60 d"]) == 1
    assert "does not go together with --proof" in capsys.readouterr().err


def test_a_loss_that_is_not_that_of_the_parts_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """The file knows nothing of the rig: the scalar functions are asked for every option once more."""
    most = searched(large_world(1, aged=True))
    assert most is not None
    route = certificates("proved", [most])
    assert [check.agrees for check in route] == [True, True, True]
    heads = Heads.at
    monkeypatch.setattr(Heads, "at", lambda self, flow: heads(self, flow) + 1e-6)
    assert [check.agrees for check in certificates("proved", [most])][1] is False
