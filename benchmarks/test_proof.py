"""What a written and checked proof costs beside the plain answer, and beside the mixed-integer program for the same claims."""

from dataclasses import replace
from time import process_time
from typing import Any

import demo
import numpy as np
import pytest
from bundle_program import greatest_surplus, least_price

from benchmarks.clock import Times
from benchmarks.conftest import Report
from optimizer import api, check_proof
from optimizer.answers.certificates import Proved, claims
from optimizer.answers.question import Question, found_standing, solved
from optimizer.search.proof_file import FLOW, ProofFile

RIGS = ("community_180", "shrimp_and_fry_240", "rift_lake_450", "marine_75gal", "goldfish_basement")
BUDGET = 10_000


@pytest.mark.parametrize("name", RIGS)
def test_a_proof_against_the_answer_and_against_milp(benchmark: Any, report: Report, name: str) -> None:
    """Processor time: the question solved; its proof written and checked; the same claims by PuLP and HiGHS."""
    rig, catalog = demo.rig(name), demo.shop()
    start = process_time()
    api.advise(rig, catalog, budget=BUDGET)
    answered = process_time() - start
    limits = replace(rig.limits, budget=BUDGET)
    done = solved(Question(rig=rig, catalog=catalog, limits=limits))
    found = done.outcome.found
    assert found is not None
    bundle = Proved(says="best", seeker=done.seeker, found=found, stands=found_standing(rig, done.seeker, found))
    start = process_time()
    file = ProofFile(done.seeker)
    file.answer("best", found, claims(bundle))
    told = file.written()
    assert check_proof.checked(told)
    proved = process_time() - start
    start = process_time()
    for claim in told["answers"][0]["claims"]:
        allowed = np.array([loss is not None for stage in claim["loss"][1::2] for loss in stage])
        if claim["kind"] == "cheaper":
            least_price(done.seeker.problem, claim["flow"] / FLOW, allowed, throttled=claim["throttled"])
        else:
            greatest_surplus(done.seeker.problem, claim["flow"] / FLOW, float(claim["sum"]), allowed)
    programs = process_time() - start
    benchmark.pedantic(lambda: check_proof.checked(told), rounds=1)
    times = [Times((seconds,)) for seconds in (answered + proved, answered, programs, proved)]
    report(f"best --prove / best, {name}", times[0], times[1], "at most 2", f"{proved:.2f} s more")
    report(f"PuLP + HiGHS / written proof, {name}", times[2], times[3], "at least 1", f"{programs:.1f} s / {proved:.2f} s")
