"""Putting lots of questions about a shop's tanks, whoever answers them, and remembering how much work it was."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from optimizer.model.shop import Store
from optimizer.tanks.answer_forms import usable
from optimizer.tanks.fingerprint import fingerprint
from optimizer.tanks.pool import Answer, Hire, Payload, Results, Usable, in_this_process, solve_all
from optimizer.tanks.population import packed
from optimizer.tanks.solves import work

VERSION = 3
"""Rises when a question's answer changes its form or meaning, so that older results are not taken for answers."""

Told = Callable[[str, int, int], None]
"""Is told what is being solved, how many are done, and of how many."""


@dataclass(slots=True, kw_only=True)
class Asker:
    """Puts questions about one store. ``version`` names the program, which earlier results must come from; ``refused`` counts
    those that were no answers to their questions."""

    store: Store
    hire: Hire = in_this_process
    results: Results | None = None
    told: Told | None = None
    version: str = ""
    solves: int = field(init=False, default=0)
    unproved: int = field(init=False, default=0)
    refused: int = field(init=False, default=0)
    complete: bool = field(init=False, default=True)
    _usable: Usable = field(init=False)
    _shared: bytes = field(init=False)
    _basis: str = field(init=False)

    def __post_init__(self) -> None:
        self._shared = packed(self.store)
        self._usable = usable(self.store)
        self._basis = fingerprint(VERSION, self.version, self.store)

    def ask(self, what: str, questions: Iterable[Payload]) -> Mapping[str, Answer]:
        """Answers by the key of their question (see `key_of`). After Ctrl-C some are missing, and ``complete`` is False."""
        asked = {key_of(question): question for question in questions}
        told = self.told
        counted = None if told is None else lambda done, of: told(what, done, of)
        solved = solve_all(
            work, self._shared, asked, self.hire, basis=self._basis, results=self.results, usable=self._usable, counted=counted
        )
        self.refused += solved.refused
        self.solves += len(solved.answers)
        self.unproved += sum(not answer["proved"] for answer in solved.answers.values())
        self.complete = self.complete and solved.complete
        return solved.answers


def key_of(question: Payload) -> str:
    """The key of a question: its words in a fixed order.

    >>> key_of({"tank": "A", "ask": "clean"})
    'clean | A'
    """
    order = ("ask", "pieces", "tank", "budget", "most", "product")
    return " | ".join(str(question[name]) for name in order if name in question)
