"""The way of the water as a drawing needs it: place by place, what stands there now and then, and the head it takes (SI)."""

from dataclasses import dataclass

FORK = "branches"
"""The kind of a place with two ways side by side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """What the water finds at one place: the ``part`` (empty: nothing is there), the flow that passes it, the head that it takes
    (a pump: that it gives), the narrowest bore (0: unknown), and the head and narrowest bore of the joint in front of it."""

    part: str = ""
    flow_m3s: float = 0.0
    head_m: float = 0.0
    bore_m: float = 0.0
    joint_m: float = 0.0
    joint_bore_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RoutePlace:
    """One place of the loop, ``now`` and ``then``. ``kind`` is that of its part, ``branches`` for a place with two ways side by
    side, whose parts follow one branch after the other, or ``tee``.

    ``fork`` and ``branch`` are the place and the branch that a part is in (empty: all the water passes it; a tee: no branch).
    Joints inside branches count with the ``branches``. ``changes`` are what is done there: clean, adjust, swap, remove or add;
    in a canister to any of its trays (empty: it is left as it is).
    """

    place: str
    kind: str
    now: Spent
    then: Spent
    changes: tuple[str, ...] = ()
    fork: str = ""
    branch: str = ""
