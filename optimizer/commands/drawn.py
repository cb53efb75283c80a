"""What is asked of bands: how many bundles, which quantile, how many draws of which seed."""

from optimizer.commands.reader import Reader, whole
from optimizer.errors import BadValue, quoted

ONLY_DRAWN = ("candidates", "seed", "draws")
NOT_DRAWN = ("why", "alternatives", "order", "csv", "prove", "proof", "full", "show")
"""What goes with neither --bands nor --robust."""

MOST_CANDIDATES = 100
LARGEST_SEED = 2**32 - 1


def bands_wanted(reader: Reader) -> dict[str, int | str] | None:
    """What is asked for, by the names of `api.bands`; None when bands are not."""
    if not reader.given("bands") and reader.given("robust") is None:
        for name in ONLY_DRAWN:
            if reader.given(name) is not None:
                cure = "Add --bands, or leave it out."
                reader.wrong(f"--{name}", "is of use with --bands or --robust only.", cure)
        return None
    reader.apart("bands" if reader.given("bands") else "robust", NOT_DRAWN)
    found: dict[str, int | str | None] = {
        "robust": reader.value("robust", _quantile),
        "candidates": reader.value("candidates", whole(1, MOST_CANDIDATES, "20")),
        "seed": reader.value("seed", whole(0, LARGEST_SEED, "1")),
        "draws": reader.value("draws", _draws),
    }
    return {name: value for name, value in found.items() if value is not None}


def _quantile(text: str) -> str:
    from optimizer.bands.robust import LEAST_PERCENT, MOST_PERCENT, quantile_of

    try:
        return f"P{quantile_of(text)}"
    except ValueError:
        what = f"{quoted(text)} is no quantile from P{LEAST_PERCENT} to P{MOST_PERCENT}."
        raise BadValue(what, 'Write for example "P10".') from None


def _draws(text: str) -> int:
    from optimizer.bands.draws import MOST_DRAWS

    return whole(2, MOST_DRAWS, "10000")(text)
