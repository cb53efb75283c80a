"""Each file in data/broken/rigs has one kind of problem; the whole message the keeper sees is checked."""

from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig
from optimizer.model.catalog import Catalog

DATA = Path(__file__).parent.parent / "data"
BROKEN = DATA / "broken" / "rigs"

MESSAGES = {
    "above_and_below": (
        "above_and_below.toml: 1 problem, nothing was solved.\n"
        "  loop.outlet.above_water: stands beside below_water. Keep one of the two."
    ),
    "absent_branch_with_a_part": (
        "absent_branch_with_a_part.toml: 1 problem, nothing was solved.\n"
        "  loop.treatment.bypass.hose.part: tells of a part, but this branch is not there. Keep "
        "only kind, length, bends, bend_radius and coil here."
    ),
    "absent_branch_with_a_state": (
        "absent_branch_with_a_state.toml: 2 problems, nothing was solved.\n"
        "  loop.treatment.bypass.hose.film: tells of a part, but this branch is not there. Keep "
        "only kind, length, bends, bend_radius and coil here.\n"
        "  loop.treatment.bypass.tap.installed: tells of a part, but this branch is not there. "
        "Keep only kind here."
    ),
    "absent_branch_without_length": (
        "absent_branch_without_length.toml: 1 problem, nothing was solved.\n"
        '  loop.treatment.bypass.hose.length: is missing. Write for example "1.8 m".'
    ),
    "adapter_as_a_place": (
        "adapter_as_a_place.toml: 1 problem, nothing was solved.\n"
        '  loop.valve.part: "RED-19-16" is an adapter, not an elbow. Write the id of an elbow, or '
        "describe the part here."
    ),
    "adjust_of_nothing": (
        "adjust_of_nothing.toml: 1 problem, nothing was solved.\n"
        '  loop.outlet.adjust[1]: does not say what changes. Write for example below_water = "2 '
        'cm" or hole = "4.5 mm".'
    ),
    "ambiguous_comma": (
        "ambiguous_comma.toml: 1 problem, nothing was solved.\n"
        '  tank.volume: "1,200 l" can be read with a thousands comma or with a decimal comma. '
        'Write "1200 l" or "1.2 l".'
    ),
    "bare_number": (
        'bare_number.toml: 1 problem, nothing was solved.\n  tank.volume: "120" has no unit. Write for example "120 l".'
    ),
    "blocked_all": (
        "blocked_all.toml: 1 problem, nothing was solved.\n"
        '  loop.intake.blocked: "100 %" must be less than 100 %. Write for example "40 %".'
    ),
    "bore_wider_than_tail": (
        "bore_wider_than_tail.toml: 1 problem, nothing was solved.\n"
        "  loop.canister.inlet_bore: a bore of 16 mm is as wide as the 16 mm tail itself or "
        "wider. Measure the open inside diameter and write it."
    ),
    "branch_of_no_name": (
        "branch_of_no_name.toml: 1 problem, nothing was solved.\n"
        '  loop.intakes.on the right: "on the right" is not an id. Name the branch with one word, '
        'for example "left".'
    ),
    "branch_of_nothing": (
        "branch_of_nothing.toml: 1 problem, nothing was solved.\n"
        "  loop.treatment.bypass: the branch has no places. Write [loop.treatment.bypass.hose] "
        'and below it kind = "hose".'
    ),
    "branch_place_of_unknown_kind": (
        "branch_place_of_unknown_kind.toml: 1 problem, nothing was solved.\n"
        '  loop.treatment.reactor.unit.kind: "devise" is not known here. Near names: "device". '
        "Write one of: guard, hose, coupling, valve, elbow, tail, device, non-return valve, outlet, branches."
    ),
    "branch_with_a_pump": (
        "branch_with_a_pump.toml: 1 problem, nothing was solved.\n"
        "  loop.treatment.reactor.unit.kind: a branch holds no pump. Put it before the place with "
        "the branches or behind it."
    ),
    "branch_with_two_guards": (
        "branch_with_two_guards.toml: 1 problem, nothing was solved.\n"
        '  loop: the loop has 3 places with kind "guard": left.strainer, right.strainer, '
        "right.second. Keep one in each branch."
    ),
    "branch_with_unknown_key": (
        "branch_with_unknown_key.toml: 1 problem, nothing was solved.\n"
        '  loop.treatment.bypass.instaled: this key is not known here. Near names: "installed".'
    ),
    "branch_without_guard": (
        "branch_without_guard.toml: 1 problem, nothing was solved.\n"
        "  loop.intakes.right.hose: the loop starts here, but this branch starts with a hose. Let "
        'each branch start with a place of kind = "guard".'
    ),
    "branch_without_outlet": (
        "branch_without_outlet.toml: 1 problem, nothing was solved.\n"
        "  loop.outlets.right.hose: the loop ends here, but this branch ends with a hose. Let "
        'each branch end with a place of kind = "outlet".'
    ),
    "branches_as_text": (
        "branches_as_text.toml: 2 problems, nothing was solved.\n"
        "  loop.intakes.right: this key is not known here. Known here: meeting_2, meeting_3, parting, parting_2, parting_3.\n"
        "  loop.intakes: there is 1 branch (left), not 2 to 4. Write two tables, for example "
        "[loop.intakes.left] and [loop.intakes.right], and below each its places."
    ),
    "branches_without_tee": (
        "branches_without_tee.toml: 2 problems, nothing was solved.\n"
        "  loop.treatment.parting: is missing, but two branches that are there part at a tee. "
        'Write for example parting = {part = "TEE-16"}.\n'
        "  loop.treatment.meeting: is missing, but two branches that are there meet at a tee. "
        'Write for example meeting = {part = "TEE-16"}.'
    ),
    "broken_toml": (
        "broken_toml.toml: 1 problem, nothing was solved.\n"
        "  file: broken TOML at line 2, column 16: Illegal character '\\n'. A line reads: name = "
        '"value"; text and quantities stand in quotes.'
    ),
    "budget_negative": (
        "budget_negative.toml: 1 problem, nothing was solved.\n"
        '  limits.budget: "-1" is negative. Write 0 or more, for example "12.50".'
    ),
    "budget_with_currency": (
        "budget_with_currency.toml: 1 problem, nothing was solved.\n"
        '  limits.budget: "100 €" names a currency. Write the number alone, for example "12.50".'
    ),
    "bypass_before_the_intake": (
        "bypass_before_the_intake.toml: 1 problem, nothing was solved.\n"
        "  loop.treatment: the loop starts with branches, not with a guard. A loop runs from a "
        "guard through canister and pump to an outlet. Put the tables in the order of the "
        "water."
    ),
    "curve_and_label": (
        "curve_and_label.toml: 1 problem, nothing was solved.\n"
        "  loop.pump.curve: measured points stand beside figures of the label. Keep one of the "
        "two."
    ),
    "curve_that_rises": (
        "curve_that_rises.toml: 1 problem, nothing was solved.\n"
        "  loop.pump.curve: the head of a pump falls as the flow rises, but not from 0 l/h at "
        '1.8 m to 600 l/h at 1.9 m. Write for example ["0 l/h: 2.2 m", "1000 l/h: 1.5 m", "2000 '
        'l/h: 0 m"].'
    ),
    "empty_file": (
        "empty_file.toml: 2 problems, nothing was solved.\n"
        '  tank: the table is missing. Write [tank] and below it volume = "120 l".\n'
        '  loop: the table is missing. Write [loop.intake] and below it kind = "guard".'
    ),
    "empty_loop": (
        "empty_loop.toml: 1 problem, nothing was solved.\n"
        "  loop: the loop is empty. A loop runs from a guard through canister and pump to an "
        "outlet. Begin with [loop.intake]."
    ),
    "end_without_gender": (
        "end_without_gender.toml: 1 problem, nothing was solved.\n"
        '  loop.canister.inlet: "G 3/4 in" does not say male or female. Write "G 3/4 in male" '
        '(goes inside) or "G 3/4 in female".'
    ),
    "feed_without_protein": (
        'feed_without_protein.toml: 1 problem, nothing was solved.\n  feeding.protein: is missing. Write for example "45 %".'
    ),
    "film_fills_the_bore": (
        "film_fills_the_bore.toml: 1 problem, nothing was solved.\n"
        "  loop.suction_hose.film: the film fills the bore of 16 mm. Write its thickness, for "
        'example "0.5 mm".'
    ),
    "first_branch_not_there": (
        "first_branch_not_there.toml: 1 problem, nothing was solved.\n"
        "  loop.intakes.left.installed: only the second branch may be one that is not there. Put "
        "the branch that is there first."
    ),
    "guard_in_the_middle": (
        "guard_in_the_middle.toml: 1 problem, nothing was solved.\n"
        "  loop.suction_hose: the loop starts with a hose, not with a guard. A loop runs from a "
        "guard through canister and pump to an outlet. Put the tables in the order of the water."
    ),
    "half_a_bend": (
        "half_a_bend.toml: 1 problem, nothing was solved.\n"
        '  loop.suction_hose.bends: "1.5" is not a whole number. Write for example "12".'
    ),
    "half_a_label": (
        "half_a_label.toml: 1 problem, nothing was solved.\n"
        "  loop.pump.max_flow: is missing, but the label of a pump needs both greatest head and "
        'flow. Write for example "2000 l/h".'
    ),
    "holes_in_a_nozzle": (
        "holes_in_a_nozzle.toml: 1 problem, nothing was solved.\n"
        '  loop.outlet.holes: only a bar has more than one hole. Write form "bar", or 1 hole.'
    ),
    "hose_one_diameter": (
        "hose_one_diameter.toml: 1 problem, nothing was solved.\n"
        '  loop.suction_hose.size: "16 mm" gives one diameter; a hose needs inside and outside. '
        'Write for example "16/22 mm".'
    ),
    "hose_outside_smaller": (
        "hose_outside_smaller.toml: 1 problem, nothing was solved.\n"
        "  loop.suction_hose.outside: the outside (15 mm) is not wider than the inside (16 mm). "
        "Measure both diameters and write the larger one as the outside."
    ),
    "hose_size_swapped": (
        "hose_size_swapped.toml: 1 problem, nothing was solved.\n"
        '  loop.suction_hose.size: "22/16 mm" does not give an inside smaller than its outside. '
        'Write for example "16/22 mm".'
    ),
    "hose_without_length": (
        "hose_without_length.toml: 1 problem, nothing was solved.\n"
        '  loop.suction_hose.length: is missing. Write for example "1.8 m".'
    ),
    "hose_without_size": (
        "hose_without_size.toml: 1 problem, nothing was solved.\n"
        '  loop.suction_hose.size: is missing. Write for example "16/22 mm".'
    ),
    "key_twice": (
        "key_twice.toml: 1 problem, nothing was solved.\n"
        "  file: broken TOML at line 3, column 17: Cannot overwrite a value. A line reads: name "
        '= "value"; text and quantities stand in quotes.'
    ),
    "limits_crossed": (
        "limits_crossed.toml: 1 problem, nothing was solved.\n"
        "  limits.turnover_min: the least flow (612 l/h) is above the greatest (flow_max: 300 "
        "l/h). Lower the one or raise the other."
    ),
    "loop_is_a_list": (
        "loop_is_a_list.toml: 1 problem, nothing was solved.\n"
        "  loop: this is not a table of 1 to 100 places. A loop runs from a guard through "
        "canister and pump to an outlet. Begin with [loop.intake]."
    ),
    "loop_without_guard": (
        'loop_without_guard.toml: 1 problem, nothing was solved.\n  loop: the loop has no guard. Add a place with kind = "guard".'
    ),
    "mains_of_40_hz": (
        "mains_of_40_hz.toml: 1 problem, nothing was solved.\n"
        '  site.mains: 40 Hz is not a mains frequency. Write "50 Hz" or "60 Hz".'
    ),
    "many_at_once": (
        "many_at_once.toml: 4 problems, nothing was solved.\n"
        '  tank.volume: "120" has no unit. Write for example "120 l".\n'
        '  limits.budget: "100 €" names a currency. Write the number alone, for example "12.50".\n'
        '  loop.intake.blocked: "100 %" must be less than 100 %. Write for example "40 %".\n'
        '  loop.suction_hose.part: no part "HOSE-1622" in hoses.csv. Near names: "HOSE-16-22", '
        '"HOSE-19-27", "HOSE-19-RIB".'
    ),
    "many_in_branches": (
        "many_in_branches.toml: 3 problems, nothing was solved.\n"
        '  loop.treatment.reactor.unit.part: no part "HEATER-30" in devices.csv. Near names: '
        '"HEATER-300".\n'
        '  loop.treatment.bypass.hose.length: "0.7" has no unit. Write for example "16 mm".\n'
        "  loop.treatment.meeting: one of the branches is not there, so they need no tee. Leave "
        "the tee out."
    ),
    "medium_is_a_hose": (
        "medium_is_a_hose.toml: 1 problem, nothing was solved.\n"
        '  loop.canister.trays[1].medium: "HOSE-16-22" is a hose, not a medium. Write the id of '
        "a medium."
    ),
    "missing_bore": (
        "missing_bore.toml: 2 problems, nothing was solved.\n"
        "  loop.canister.inlet_bore: the open bore of this end is missing. Measure its inside "
        "diameter and write it.\n"
        "  loop.canister.outlet_bore: the open bore of this end is missing. Measure its inside "
        "diameter and write it."
    ),
    "missing_key": ('missing_key.toml: 1 problem, nothing was solved.\n  tank.volume: is missing. Write for example "450 l".'),
    "missing_kind": (
        "missing_kind.toml: 1 problem, nothing was solved.\n"
        "  loop.pump.kind: is missing. Write one of: guard, hose, coupling, valve, elbow, tail, "
        "canister, pump, device, non-return valve, outlet, branches."
    ),
    "missing_table": (
        "missing_table.toml: 1 problem, nothing was solved.\n"
        '  tank: the table is missing. Write [tank] and below it volume = "120 l".'
    ),
    "missing_unit": (
        'missing_unit.toml: 1 problem, nothing was solved.\n  tank.volume: "120" has no unit. Write for example "120 l".'
    ),
    "negative": ('negative.toml: 1 problem, nothing was solved.\n  tank.volume: "-120 l" is negative. Write at least "0 l".'),
    "net_above_nominal": (
        "net_above_nominal.toml: 1 problem, nothing was solved.\n"
        "  tank.net_volume: the net volume (150 l) is above the nominal volume (120 l). Write "
        "the water that is really in the tank."
    ),
    "no_trays": (
        "no_trays.toml: 1 problem, nothing was solved.\n"
        "  loop.canister.trays: a canister has 1 to 12 trays, not 0. Write for example trays = [ "
        '{medium = "FOAM-20"}, {empty = true} ].'
    ),
    "not_finite": (
        "not_finite.toml: 1 problem, nothing was solved.\n"
        '  tank.volume: "nan l" is not a finite number. Write for example "120 l".'
    ),
    "not_utf8": (
        "not_utf8.toml: 1 problem, nothing was solved.\n"
        "  file: the text is not UTF-8 (first bad byte in line 2). Save the file as UTF-8 (in a "
        'spreadsheet: "CSV UTF-8").'
    ),
    "nul": (
        "nul.toml: 1 problem, nothing was solved.\n  file: there is a NUL character in line 2. Save the file again as plain text."
    ),
    "number_where_text": (
        "number_where_text.toml: 1 problem, nothing was solved.\n"
        "  loop.suction_hose.kind: the number 16 stands where text is expected. Write one of: "
        "guard, hose, coupling, valve, elbow, tail, canister, pump, device, non-return valve, outlet, branches."
    ),
    "one_branch": (
        "one_branch.toml: 1 problem, nothing was solved.\n"
        "  loop.intakes: there is 1 branch (left), not 2 to 4. Write two tables, for example "
        "[loop.intakes.left] and [loop.intakes.right], and below each its places."
    ),
    "part_and_own_keys": (
        "part_and_own_keys.toml: 1 problem, nothing was solved.\n"
        "  loop.pump.power: describes a part that is named already. Keep part, or the part's own "
        "keys."
    ),
    "part_of_another_kind": (
        "part_of_another_kind.toml: 1 problem, nothing was solved.\n"
        '  loop.suction_hose.part: "PUMP-1200" is a pump, not a hose. Write the id of a hose, or '
        'kind = "pump".'
    ),
    "place_name_twice": (
        "place_name_twice.toml: 1 problem, nothing was solved.\n"
        '  loop.outlets.left.hose: "left.hose" is what loop.intakes.left.hose is called already. '
        "Give every branch of the rig a name of its own."
    ),
    "role_of_another_fitting": (
        "role_of_another_fitting.toml: 1 problem, nothing was solved.\n"
        '  loop.valve.part: "VALVE-16" is a valve, not a coupling. Write the id of a coupling, '
        'or kind = "valve".'
    ),
    "spare_clamp_reversed": (
        "spare_clamp_reversed.toml: 1 problem, nothing was solved.\n"
        "  spares[1].high: 20 mm is below the 24 mm it starts at. Swap the two."
    ),
    "spare_hose_by_count": (
        "spare_hose_by_count.toml: 2 problems, nothing was solved.\n"
        "  spares[1].count: does not say how much of a hose there is. Write length. List each "
        "piece of hose apart.\n"
        '  spares[1].length: is missing. Write for example "2 m".'
    ),
    "spare_without_part": (
        "spare_without_part.toml: 1 problem, nothing was solved.\n"
        "  spares[1]: says neither part nor kind. Write [[spares]] and below it part and count, "
        "length or volume."
    ),
    "stays_and_may_go": (
        "stays_and_may_go.toml: 1 problem, nothing was solved.\n"
        "  loop.pump.may_go: a place that stays cannot be left out. Keep one of the two."
    ),
    "table_is_text": (
        "table_is_text.toml: 1 problem, nothing was solved.\n  tank: this is not a table. Write [tank] and its keys below it."
    ),
    "tee_and_own_keys": (
        "tee_and_own_keys.toml: 1 problem, nothing was solved.\n"
        "  loop.intakes.meeting.angle: describes a part that is named already. Keep part, or the "
        "part's own keys."
    ),
    "tee_as_text": (
        "tee_as_text.toml: 1 problem, nothing was solved.\n"
        "  loop.intakes.meeting: this is not a table. Write for example meeting = {part = "
        '"TEE-16"}.'
    ),
    "tee_in_the_tank": (
        "tee_in_the_tank.toml: 1 problem, nothing was solved.\n"
        "  loop.intakes.parting: the branches do not part: they start in the tank. Leave the tee "
        "out."
    ),
    "tee_of_another_kind": (
        "tee_of_another_kind.toml: 1 problem, nothing was solved.\n"
        '  loop.intakes.meeting.part: "CPL-16" is a coupling, not a tee. Write the id of a tee.'
    ),
    "tee_of_nothing": (
        "tee_of_nothing.toml: 1 problem, nothing was solved.\n"
        "  loop.intakes.meeting: does not say which tee. Write for example meeting = {part = "
        '"TEE-16"}.'
    ),
    "tee_of_one_branch": (
        "tee_of_one_branch.toml: 1 problem, nothing was solved.\n"
        "  loop.treatment.parting: one of the branches is not there, so they need no tee. Leave "
        "the tee out."
    ),
    "tee_that_is_unknown": (
        "tee_that_is_unknown.toml: 1 problem, nothing was solved.\n"
        '  loop.intakes.meeting.part: no part "TEE-61" in tees.csv. Near names: "TEE-16".'
    ),
    "tee_too_sharp": (
        "tee_too_sharp.toml: 1 problem, nothing was solved.\n"
        '  loop.intakes.meeting.angle: "20 deg" is too small: at least 30 deg. Write for example '
        '"45 deg".'
    ),
    "tee_with_a_wide_side": (
        "tee_with_a_wide_side.toml: 1 problem, nothing was solved.\n"
        "  loop.intakes.meeting.side_passage: the passage of the side (14 mm) is wider than that "
        "of the run (12 mm). Swap the ends so that the wider ones are inlet and outlet, or "
        "leave it out."
    ),
    "text_where_flag": (
        "text_where_flag.toml: 1 problem, nothing was solved.\n"
        '  loop.pump.stays: "yes" stands where true or false is expected. Write true or false, '
        "without quotes."
    ),
    "thread_of_no_size": (
        "thread_of_no_size.toml: 1 problem, nothing was solved.\n"
        '  loop.canister.inlet: "NPT 16 mm male" has no size of a thread. Threads are named in '
        'inches by eighths up to 4; write for example "NPT 3/4 in male".'
    ),
    "three_branches": (
        "three_branches.toml: 1 problem, nothing was solved.\n"
        "  loop.intakes.meeting_2: is missing, but two branches that are there meet at a tee. Write for "
        'example meeting_2 = {part = "TEE-16"}.'
    ),
    "too_hot_and_salty": (
        "too_hot_and_salty.toml: 2 problems, nothing was solved.\n"
        '  tank.temperature: "180 degF" is too large: at most 40 degC. Write for example "25 '
        'degC".\n'
        '  tank.salinity: "60 g/kg" is too large: at most 50 g/kg. Write for example "35 g/kg".'
    ),
    "tray_of_half_a_medium": (
        "tray_of_half_a_medium.toml: 2 problems, nothing was solved.\n"
        "  loop.canister.trays[1].form: is missing. Write one of: foam, granules, rings, fibre.\n"
        "  loop.canister.trays[1].area: a biological medium needs a surface for bacteria. Write "
        'for example "900 m2/m3".'
    ),
    "tray_of_nothing": (
        "tray_of_nothing.toml: 1 problem, nothing was solved.\n"
        '  loop.canister.trays[2]: does not say what the tray holds. Write {medium = "FOAM-20"} '
        "or {empty = true}."
    ),
    "tray_said_twice": (
        "tray_said_twice.toml: 1 problem, nothing was solved.\n"
        "  loop.canister.trays[1]: says in more than one way what the tray holds. Keep medium, "
        "empty or the medium's own keys."
    ),
    "trays_as_a_number": (
        "trays_as_a_number.toml: 1 problem, nothing was solved.\n"
        "  loop.canister.trays: this is not a list of tables. Write for example trays = [ "
        '{medium = "FOAM-20"}, {empty = true} ].'
    ),
    "turned_as_described": (
        "turned_as_described.toml: 1 problem, nothing was solved.\n"
        "  loop.in_tail.turned: turns a part that is described here. Swap its inlet and its "
        "outlet instead."
    ),
    "turned_pump": (
        "turned_pump.toml: 1 problem, nothing was solved.\n"
        "  loop.pump.turned: this key is not known here. Known here: curve, curve_shape, depth, "
        "fouled, height, inlet, inlet_bore, label_hz, length, max_flow, max_head, may_go, name, noise, outlet, "
        "outlet_bore, plug, power, stays, width, worn."
    ),
    "turnover_without_rate": (
        "turnover_without_rate.toml: 1 problem, nothing was solved.\n"
        '  limits.turnover_min: "6" has no unit. Write for example "4 per hour".'
    ),
    "two_losses": (
        "two_losses.toml: 1 problem, nothing was solved.\n"
        "  loop.heater.kv: says its loss in more than one way. Give one of: kv, k, or one "
        "measured point."
    ),
    "two_pumps": (
        "two_pumps.toml: 1 problem, nothing was solved.\n"
        '  loop: the loop has 2 places with kind "pump": pump, booster. Keep one of them.'
    ),
    "two_wishes": ("two_wishes.toml: 1 problem, nothing was solved.\n  wish.flow: stands beside turnover. Keep one of the two."),
    "union_without_key": (
        "union_without_key.toml: 1 problem, nothing was solved.\n"
        '  loop.canister.inlet: "union male" does not say whose union it is. Write one word for '
        'the maker\'s shape and the gender, for example "union M30 male".'
    ),
    "unknown_end": (
        "unknown_end.toml: 1 problem, nothing was solved.\n"
        '  loop.canister.inlet: "tial 16 mm" is not an end. Near names: "tail". Write for '
        'example "tail 16 mm", "hose 16 mm", "G 3/4 in male", "slip mm 25 mm female", "union KEY '
        'male", "open".'
    ),
    "unknown_key": (
        "unknown_key.toml: 1 problem, nothing was solved.\n"
        '  tank.temprature: this key is not known here. Near names: "temperature".'
    ),
    "unknown_kind": (
        "unknown_kind.toml: 1 problem, nothing was solved.\n"
        '  loop.pump.kind: "pomp" is not known here. Near names: "pump". Write one of: guard, '
        "hose, coupling, valve, elbow, tail, canister, pump, device, non-return valve, outlet, branches."
    ),
    "unknown_limit": (
        'unknown_limit.toml: 1 problem, nothing was solved.\n  limits.noize: this key is not known here. Near names: "noise".'
    ),
    "unknown_medium": (
        "unknown_medium.toml: 1 problem, nothing was solved.\n"
        '  loop.canister.trays[1].medium: no part "FOAM-200" in media.csv. Near names: "FOAM-20".'
    ),
    "unknown_part": (
        "unknown_part.toml: 1 problem, nothing was solved.\n"
        '  loop.suction_hose.part: no part "HOSE-1622" in hoses.csv. Near names: "HOSE-16-22", '
        '"HOSE-19-27", "HOSE-19-RIB".'
    ),
    "unknown_table": (
        'unknown_table.toml: 1 problem, nothing was solved.\n  limit: this key is not known here. Near names: "limits".'
    ),
    "unknown_unit": (
        "unknown_unit.toml: 1 problem, nothing was solved.\n"
        '  tank.volume: "120 litters" has an unknown unit "litters". Near units: "liters", '
        '"liter", "litres". Write for example "120 l".'
    ),
    "window_reversed": (
        "window_reversed.toml: 1 problem, nothing was solved.\n"
        '  loop.heater.window: "800-300 l/h" does not run from less to more. Write for example '
        '"300-800 l/h".'
    ),
    "wrong_kind_of_unit": (
        "wrong_kind_of_unit.toml: 1 problem, nothing was solved.\n"
        '  tank.volume: "120 cm" is a length, not a volume. Write for example "120 l".'
    ),
}


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return read_catalog(DATA / "small" / "catalog")


def test_every_broken_rig_is_listed() -> None:
    assert sorted(MESSAGES) == sorted(path.stem for path in BROKEN.iterdir())


@pytest.mark.parametrize("name", MESSAGES)
def test_message(name: str, shop: Catalog) -> None:
    with pytest.raises(InputError) as caught:
        read_rig(BROKEN / f"{name}.toml", shop)
    assert str(caught.value) == MESSAGES[name]


@pytest.mark.parametrize("name", MESSAGES)
def test_message_is_for_a_keeper(name: str) -> None:
    """Every problem ends in a cure, in words, without the language's own."""
    for line in MESSAGES[name].splitlines()[1:]:
        assert line.endswith((".", "!", "?"))
        assert not any(word in line for word in ("None", "Traceback", "Error", "dict", "float", "str "))
