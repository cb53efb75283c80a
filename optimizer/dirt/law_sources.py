"""The laws that can be chosen, by what they are about: which names there are, and who says so."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from optimizer.dirt.laws import USUAL, Laws

FIELDS: Mapping[str, str] = MappingProxyType(
    {"media": "clogging", "faces": "straining", "guard": "covering", "hoses": "film", "impeller": "fouling", "bacteria": "warmth"}
)
"""The field of `Laws` that says how each kind of thing gets dirty, and for bacteria what warmth does to them."""

GROWTH: Mapping[str, str] = MappingProxyType(
    {
        "saturating": "asymptotic fouling after Kern and Seaton (1959), from memory; time and bound are priors of the authors",
        "steady": "growth at one rate until the bound; prior of the authors",
        "lagging": "slow to start on a new wall; prior of the authors",
    }
)

SOURCES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "media": MappingProxyType(
            {
                "cubic": "permeability goes with (1 - s)^3, the power law of deep-bed filtration (Ives and others), from memory",
                "doubling": "the loss has doubled when the rated capacity is used up; Modelica Buildings library, air filters, "
                "after Li et al. (2022)",
                "proportional": "the loss grows in proportion to what is held; O'Melia and Ali (1978), from memory, its slope a "
                "prior of the authors",
                "kozeny": "Kozeny and Carman, for beds of 30 to 60 % voids; all others by the law cubic",
            }
        ),
        "faces": MappingProxyType(
            {
                "sieve": "what is coarser than the pores lies on the face as a cake, linear in mass and flow; Ruth (1935), "
                "Carman (1938), Tien (2006), from memory; sizes and permeability are priors of the authors",
                "none": "no cake: all that media catch lies in their depth; prior of the authors",
            }
        ),
        "guard": MappingProxyType(
            {
                "overlap": "debris comes to lie anywhere, on other debris too; prior of the authors",
                "side by side": "the water draws debris to what is still open; prior of the authors",
            }
        ),
        "hoses": GROWTH,
        "impeller": GROWTH,
        "bacteria": MappingProxyType(
            {
                "oxygen": "4 % per degC, Zhu and Chen, Aquacultural Engineering 26 (2002), from memory",
                "none": "in films short of oxygen 15 and 20 degC were not told apart (Aquacultural Engineering, 2005)",
            }
        ),
    }
)
"""Who says so, by what a law is about and its name."""


def named_laws(laws: Laws = USUAL) -> tuple[tuple[str, str, str], ...]:
    """What each law is about, its name and its source, in the order of `FIELDS`.

    >>> named_laws()[0][:2]
    ('media', 'cubic')
    """
    return tuple((about, getattr(laws, field), SOURCES[about][getattr(laws, field)]) for about, field in FIELDS.items())


def with_law(laws: Laws, about: str, name: str) -> Laws:
    """The same laws with another one for one kind of thing. Raises KeyError for an unknown kind, ValueError for an unknown law.

    >>> with_law(USUAL, "media", "doubling").clogging
    'doubling'
    """
    # mypy cannot follow a field by its name
    return replace(laws, **{FIELDS[about]: name})  # type: ignore[arg-type]
