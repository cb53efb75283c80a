"""Limits that are what the installed pump has: read from the file, kept by the search, said in words."""

from collections.abc import Callable
from pathlib import Path

import pytest

from optimizer import api
from optimizer.answers.words import limit_words
from optimizer.errors import InputError
from optimizer.model.rig import Rig

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"
SHOP = api.read_catalog(DEMO / "catalog")
LOUD = 'noise = "32 dB(A)"'

Limited = Callable[[str], Rig]


@pytest.fixture
def limited(tmp_path: Path) -> Limited:
    """Reads the small tank on the desk with other words for its noise."""

    def made(words: str) -> Rig:
        text = (DEMO / "rigs" / "nano_60.toml").read_text(encoding="utf-8")
        assert LOUD in text
        file = tmp_path / "nano.toml"
        file.write_text(text.replace(LOUD, words), encoding="utf-8")
        return api.read_rig(file, SHOP)

    return made


def test_as_now_is_what_the_installed_pump_has(limited: Limited) -> None:
    """The catalog has 30 dB(A) at 1 m and 6 W for the pump; 0.8 m away a point source has 20 lg(1 / 0.8) = 1.94 dB more."""
    rig = limited('noise = "as now"\npower = "As now"')
    assert rig.limits.power_w == rig.pump.power_w == 6.0
    assert rig.limits.noise_dba == pytest.approx(rig.pump.noise_dba + 1.938, abs=1e-3)
    assert limited('noise = "as now"').limits.power_w == float("inf")


def test_no_stronger_pump_is_bought_where_power_is_as_now(limited: Limited) -> None:
    """With money enough a stronger pump is the answer, and not where it must draw no more than the one that is there."""
    free, kept = limited(""), limited('power = "as now"')
    loose, tight = (api.best(rig, SHOP, budget=20_000) for rig in (free, kept))
    assert loose.best is not None and tight.best is not None
    assert loose.best.power_w > loose.now.power_w
    assert tight.best.power_w <= tight.now.power_w
    assert tight.best.flow_m3s < loose.best.flow_m3s
    quiet = api.best(limited('noise = "as now"'), SHOP, budget=20_000)
    assert quiet.best is not None and quiet.best.noise_dba <= quiet.now.noise_dba < loose.best.noise_dba


def test_a_limit_as_now_is_called_so(limited: Limited) -> None:
    """In a conflict and in what keeps a part out; a loosened one is not as now any more."""
    rig = limited('noise = "as now"\npower = "as now"')
    assert limit_words("power_w", rig.limits, rig) == "power at most 6 W, as now"
    assert limit_words("noise_dba", rig.limits, rig) == "noise at most 31.9 dB(A), as now"
    assert limit_words("noise_dba", rig.limits.with_values({"noise_dba": 35.0}), rig) == "noise at most 35.0 dB(A)"
    strong = next(part.id for part in SHOP.parts.values() if getattr(part, "power_w", 0.0) > 6.0 and "NA" in part.id)
    assert "as now" in api.why(rig, SHOP, f"pump={strong}")


def test_other_words_are_refused_with_what_to_write(limited: Limited) -> None:
    with pytest.raises(InputError, match=r'limits.noise: "as before" has no number. .* Or write "as now"'):
        limited('noise = "as before"')


def test_in_a_household_it_follows_the_listening_place(tmp_path: Path) -> None:
    """The household hears the tank from 4 m, where its pump is 20 lg(4 / 0.8) = 13.98 dB quieter than at 0.8 m."""
    text = (DEMO / "rigs" / "nano_60.toml").read_text(encoding="utf-8").replace(LOUD, 'noise = "as now"')
    (tmp_path / "nano.toml").write_text(text, encoding="utf-8")
    house = tmp_path / "house.toml"
    house.write_text('[[tank]]\nrig = "nano.toml"\nflow = "300 l/h"\nlistening_distance = "4 m"\n', encoding="utf-8")
    far = api.read_household(house, SHOP).tanks[0].rig
    near = api.read_rig(tmp_path / "nano.toml", SHOP)
    assert near.limits.noise_dba - far.limits.noise_dba == pytest.approx(13.979, abs=1e-3)
