"""Each folder in data/broken/catalogs has one kind of problem; the whole message the keeper sees is checked."""

from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.files.catalog_csv import read_catalog

BROKEN = Path(__file__).parent.parent / "data" / "broken" / "catalogs"

MESSAGES = {
    "ambiguous_comma": (
        "clamps.csv: 1 problem, nothing was solved.\n"
        '  line 2, high_mm: "1,024" may be thousands or decimals: other numbers here have decimal commas. '
        'Write "1024" or "1,0240".'
    ),
    "bad_about": (
        "about.toml: 2 problems, nothing was solved.\n"
        '  name: this is not text. Write for example name = "Corner shop".\n'
        "  money: this key is not known. Only name and currency stand there."
    ),
    "bad_curves": (
        "pumps.csv: 5 problems, nothing was solved.\n"
        "  line 2, curve_points: the head of a pump falls as the flow rises, but not from 0 l/h "
        'at 2.2 m to 500 l/h at 2.3 m. Write for example "0:2.2; 500:2.05; 1000:1.5; 2000:0".\n'
        "  line 3, curve_points: measured points stand beside figures of the label. Keep one of "
        "the two.\n"
        "  line 4, max_head_m: the pump has neither a label (greatest head and flow) nor "
        "measured points. Write greatest head and flow of its label, or the points of its curve.\n"
        '  line 5, curve_points: "0-2.2" is not a point of a pump curve. Write flow in l/h, a '
        'colon and head in m, for example "0:2.2; 500:2.05; 1000:1.5; 2000:0".\n'
        "  line 6, max_flow_l_h: is missing, but the label of a pump needs both greatest head "
        'and flow. Write for example "2000".'
    ),
    "bad_devices": (
        "devices.csv: 3 problems, nothing was solved.\n"
        "  line 2, kv_m3_h: says its loss in more than one way. Give one of: kv, k, or one "
        "measured point.\n"
        "  line 4, point_m: is missing, but a measured point needs both. Write for example "
        '"0.2".\n'
        "  line 5, flow_min_l_h: the least flow (800 l/h) is not below the greatest (300 l/h). "
        "Swap them, or leave one out."
    ),
    "bad_ends": (
        "couplings.csv: 6 problems, nothing was solved.\n"
        '  line 2, inlet: "union male" does not say whose union it is. Write one word for the '
        'maker\'s shape and the gender, for example "union M30 male".\n'
        '  line 3, inlet: "G 3/4 in" does not say male or female. Write "G 3/4 in male" (goes '
        'inside) or "G 3/4 in female".\n'
        '  line 4, inlet: "barb 16 mm" is not an end. Write for example "tail 16 mm", "hose 16 '
        'mm", "G 3/4 in male", "slip mm 25 mm female", "union KEY male", "open".\n'
        "  line 4, outlet_bore_mm: a bore of 25 mm is as wide as the 25 mm pipe end itself or "
        "wider. Measure the open inside diameter and write it.\n"
        "  line 5, inlet_bore_mm: the open bore of this end is missing. Measure its inside diameter and write it.\n"
        "  line 5, outlet_bore_mm: the open bore of this end is missing. Measure its inside diameter and write it."
    ),
    "bad_id": (
        "clamps.csv: 1 problem, nothing was solved.\n"
        '  line 2, id: "CLAMP 22" is not an id. Write one word of up to 64 letters, digits and . '
        '+ / - _, for example "TAIL-16-G34".'
    ),
    "bad_price": (
        "clamps.csv: 3 problems, nothing was solved.\n"
        '  line 2, price: "3.005" has more than two decimals. Write at most two, for example '
        '"12.50".\n'
        '  line 3, price: "€3.00" names a currency. Write the number alone, for example "12.50".\n'
        '  line 4, price: "-3" is negative. Write 0 or more, for example "12.50".'
    ),
    "bad_tees": (
        "tees.csv: 6 problems, nothing was solved.\n"
        "  line 2, passage_mm: the passage (12.5 mm) is wider than the smaller bore of the "
        "straight run (12 mm). Write the narrowest bore inside, or leave it out.\n"
        "  line 3, side_passage_mm: the passage (13 mm) is wider than the bore of the side (12 "
        "mm). Write the narrowest bore inside, or leave it out.\n"
        "  line 4, side_passage_mm: the passage of the side (14 mm) is wider than that of the run "
        "(12 mm). Swap the ends so that the wider ones are inlet and outlet, or leave it out.\n"
        '  line 5, angle_deg: "20" is too small: at least 30. Write for example "45".\n'
        '  line 6, side: is missing. Write for example "tail 16 mm".\n'
        '  line 7, angle_deg: "135" is too large: at most 90. Write for example "45".'
    ),
    "bacteria_without_surface": (
        "media.csv: 1 problem, nothing was solved.\n"
        "  line 5, area_m2_m3: a biological medium needs a surface for bacteria. Write for "
        'example "900".'
    ),
    "blank_lines_only": (
        "clamps.csv: 1 problem, nothing was solved.\n  file: the file has only empty lines. Write a header line."
    ),
    "broken_about": (
        "about.toml: 1 problem, nothing was solved.\n"
        '  file: broken TOML at line 1, column 8: Invalid value. A line reads: name = "value"; '
        "text and quantities stand in quotes."
    ),
    "clamp_reversed": (
        "clamps.csv: 1 problem, nothing was solved.\n  line 2, high_mm: 20 mm is below the 24 mm it starts at. Swap the two."
    ),
    "column_twice": ("clamps.csv: 1 problem, nothing was solved.\n  line 1, low_mm: the column stands there twice. Keep one."),
    "column_without_name": (
        "clamps.csv: 1 problem, nothing was solved.\n"
        "  line 1: column 4 has cells but no name. Name it in the header, or empty the column."
    ),
    "empty_file": (
        "clamps.csv: 1 problem, nothing was solved.\n"
        '  file: the file is empty. Write a header line; "fullbore columns" lists the columns.'
    ),
    "flag_of_maybe": (
        'media.csv: 1 problem, nothing was solved.\n  line 2, mechanical: "maybe" is neither yes nor no. Write yes or no.'
    ),
    "hose_no_price": (
        "hoses.csv: 3 problems, nothing was solved.\n"
        "  line 3, coil_m: is missing, but the price of a coil needs its length. Write for "
        'example "3".\n'
        '  line 4, price: is missing, but a coil needs a price. Write for example "4.50".\n'
        "  line 2, price_per_m: has no price and no kit contains it. Write a price. A part you "
        "own belongs in the rig file."
    ),
    "hose_of_unknown_material": (
        "hoses.csv: 1 problem, nothing was solved.\n"
        '  line 2, material: "silicon" is not known here. Near names: "silicone". Write one of: '
        "pvc hose, pvc pipe, acrylic, glass, pe, silicone, rubber, steel."
    ),
    "hose_outside_smaller": (
        "hoses.csv: 1 problem, nothing was solved.\n"
        "  line 2, outside_mm: the outside (16 mm) is not wider than the inside (22 mm). Measure "
        "both diameters and write the larger one as the outside."
    ),
    "hose_two_price_forms": (
        "hoses.csv: 1 problem, nothing was solved.\n"
        "  line 2, price_per_m: stands beside the price of a coil. Keep price_per_m, or price "
        "and coil_m."
    ),
    "kit_of_garbage": (
        "kits.csv: 6 problems, nothing was solved.\n"
        '  line 2, contents: "PUMP-1 two times" is not a part with a number or an amount. Write '
        'for example "TAIL-19 x2; HOSE-19-27 4 m; CLAMP-25 x8; FOAM-20 2 l".\n'
        '  line 3, contents: the kit contains nothing. Write for example "TAIL-19 x2; HOSE-19-27 '
        '4 m; CLAMP-25 x8; FOAM-20 2 l".\n'
        '  line 4, contents: "FOAM-20" is a medium and needs the litres. Write for example '
        '"FOAM-20 2 l"; for two of them write it twice.\n'
        '  line 5, contents: the amount of "FOAM-20": "2 m" is a length, not a volume. Write for '
        'example "FOAM-20 2 l"; for two of them write it twice.\n'
        '  line 6, price: is missing. Write for example "4.50".\n'
        '  line 6, contents: "PUMP-1" is counted in pieces, not "2 l". Write for example "PUMP-1 '
        'x2".'
    ),
    "kit_with_unknown_part": (
        'kits.csv: 1 problem, nothing was solved.\n  line 2, contents: no part "CLAMP-21" in the catalog. Near names: "CLAMP-22".'
    ),
    "many_at_once": (
        "3 problems in 3 files, nothing was solved.\n"
        "hoses.csv: 1 problem.\n"
        "  line 2, price_per_m: stands beside the price of a coil. Keep price_per_m, or price "
        "and coil_m.\n"
        "clamps.csv: 1 problem.\n"
        '  line 2, low_mm: "twenty" is not a plain number. Write for example "20".\n'
        "kits.csv: 1 problem.\n"
        '  line 2, contents: no part "TAIL-1" in the catalog. Write the id of a part that one of '
        "the files has."
    ),
    "seal_that_closes_nothing": (
        "seals.csv: 2 problems, nothing was solved.\n"
        "  line 2, standard: tape closes no joint of G, washer does. Correct closure or standard; leave the standard empty where "
        "it closes any.\n"
        "  line 3, standard: washer closes no joint of R, tape does. Correct closure or standard; leave the standard empty where "
        "it closes any."
    ),
    "misnamed_file": (
        "misnamed_file: 1 problem, nothing was solved.\n"
        '  folder: "clamp.csv" is not a catalog file. Near names: "clamps.csv", "pumps.csv".'
    ),
    "missing_cell": (
        'clamps.csv: 1 problem, nothing was solved.\n  line 2, name: is missing. Write for example "hose tail 16 mm, G 3/4".'
    ),
    "missing_column": (
        "clamps.csv: 1 problem, nothing was solved.\n"
        '  header: the column "name" is missing (the part in words). Add it, for example with "hose tail 16 mm, G 3/4".'
    ),
    "bad_suppliers": (
        "10 problems in 3 files, nothing was solved.\n"
        "suppliers.csv: 5 problems.\n"
        '  line 2, postage: "-5.90" is negative. Write 0 or more, for example "12.50".\n'
        '  line 3, free_from: "-1" is negative. Write 0 or more, for example "12.50".\n'
        '  line 4, least_order: "ten" is not an amount of money. Write for example "12.50".\n'
        '  line 5, id: "north" stands there already. Give each supplier an id of its own.\n'
        '  line 7, id: "east" stands there already. Give each supplier an id of its own.\n'
        "clamps.csv: 1 problem.\n"
        '  line 2, supplier: no supplier "nort" in suppliers.csv. Near names: "north".\n'
        "offers.csv: 4 problems.\n"
        '  line 2, product: no product "CLAMP-9" with a price in the catalog. Near names: "CLAMP-1", "CLAMP-2".\n'
        '  line 3, supplier: no supplier "eest" in suppliers.csv. Near names: "east", "west".\n'
        '  line 5, supplier: "east" offers this product already. Keep one of the two.\n'
        '  line 6, price: "-1" is negative. Write 0 or more, for example "12.50".'
    ),
    "negative": ('clamps.csv: 1 problem, nothing was solved.\n  line 2, low_mm: "-20" is negative. Write for example "20".'),
    "no_known_file": (
        "no_known_file: 1 problem, nothing was solved.\n"
        "  folder: no catalog file is in this folder. A catalog has: adapters.csv, clamps.csv, "
        "couplings.csv, devices.csv, guards.csv, hoses.csv, kits.csv, media.csv, offers.csv, outlets.csv, "
        "pumps.csv, seals.csv, suppliers.csv, tails.csv, tees.csv, tools.csv, valves.csv."
    ),
    "no_price_no_kit": (
        "clamps.csv: 1 problem, nothing was solved.\n"
        "  line 2, price: has no price and no kit contains it. Write a price. A part you own "
        "belongs in the rig file."
    ),
    "no_pumps": (
        "no_pumps: 1 problem, nothing was solved.\n  folder: pumps.csv is missing. Add it; it may hold only its header."
    ),
    "noise_of_a_jet": (
        'pumps.csv: 1 problem, nothing was solved.\n  line 2, noise_dba: "140" is too large: at most 120. Write for example "34".'
    ),
    "not_finite": (
        "clamps.csv: 2 problems, nothing was solved.\n"
        '  line 2, low_mm: "nan" is not a finite number. Write for example "20".\n'
        '  line 2, high_mm: "inf" is not a finite number. Write for example "24".'
    ),
    "not_utf8": (
        "clamps.csv: 1 problem, nothing was solved.\n"
        "  file: the text is not UTF-8 (first bad byte in line 2). Save the file as UTF-8 (in a "
        'spreadsheet: "CSV UTF-8").'
    ),
    "nozzle_of_two_holes": (
        "outlets.csv: 1 problem, nothing was solved.\n"
        '  line 3, holes: only a bar has more than one hole. Write form "bar", or 1 hole.'
    ),
    "nul": (
        "clamps.csv: 1 problem, nothing was solved.\n"
        "  file: there is a NUL character in line 2. Save the file again as plain text."
    ),
    "open_quotes": (
        "clamps.csv: 1 problem, nothing was solved.\n"
        "  file: the cells cannot be told apart from line 3 on (unexpected end of data). Look "
        "for a quotation mark that is never closed; write inch marks as in."
    ),
    "pack_of_nothing": (
        "clamps.csv: 2 problems, nothing was solved.\n"
        '  line 2, pack: "0" is too small: at least 1. Write for example "2".\n'
        '  line 3, pack: "1.5" is not a whole number. Write for example "2".'
    ),
    "passage_wider_than_bore": (
        "couplings.csv: 1 problem, nothing was solved.\n"
        "  line 2, passage_mm: the passage (13 mm) is wider than the smaller bore (12 mm). Write "
        "the narrowest bore inside, or leave it out."
    ),
    "ragged_rows": (
        "clamps.csv: 2 problems, nothing was solved.\n"
        "  line 3: the row has 5 cells, the header 6. Give every column a cell, empty if need "
        "be; put text with a separator in quotation marks.\n"
        "  line 4: the row has 7 cells, the header 6. Give every column a cell, empty if need "
        "be; put text with a separator in quotation marks."
    ),
    "same_id_in_a_file": (
        "clamps.csv: 1 problem, nothing was solved.\n"
        '  line 3, id: "CLAMP-22" stands already in clamps.csv line 2. Give each part an id of '
        "its own."
    ),
    "same_id_in_two_files": (
        "clamps.csv: 1 problem, nothing was solved.\n"
        '  line 2, id: "PUMP-1" stands already in pumps.csv line 2. Give each part an id of its '
        "own."
    ),
    "text_in_number_cell": (
        'clamps.csv: 1 problem, nothing was solved.\n  line 2, low_mm: "twenty" is not a plain number. Write for example "20".'
    ),
    "too_large": (
        'clamps.csv: 1 problem, nothing was solved.\n  line 2, high_mm: "2400" is too large: at most 500. Write for example "24".'
    ),
    "unit_in_number_cell": (
        "clamps.csv: 1 problem, nothing was solved.\n"
        '  line 2, low_mm: "20 mm" is not a plain number. The unit stands in the header (mm). '
        'Write for example "20".'
    ),
    "unknown_column": (
        'clamps.csv: 1 problem, nothing was solved.\n  header: the column "packs" is not known. Near names: "pack".'
    ),
    "unknown_form": (
        "guards.csv: 1 problem, nothing was solved.\n"
        '  line 2, form: "slotts" is not known here. Near names: "slots". Write one of: slots, '
        "holes, mesh, sponge."
    ),
    "unknown_role": (
        "couplings.csv: 1 problem, nothing was solved.\n"
        '  line 2, role: "couple" is not known here. Near names: "coupling". Write one of: '
        "coupling, valve, elbow."
    ),
}


def test_every_broken_catalog_is_listed() -> None:
    assert sorted(MESSAGES) == sorted(path.name for path in BROKEN.iterdir())


@pytest.mark.parametrize("name", MESSAGES)
def test_message(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(BROKEN)
    with pytest.raises(InputError) as caught:
        read_catalog(name)
    assert str(caught.value) == MESSAGES[name]


def test_missing_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError) as caught:
        read_catalog("shop")
    assert str(caught.value) == (
        "shop: 1 problem, nothing was solved.\n  folder: there is no such catalog folder. Give the folder that holds pumps.csv."
    )


def test_a_file_in_place_of_a_folder(tmp_path: Path) -> None:
    (tmp_path / "shop").write_text("id,name\n", encoding="utf-8")
    with pytest.raises(InputError, match="there is no such catalog folder"):
        read_catalog(tmp_path / "shop")
