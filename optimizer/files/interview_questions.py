"""What `fullbore new` asks a keeper, in its order."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import pairwise

from optimizer.errors import BadValue, quoted
from optimizer.files.cell_text import checked_text
from optimizer.files.field import Field
from optimizer.files.interview import Question, Said, Slot
from optimizer.files.interview_words import (
    HoleRow,
    read_animals,
    read_bends,
    read_days,
    read_device,
    read_guard,
    read_height,
    read_hose,
    read_medium,
    read_none,
    read_outlet,
    read_pump,
    read_several,
    read_water,
    read_wish,
    read_yes_no,
)
from optimizer.files.key_value import read_value
from optimizer.files.rig_places import MOST_TRAYS
from optimizer.files.toml_fields import LIMITS, SITE, TANK
from optimizer.model.catalog import Catalog
from optimizer.model.ends import HOSE_STRETCH_M
from optimizer.model.parts import Device, Pump
from optimizer.units import FLOW, HEAD, LENGTH, POWER, VOLUME, Dimension, parse, show

__all__ = ["PRACTICE", "pump_noise", "questions"]

PRACTICE = "common practice"
"""Behind all that is usual in the trade: common practice, no published source."""

MOST_DEVICES = 4
LABEL_TURNOVER_1H = 5.0
"""Label flow of a canister over the volume of the tank it is sold for: common practice, no published source."""

CLASSES: tuple[tuple[float, str, str, str, str], ...] = (
    (500.0, "1 m", "6 W", "9/12 mm", "30 dB(A)"),
    (800.0, "1.3 m", "9 W", "12/16 mm", "33 dB(A)"),
    (1500.0, "1.8 m", "17 W", "16/22 mm", "35 dB(A)"),
    (2700.0, "2.3 m", "30 W", "16/22 mm", "38 dB(A)"),
    (float("inf"), "3 m", "45 W", "25/34 mm", "44 dB(A)"),
)
"""Classes of canisters: label flow in l/h below which they end, greatest head, power, hose, sound level at 1 m (common practice,
no published source)."""

Facts = Mapping[str, Said]


def questions(catalog: Catalog, stem: str) -> tuple[Question, ...]:
    """Return the questions; ids of pumps, media and devices are looked up in ``catalog``, ``stem`` is the name of the file.

    >>> asked = questions(Catalog(parts={}, products=()), "hall")
    >>> asked[0].offered({}), asked[1].offered({})
    ('hall', '180 l, and 85 % of it')
    """
    return (
        *_tank_questions(stem),
        *_filter_questions(catalog),
        *_tube_questions(catalog),
        *_state_questions(),
    )


def _tank_questions(stem: str) -> tuple[Question, ...]:
    return (
        Question(
            words="What is the tank called?",
            help="The name stands above every answer; any words do.",
            slots=(
                Slot(key="name", example="Hall tank", reads=checked_text, otherwise=lambda _: stem, why="the name of the file"),
            ),
            whole=True,
        ),
        Question(
            words="What does it hold by its label, and how much water is really in it?",
            help="The water is what is left when sand, rocks and the rim are taken off; turnover is counted on it.",
            slots=(
                Slot(
                    key="volume",
                    example="240 l",
                    reads=_key(TANK, "volume"),
                    otherwise=lambda _: "180 l",
                    why=f"a usual tank ({PRACTICE})",
                ),
                Slot(key="net_volume", example="205 l", reads=_key(TANK, "net_volume")),
            ),
            left="and 85 % of it",
            check=_check_net,
        ),
        Question(
            words="Fresh or sea water, and how warm?",
            help="Cold water and salt water are thicker and rub more in the hoses.",
            slots=(
                Slot(key="water", example="fresh", reads=read_water, otherwise=lambda _: "fresh", why="most tanks"),
                Slot(key="temperature", example="25 degC", reads=_key(TANK, "temperature")),
            ),
            left="25 degC",
        ),
    )


def _filter_questions(catalog: Catalog) -> tuple[Question, ...]:
    return (
        Question(
            words="What does the pump's label say: greatest flow, greatest head, watts, mains?",
            help="All are on the type plate or in the leaflet. The id of a pump head of the catalog does as well, alone.",
            slots=(
                Slot(key="pump", example="1000 l/h", reads=read_pump(catalog), otherwise=_label_flow,
                     why=f"five times the tank in an hour, as labels have it ({PRACTICE})"),
                Slot(key="pump_head", example="1.8 m", reads=_within(HEAD, 0.05, 50.0), otherwise=_of_class(1),
                     why=f"usual for a pump of this flow ({PRACTICE})"),
                Slot(key="pump_power", example="15 W", reads=_within(POWER, 0.1, 5000.0), otherwise=_of_class(2),
                     why=f"usual for a pump of this flow ({PRACTICE})"),
                Slot(key="mains", example="50 Hz", reads=_mains),
            ),
            left="50 Hz",
            check=_check_pump,
        ),
        Question(
            words="What is in the trays, in the order of the water?",
            help="coarse foam, foam 20 ppi, fine foam, rings, balls, floss, carbon, empty, or ids of the catalog.",
            slots=(
                Slot(key="trays", example="coarse foam, rings, floss", reads=read_several(read_medium(catalog), MOST_TRAYS),
                     otherwise=lambda _: "coarse foam, rings, floss", why=f"a usual filling ({PRACTICE})"),
            ),
            whole=True,
        ),
        Question(
            words="How much media do all trays take, and how far below the water line does the canister's foot stand?",
            help="The litres are in the leaflet; the depth is from the water line in the tank down to the cabinet's floor.",
            slots=(
                Slot(key="media_volume", example="4.5 l", reads=_within(VOLUME, 1e-4, 0.2), otherwise=_tray_volume,
                     why=f"1.5 l a tray ({PRACTICE})"),
                Slot(key="depth", example="1.1 m", reads=_within(LENGTH, 0.0, 15.0), otherwise=lambda _: "1.1 m",
                     why=f"a canister in the cabinet below the tank ({PRACTICE})"),
            ),
        ),
    )  # fmt: skip


def _tube_questions(catalog: Catalog) -> tuple[Question, ...]:
    return (
        _hose_question("suction", "from the tank to the canister", _of_class(3), f"usual for a pump of this flow ({PRACTICE})"),
        _hose_question("return", "from the canister back to the tank", _as_suction, "as the suction hose"),
        Question(
            words="Do both hoses end at the canister in couplings with taps?",
            help="Taps shut the hoses when the canister is taken away. They are narrow, and the one on the return can throttle.",
            slots=(Slot(key="taps", example="yes", reads=read_yes_no, otherwise=lambda _: "yes", why="most canisters"),),
        ),
        Question(
            words="What keeps animals and leaves out at the intake?",
            help="slots, holes, mesh or sponge, with the widest gap or, of a sponge, the pores per inch.",
            slots=(Slot(key="guard", example="slots 3 mm", reads=read_guard, otherwise=lambda _: "slots 3 mm",
                        why=f"most strainers ({PRACTICE})"),),
        ),
        Question(
            words="How does the water come back, and how far above or under the water line?",
            help='"open", "nozzle 10 mm" or "bar 16 x 3 mm" (holes x diameter); only a rise above the water line costs head.',
            slots=(
                Slot(key="outlet", example="bar 16 x 3 mm", reads=read_outlet, otherwise=lambda _: "bar 16 x 3 mm",
                     why=f"a usual spray bar ({PRACTICE})"),
                Slot(key="height", example="2 cm under", reads=read_height),
            ),
            left="at the water line",
            check=_check_holes,
        ),
        Question(
            words="What hangs in the return hose: heater, ultraviolet, gas reactor, another device?",
            help="With commas between them, in the order of the water; or none. Ids of the catalog do as well.",
            slots=(
                Slot(key="devices", example="heater", reads=read_none(read_several(read_device(catalog), MOST_DEVICES)),
                     otherwise=lambda _: "none", why="most loops"),
            ),
            whole=True,
            check=_check_devices,
        ),
    )  # fmt: skip


def _hose_question(side: str, way: str, size: Callable[[Facts], str], why: str) -> Question:
    usual = {"length": ("1.5 m", f"what a set comes with ({PRACTICE})"), "bends": ("2 bends", f"over the rim ({PRACTICE})")}
    return Question(
        words=f"The hose {way}: its size, its length, how many quarter turns?",
        help="The size is printed on it: inside and outside, or the inside alone. Count each quarter turn over rims and corners.",
        slots=(
            Slot(key=f"{side}_size", example="16/22 mm", reads=read_hose, otherwise=size, why=why),
            Slot(key=f"{side}_length", example="1.5 m", reads=_within(LENGTH, 0.05, 200.0),
                 otherwise=lambda _: usual["length"][0], why=usual["length"][1]),
            Slot(key=f"{side}_bends", example="2 bends", reads=read_bends,
                 otherwise=lambda _: usual["bends"][0], why=usual["bends"][1]),
        ),
    )  # fmt: skip


def _state_questions() -> tuple[Question, ...]:
    return (
        Question(
            words="How long ago was everything cleaned?",
            help='From this the dirt of today is guessed. "new" for a loop that was just cleaned.',
            slots=(
                Slot(key="days", example="6 weeks", reads=read_days,
                     otherwise=lambda _: "6 weeks", why=f"a usual interval ({PRACTICE})"),
            ),
        ),
        Question(
            words="Are there weak swimmers, fry or shrimp?",
            help="They limit how wide the gaps of the guard may be and how fast the water may run; with commas, or none.",
            slots=(Slot(key="animals", example="fry, shrimp", reads=read_none(read_several(read_animals, 3)),
                        otherwise=lambda _: "none", why="no weak swimmers, fry or shrimp; say so if there are any"),),
            whole=True,
        ),
        Question(
            words="How loud may it be where you sit?",
            help='A fridge hums at about 35 dB(A), a quiet bedroom has 25 to 30; or none. It is counted 1 m from the pump.',
            slots=(
                Slot(key="noise", example="38 dB(A)", reads=read_none(_key(LIMITS, "noise")),
                     otherwise=lambda _: "none", why="no limit asked for"),
            ),
        ),
        Question(
            words="How much may be spent at most?",
            help="A number in the currency of the catalog; or none, then --budget says it each time.",
            slots=(
                Slot(key="budget", example="100", reads=read_none(_key(LIMITS, "budget")),
                     otherwise=lambda _: "none", why="no limit asked for"),
            ),
        ),
        Question(
            words="How much water do you wish to come back?",
            help="As turnover of the water in the tank, or as a flow; or none, then the most that can be had.",
            slots=(
                Slot(key="wish", example="4 per hour", reads=read_none(read_wish),
                     otherwise=lambda _: "none", why="as much as can be had"),
            ),
        ),
    )  # fmt: skip


# -- how single parts are read -------------------------------------------------------------------------------------


def _key(table: tuple[Field, ...], name: str) -> Callable[[str], object]:
    """Read as the key of a rig file does."""
    found = next(field for field in table if field.name == name)
    return lambda text: read_value(found, text)


def _within(dimension: Dimension, low: float, high: float) -> Callable[[str], object]:
    return lambda text: parse(text, dimension, minimum=low, maximum=high)


def _mains(text: str) -> object:
    hz = _key(SITE, "mains")(text)
    if hz in (50.0, 60.0):
        return hz
    raise BadValue(f"{quoted(text)} is not a mains frequency.", 'Write "50 Hz" or "60 Hz".')


# -- what is taken when nobody knows -------------------------------------------------------------------------------


def _label_flow(known: Facts) -> str:
    litres = known["volume"].number * 1e3 if "volume" in known else 180.0
    return f"{min(max(round(LABEL_TURNOVER_1H * litres / 50.0) * 50, 300), 3500)} l/h"


def _of_class(column: int) -> Callable[[Facts], str]:
    """Return what is usual for a pump of the known flow; nothing for a pump of the catalog, which has its own figures."""

    def usual(known: Facts) -> str:
        pump = known["pump"].value if "pump" in known else parse(_label_flow(known), FLOW)
        if isinstance(pump, Pump):
            if column in (1, 2, 4):
                return ""
            pump = pump.curve.max_flow_m3s
        if not isinstance(pump, float):
            raise TypeError("a pump is one of the catalog or the flow of its label")
        return str(next(row for row in CLASSES if pump * 3.6e6 < row[0])[column])

    return usual


def _as_suction(known: Facts) -> str:
    return known["suction_size"].text


def pump_noise(known: Facts) -> str:
    """Return the usual sound level of the known pump."""
    return _of_class(4)(known)


def _tray_volume(known: Facts) -> str:
    trays = known["trays"].value if "trays" in known else (0, 0, 0)
    return show(1.5e-3 * len(trays), VOLUME) if isinstance(trays, tuple) else ""


# -- what depends on more than one answer --------------------------------------------------------------------------


def _check_net(known: Facts) -> None:
    net, nominal = known["net_volume"], known["volume"]
    if net.text and net.number > nominal.number:
        what = f"the water ({net.text}) is more than the tank holds ({nominal.text})."
        raise BadValue(what, "Write the volume of the label first, then the water that is really in it.")


def _check_pump(known: Facts) -> None:
    if isinstance(known["pump"].value, Pump) and (known["pump_head"].text or known["pump_power"].text):
        raise BadValue(
            "a pump of the catalog has its own head and watts.", "Write its id alone, or the figures of the label alone."
        )


def _check_holes(known: Facts) -> None:
    row, hose = known["outlet"].value, known["return_size"].value
    if isinstance(row, HoleRow) and isinstance(hose, tuple) and row.hole_m > hose[0]:
        what = f"holes of {row.hole_m * 1e3:.4g} mm are wider than the hose ({hose[0] * 1e3:.4g} mm inside)."
        raise BadValue(what, 'Write the diameter of one hole, for example "bar 16 x 3 mm".')


def _check_devices(known: Facts) -> None:
    hose, devices = known["return_size"].value, known["devices"].value
    if not isinstance(hose, tuple) or not isinstance(devices, tuple):
        return
    found = [device for device in devices if isinstance(device, Device)]
    for device in found:
        if any(abs(end.size_m - hose[0]) > HOSE_STRETCH_M for end in (device.inlet, device.outlet)):
            what = f"the tails of {quoted(device.id)} do not fit the return hose of {hose[0] * 1e3:.4g} mm."
            raise BadValue(what, "Write its purpose alone, or put adapters into the file by hand.")
    if any(one is two for one, two in pairwise(sorted(found, key=lambda device: device.id))):
        raise BadValue("one id stands there twice.", "Write each device once.")
