"""What an answer of the search has otherwise than a full listing."""

import enumeration

from optimizer.search.best import RESOLUTION_M3S, Found, Outcome, Seeker


def differences(outcome: Outcome, expected: enumeration.Best | None, noise_dba: float) -> list[str]:
    """What an answer has otherwise than the listing: nothing, if the search is right."""
    if outcome.status != "proved":
        return [f"search {outcome.status}"]
    if (outcome.found is None) != (expected is None):
        return [f"search found {outcome.found is not None}, listing {expected}"]
    if outcome.found is None or expected is None:
        return []
    wrong = []
    if outcome.found.bundle.price != expected.price:
        wrong.append(f"price {outcome.found.bundle.price} against {expected.price}")
    if abs(outcome.found.flow_m3s - expected.flow_m3s) > RESOLUTION_M3S * (1 + 1e-6):
        wrong.append(f"flow {outcome.found.flow_m3s} against {expected.flow_m3s}")
    if abs(noise_dba - expected.noise_dba) > 1e-9:
        wrong.append(f"noise {noise_dba} against {expected.noise_dba}")
    return wrong


def noise_of(seeker: Seeker, found: Found | None) -> float:
    """Noise of the pump in an answer."""
    if found is None:
        return 0.0
    return seeker.options_of(found.bundle)[seeker.problem.pump].noise_dba


def cheaper_than_listed(outcome: Outcome, expected: enumeration.Best | None, target: float, noise_dba: float) -> list[str]:
    """The same comparison, but any flow from the target up will do."""
    if outcome.found is not None and expected is not None:
        if outcome.found.flow_m3s < target * (1 - 1e-9):
            return [f"flow {outcome.found.flow_m3s} below {target}"]
        expected = enumeration.Best(expected.price, outcome.found.flow_m3s, expected.noise_dba)
    return differences(outcome, expected, noise_dba)
