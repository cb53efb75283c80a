"""From what a text says of a part to the cells of a catalog row. What it does not say stays empty where the catalog has a
rule for it, and is asked for where nobody could know it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from optimizer.errors import BadValue, quoted
from optimizer.files.cell_text import chosen
from optimizer.files.end_text import parse_end
from optimizer.files.part_kinds import FILE_OF_KIND
from optimizer.model.ends import HOSE_STRETCH_M
from optimizer.model.parts import Kind
from optimizer.sheets.grammar import Said, Thread, millimetres_of
from optimizer.unit_table import FLOW, HEAD
from optimizer.units import from_si, parse

__all__ = ["QUESTIONS", "Made", "Question", "checked_answer", "made_of"]

FAMILIES = {"g": "G", "r": "R", "rc": "Rc", "rp": "Rp", "npt": "NPT", "ght": "GHT", "bspt": "R"}

PIPE_MM = {"1/2": 21.34, "3/4": 26.67, "1": 33.4, "1 1/4": 42.16, "1 1/2": 48.26, "2": 60.33}
"""Outside diameter of inch pipe by its nominal size (ASTM D1785, table 1)."""

HOSES = (9, 12, 16, 19, 25, 32, 38)
"""Inside diameters of hose in mm (common practice, no published source)."""
SMALLEST_HOSE_MM, LARGEST_HOSE_MM = 3.0, 64.0
WATER = 9806.65 / 3.6e6
"""Watts of a flow in l/h lifted by a metre."""

QUESTIONS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "thread": ("Of which family is a thread that names none?", ("G", "R", "NPT")),
    "gender": ("Is a thread of a hose tail that does not say so male or female?", ("male", "female")),
    "hose": ("What does the price of a hose buy where nothing is said?", ("metre", "foot")),
    "pump": ("What do pumps have as ports that name none, or no gender?", ("G 1 in male", "tail 16 mm", "union MINE male")),
}
"""What one answer settles for a whole sheet, with examples; it stands in the mapping under [answers]."""


_ANSWERS = {"thread": ("G", "R", "NPT"), "bsp": ("G", "R"), "gender": ("male", "female"), "hose": ("metre", "foot")}


def checked_answer(key: str, text: str) -> str:
    """Return an answer to a question of `QUESTIONS`, or to ``bsp``, as it is used. Raises `BadValue` for what is none.

    >>> checked_answer("thread", "g"), checked_answer("pump", "tail 16 mm")
    ('G', 'tail 16 mm')
    """
    if key in _ANSWERS:
        return chosen(_ANSWERS[key], text)
    parse_end(text)
    return text


class Question(BadValue):
    """What a row does not say and one answer for all such rows could (``key`` of `QUESTIONS`)."""

    def __init__(self, key: str, what: str) -> None:
        examples = " or ".join(quoted(each) for each in QUESTIONS[key][1])
        super().__init__(what, f"Say it in the row, or once for all: {key} = {examples}.")
        self.key = key


@dataclass(slots=True)
class Made:
    """Cells of one row of a catalog file by column, and what is to be known about them. ``metres`` is the length that the price
    of a hose buys, ``by_length`` that it is cut from the roll."""

    file: str = ""
    cells: dict[str, str] = field(default_factory=dict)
    remarks: list[str] = field(default_factory=list)
    metres: float = 0.0
    by_length: bool = False


def made_of(said: Said, answers: Mapping[str, str]) -> Made:
    """The row of a part. Raises `BadValue` where the text does not say enough, or what cannot be: a `Question` where one answer
    would do for all such rows."""
    made = Made()
    _MAKERS.get(said.kind, _fitting)(said, made, answers)
    pack = said.found.get("pack")
    if pack:
        made.cells["pack"] = pack
    words = (word.strip(",.()") for word in said.left.replace(";", " ").split())
    left = " ".join(word for word in words if any(map(str.isdigit, word)) and word not in said.tails)
    if left:
        made.remarks.append(f"not read: {left}")
    return made


def _number(value: float) -> str:
    return f"{value:.6g}"


def _in_inches(size: str) -> bool:
    return "/" in size or '"' in size or "in" in size


def _by_code(said: Said, made: Made) -> None:
    """A hose size that stands in the code alone, as in TL-16, where no other number could be meant."""
    numbers = [each for each in re.findall("[0-9]+", said.code) if int(each) in HOSES]
    if not said.tails and len(numbers) == 1 and re.fullmatch(r"[A-Z]{1,4}-?[0-9]{1,2}", said.code):
        said.tails.append(numbers[0])
        made.remarks.append(f"for {numbers[0]} mm hose by its code alone")


def _hose_size(size: str, made: Made) -> str:
    """A hose size as the catalog has it, in mm. An inch size says what it is in mm and which hose goes on."""
    mm = millimetres_of(size)
    if not SMALLEST_HOSE_MM <= mm <= LARGEST_HOSE_MM:
        raise BadValue(f"{quoted(size)} is no size of a hose.", f"Write {SMALLEST_HOSE_MM:g} to {LARGEST_HOSE_MM:g} mm.")
    if _in_inches(size):
        fits = [each for each in HOSES if abs(each - mm) <= HOSE_STRETCH_M * 1e3]
        goes = f"{fits[0]} mm hose goes on" if fits else "no hose in whole mm goes on, inch hose does"
        made.remarks.append(f"{size} is {_number(round(mm, 2))} mm: {goes}")
    return _number(round(mm, 2))


def _tail(said: Said, made: Made, what: str) -> str:
    _by_code(said, made)
    if not said.tails:
        raise BadValue(f"it does not say what hose the {what} is for.", 'Write the size, for example "16 mm".')
    if _in_inches(said.tails[0]) and not any(word in said.left for word in ("barb", "hose", "tail")):
        what = f"{said.tails[0]} may be a hose tail, a pipe or a thread."
        raise BadValue(what, 'Write for example "3/4 in barb", "3/4 in slip" or "3/4 in NPT male".')
    return f"tail {_hose_size(said.tails[0], made)} mm"


def _thread(each: Thread, made: Made, answers: Mapping[str, str], gender: str = "") -> str:
    """A thread as an end. BSP alone is the parallel family: what is sold to hose is tightened on a washer (common practice, no
    published source)."""
    inches = each.inches.strip().rstrip('"').removesuffix("inch").removesuffix("in").strip().replace("-", " ")
    family = FAMILIES.get(each.family, "")
    if each.family == "bsp":
        family = answers.get("bsp", "G")
        made.remarks.append(f"BSP taken as {family}" + (" (parallel, on a washer)" if family == "G" else ""))
    elif not family:
        family = answers.get("thread", "")
    if not family:
        raise Question("thread", f"a thread of {inches} in does not name its family: G, R or NPT, which never fit one another.")
    sex = each.gender or gender or answers.get("gender", "")
    if not sex:
        raise Question("gender", f"the thread {family} {inches} does not say male or female.")
    if family == "R" and sex == "female":
        family = "Rc"
        made.remarks.append("an R thread inside is Rc (ISO 7-1)")
    return f"{family} {inches} in {sex}"


def _slip(size: str, gender: str) -> str:
    mm = millimetres_of(size)
    inches = size.strip().rstrip('"').removesuffix("in").strip().replace("-", " ")
    if "mm" in size:
        return f"slip mm {_number(mm)} mm {gender or 'female'}"
    if inches not in PIPE_MM:
        raise BadValue(f"{quoted(size)} is no size of glued pipe.", f"Write one of {', '.join(PIPE_MM)} in.")
    return f"slip in {_number(PIPE_MM[inches])} mm {gender or 'female'}"


def _hose(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    made.file = FILE_OF_KIND[Kind.HOSE]
    found = said.found
    pair = found.get("pair") or found.get("inch pair")
    if pair:
        inside, outside = (round(millimetres_of(each), 3) for each in pair.split(" x "))
        if inside > outside:
            inside, outside = outside, inside
            made.remarks.append(f"read as {_number(inside)}/{_number(outside)}: the sizes stand the wrong way round")
        made.cells |= {"inside_mm": _number(inside), "outside_mm": _number(outside)}
    elif found.get("inside") or said.tails:
        made.cells["inside_mm"] = _number(millimetres_of(found.get("inside") or said.tails[0]))
        if "outside" in found:
            made.cells["outside_mm"] = _number(millimetres_of(found["outside"]))
    else:
        raise BadValue("it does not say how wide the hose is.", 'Write inside and outside, for example "16/22".')
    if "silicone" in said.left:
        made.cells["material"] = "silicone"
    if any(word in said.left for word in ("ribbed", "corrugated")):
        made.cells["ribbed"] = "yes"
    length = found.get("coil", "")
    per = found.get("per") or ("" if length else answers.get("hose", ""))
    if per:
        made.metres, made.by_length = (0.3048 if per in ("foot", "ft") else 1.0), True
    elif length:
        made.metres = millimetres_of(length) / 1000.0
        made.by_length = made.metres <= 1.0
    else:
        raise Question("hose", "it does not say what length the price buys.")
    if made.metres <= 0.0:
        raise BadValue("a hose of no length is sold.", "Write the length that its price buys.")
    if "step" in found:
        made.cells["step_cm"] = _number(millimetres_of(found["step"]) / 10.0)
    elif made.by_length and made.metres < 1.0:
        made.cells["step_cm"] = _number(made.metres * 100.0)


def _fitting(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    """Ends decide what it is: thread and tail are a tail, two tails a joiner, two threads an adapter."""
    ends = [_thread(each, made, answers) for each in said.threads]
    ends += [_slip(*each) for each in said.slips]
    if not said.slips and len(ends) < 2:
        _by_code(said, made)
    tails = [f"tail {_hose_size(each, made)} mm" for each in said.tails]
    if not tails and ends and len(ends) == 1 and said.kind == "fitting":
        raise BadValue("it does not say what hose it is for.", 'Write the size, for example "16 mm".')
    ends += tails
    if len(ends) == 1:
        ends *= 2
    if len(ends) != 2:
        what = "it does not say its ends." if not ends else f"it names {len(ends)} ends: {', '.join(ends)}."
        raise BadValue(what, 'Write both, for example "16 mm x G 1/2 male".')
    bends = "angle" in said.found or any(word in said.left for word in ("elbow", "angled", "bend"))
    shape = "swept 90" if said.swept else "elbow 90" if bends else "straight"
    if said.found.get("angle", "").startswith("45"):
        shape = "elbow 45"
    valve = said.kind in ("valve", "gate valve")
    if valve:
        shape = "gate valve" if said.kind == "gate valve" else "ball valve"
        made.cells["throttles"] = "yes"
    threaded = not ends[0].startswith("tail") and ends[1].startswith("tail")
    role = (
        "valve" if valve else "elbow" if bends and not threaded else "tail" if threaded and "slip" not in ends[0] else "adapter"
    )
    made.file = FILE_OF_KIND[role]
    made.cells |= {"role": role} if made.file == "couplings.csv" else {}
    made.cells |= {"shape": shape, "inlet": ends[0], "outlet": ends[1]}
    bore = said.found.get("bore") or said.found.get("inside")
    if bore:
        sides = [side for side, end in zip(("inlet", "outlet"), ends, strict=True) if end.startswith("tail")] or [
            "inlet",
            "outlet",
        ]
        made.cells |= {f"{side}_bore_mm": _number(millimetres_of(bore)) for side in sides}


def _tee(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    made.file = FILE_OF_KIND[Kind.TEE]
    ends = [_thread(each, made, answers) for each in said.threads] + [f"tail {_hose_size(each, made)} mm" for each in said.tails]
    if not 1 <= len(ends) <= 3:
        raise BadValue("it does not say the sizes of its ends.", 'Write for example "16 mm", or "19 x 19 x 16 mm".')
    ends = ends * 3 if len(ends) == 1 else [ends[0], ends[0], ends[1]] if len(ends) == 2 else ends
    made.cells |= dict(zip(("inlet", "outlet", "side"), ends, strict=True))
    if said.kind == "wye":
        made.cells["angle_deg"] = "45"
        made.remarks.append("angle of 45 deg taken (common practice)")


def _through(said: Said, made: Made, answers: Mapping[str, str], kind: str, **cells: str) -> None:
    """What has the same end on both sides."""
    made.file = FILE_OF_KIND[kind]
    end = _thread(said.threads[0], made, answers) if said.threads else _tail(said, made, said.kind)
    made.cells |= {**cells, "inlet": end, "outlet": end}


def _coupling(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    _through(said, made, answers, "coupling", role="coupling", shape="ball valve", throttles="yes")


def _non_return(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    form = said.kind.removeprefix("non-return").strip()
    if not form:
        raise BadValue("it does not say whether a flap or a spring shuts it.", 'Write "flap" or "spring" into its text.')
    _through(said, made, answers, Kind.VALVE, form=form)


def _device(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    _through(said, made, answers, Kind.DEVICE, purpose=said.kind)


def _foot_valve(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    raise BadValue("a guard and a valve in one are no part here.", "Describe them as two parts of the catalog.")


def _guard(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    made.file = FILE_OF_KIND[Kind.GUARD]
    found = said.found
    form = "sponge" if said.kind == "sponge guard" else found.get("form") or ("mesh" if "mesh" in said.left else "")
    form = form or ("slots" if "slots" in said.left else "holes" if "holes" in said.left else "")
    if not form:
        form = "slots"
        made.remarks.append("slots taken, as most strainers have: it does not say what the water goes through")
    made.cells["form"] = form
    if "pores" in found:
        made.cells["pores_ppi"] = found["pores"]
    if "opening" in found and form != "sponge":
        made.cells["opening_mm"] = _number(millimetres_of(found["opening"]))
    if "area" in found:
        size, unit = found["area"].split()
        made.cells["face_area_cm2"] = _number(float(size) / (100.0 if unit == "mm2" else 1.0))
    end = _slip(*said.slips[0]) if said.slips else _thread(said.threads[0], made, answers, "female") if said.threads else ""
    made.cells["outlet"] = end or _tail(said, made, "guard")
    if "box" in found and form == "sponge":
        _block(found["box"], made)


def _block(box: str, made: Made) -> None:
    """Face and wall of a block of sponge on a stem: its sides and one end, and from the side to the stem."""
    sides = sorted(_box_mm(box))
    stem = float(made.cells["outlet"].split()[1]) if made.cells["outlet"].startswith("tail") else 0.0
    wide, deep, tall = sides if sides[1] - sides[0] <= sides[2] - sides[1] else (sides[1], sides[2], sides[0])
    made.cells["face_area_cm2"] = _number((2.0 * (wide + deep) * tall + wide * deep) / 100.0)
    made.cells["thickness_mm"] = _number((wide - stem) / 2.0)
    made.remarks.append("face and wall worked out from the size of the block")


def _box_mm(box: str) -> list[float]:
    """The sides of a block in mm; without a unit they are cm, in which slabs are sold (common practice, no published source)."""
    words = box.split()
    unit = next((word for word in reversed(words) if word in ("mm", "cm", '"', "in")), "cm")
    per = {"mm": 1.0, "cm": 10.0}.get(unit, 25.4)
    return [float(word) * per for word in words if word[0].isdigit()]


def _bar(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    made.file = FILE_OF_KIND[Kind.OUTLET]
    made.cells |= {"form": "bar", "inlet": _thread(said.threads[0], made, answers) if said.threads else _tail(said, made, "bar")}
    if "holes" in said.found:
        made.cells["holes"] = said.found["holes"]
    else:
        made.remarks.append("how many holes it has is not said: count them")
    if "hole" in said.found:
        made.cells["hole_mm"] = _number(float(said.found["hole"]))
    if "inside" in said.found:
        made.cells["bar_bore_mm"] = _number(millimetres_of(said.found["inside"]))


def _outlet(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    made.file = FILE_OF_KIND[Kind.OUTLET]
    form = "nozzle" if said.kind == "nozzle" else "open"
    made.cells |= {"form": form, "inlet": _tail(said, made, "outlet")}


def _pump(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    made.file = FILE_OF_KIND[Kind.PUMP]
    found = said.found
    if "flow" not in found:
        raise BadValue("it does not say its greatest flow with a unit.", 'Write for example "2000 l/h".')
    flow = from_si(parse(found["flow"], FLOW), "l/h", FLOW)
    made.cells["max_flow_l_h"] = _number(flow)
    head = from_si(parse(found["head"], HEAD), "m", HEAD) if "head" in found else 0.0
    power = found.get("power", "").split()
    watts = float(power[0]) * (1000.0 if power[1] == "kw" else 1.0) if power else 0.0
    if head:
        made.cells["max_head_m"] = _number(head)
    if watts:
        made.cells["power_w"] = _number(watts)
    if head and watts and flow * head * WATER / 4.0 > watts:
        # even the weakest curve between these two ends, a straight line, gives the water a quarter of their product
        what = f"{flow:g} l/h and {head:g} m need more power than the {watts:g} W that it draws."
        raise BadValue(what, "One of the figures has slipped: look at its label.")
    if "noise" in found:
        made.cells["noise_dba"] = found["noise"]
    end = _port(said, made, answers)
    made.cells |= {"inlet": end, "outlet": end}


def _port(said: Said, made: Made, answers: Mapping[str, str]) -> str:
    usual = answers.get("pump", "")
    if said.threads:
        gender = said.threads[0].gender or usual.rpartition(" ")[2]
        if gender not in ("male", "female"):
            raise Question("pump", "its ports are threads that do not say male or female.")
        return _thread(said.threads[0], made, answers, gender)
    if said.tails:
        return _tail(said, made, "pump")
    if not usual:
        raise Question("pump", "it does not say what its ports are.")
    return usual


def _medium(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    made.file = FILE_OF_KIND[Kind.MEDIUM]
    found = said.found
    form = {"floss": "fibre"}.get(said.kind, said.kind)
    made.cells |= {"form": form, "mechanical": "yes" if form in ("foam", "fibre") else "no"}
    made.cells["biological"] = "no" if form == "fibre" or "carbon" in said.left or "zeolite" in said.left else "yes"
    if "box" in found:
        sides = _box_mm(found["box"])
        made.cells["volume_l"] = _number(sides[0] * sides[1] * sides[2] / 1e6)
    elif "volume" in found:
        number, unit = found["volume"].split()
        made.cells["volume_l"] = _number(float(number) / (1000.0 if unit == "ml" else 1.0))
    else:
        sold = f"sold by weight ({found['weight']})" if "weight" in found else "sold by the piece"
        raise BadValue(f"it is {sold}: the litres it fills are not said.", 'Write for example "1.5 l" into its text.')
    if form == "foam":
        if "pores" in found:
            made.cells["pores_ppi"] = found["pores"]
        elif any(word in said.left for word in ("coarse", "medium", "fine")):
            cure = 'Write its pores, or in the mapping what the words mean: [words] "coarse" = "10 ppi".'
            raise BadValue("it does not say how fine the foam is in numbers.", cure)
    if "surface" in found:
        # what makers print counts every pore, most of which are too fine for bacteria that get oxygen
        made.remarks.append(f"the printed {found['surface']} m2 a litre count the finest pores: not taken")


def _clamp(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    made.file = FILE_OF_KIND[Kind.CLAMP]
    found = said.found
    if "range" in found:
        low, high = (round(millimetres_of(each), 2) for each in found["range"].split(" to "))
    elif "inside" in found and "outside" in found:
        low, high = millimetres_of(found["inside"]), millimetres_of(found["outside"])
    elif said.tails:
        low = high = millimetres_of(said.tails[0])
        made.remarks.append(f"closes on {_number(low)} mm only, as far as is said")
    else:
        raise BadValue("it does not say what it closes on.", 'Write the range, for example "16-27 mm".')
    if low > high:
        low, high = high, low
        made.remarks.append(f"read as {_number(low)} to {_number(high)} mm: the sizes stand the wrong way round")
    made.cells |= {"low_mm": _number(low), "high_mm": _number(high)}


def _washer(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    made.file = FILE_OF_KIND[Kind.SEAL]
    thread = said.threads[0] if said.threads else Thread("", said.tails[0], "") if said.tails else None
    if thread is None:
        raise BadValue("it does not say what thread it is for.", 'Write for example "G 1/2".')
    if thread.family in ("r", "rc", "rp", "npt", "bspt"):
        what = f"a taper thread ({FAMILIES[thread.family]}) is sealed by tape: no washer closes it."
        raise BadValue(what, f'Write "G {thread.inches}" if it is the flat washer of a parallel thread.')
    standard = "GHT" if thread.family == "ght" else "G"
    if not thread.family:
        made.remarks.append("taken as for G: a washer closes parallel threads only")
    end = _thread(Thread("g", thread.inches, "male"), made, answers)
    made.cells |= {"closure": "washer", "standard": standard, "size_in": end.removeprefix("G ").removesuffix(" in male")}


def _roll(said: Said, made: Made, answers: Mapping[str, str]) -> None:
    made.file = FILE_OF_KIND[Kind.SEAL]
    made.cells["closure"] = said.kind
    made.remarks.append("counted as one joint: it does not say how many it does")
    said.left = ""


_Maker = Callable[[Said, Made, Mapping[str, str]], None]
_MAKERS: Mapping[str, _Maker] = {
    "hose": _hose,
    "pump": _pump,
    "bar": _bar,
    "clamp": _clamp,
    "washer": _washer,
    "coupling": _coupling,
    "foot valve": _foot_valve,
    **dict.fromkeys(("tape", "cement"), _roll),
    **dict.fromkeys(("non-return", "non-return flap", "non-return poppet"), _non_return),
    **dict.fromkeys(("guard", "sponge guard"), _guard),
    **dict.fromkeys(("nozzle", "open outlet"), _outlet),
    **dict.fromkeys(("tee", "wye"), _tee),
    **dict.fromkeys(("heater", "ultraviolet"), _device),
    **dict.fromkeys(("foam", "rings", "granules", "floss"), _medium),
}
