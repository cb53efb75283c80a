"""The least and the most that a figure of a tank, a loop or a part can be (SI): beyond it somebody slipped a unit or a comma.

Common practice, no published source: chosen well outside of what is sold and built, so that nothing real is refused.
"""

from __future__ import annotations

Range = tuple[float, float]

# Bores, passages and diameters of hoses and pipes in m: air line has 4 mm, the drains of a public aquarium half a metre.
BORE: Range = (1e-3, 0.5)
ACROSS: Range = (2e-3, 0.5)  # What a clamp closes on in m.
HOLE: Range = (3e-4, 0.5)  # Holes, nozzles and mouths of outlets in m: the finest drill of a workshop has 0.3 mm.
PITCH: Range = (1e-3, 1.0)  # From hole to hole of a bar in m.
GAP: Range = (1e-5, 0.1)  # Gaps of guards in m, pores of sponges among them: the finest mesh has 10 um.
GRAIN: Range = (1e-4, 0.1)  # Grains and balls in m, from fine sand to a fist.
FIBRE: Range = (1e-6, 1e-3)  # Fibres in m.
BED_HEIGHT: Range = (1e-3, 2.0)  # Trays and walls of sponges in m.
CAKE: Range = (0.0, 0.2)  # Cakes on media and sponges in m, from none to a hand's breadth of mulm.
FACE: Range = (2e-5, 2.0)  # Faces of guards in m2: the open end of a 6 mm pipe has 0.3 cm2.
TRAY_FACE: Range = (1e-4, 2.0)  # Trays in m2.
RUN: Range = (5e-3, 1000.0)  # Runs, coils and turns of hose in m.
STEP: Range = (1e-3, 10.0)  # Steps in which cut hose is charged in m.
BEND: Range = (1e-3, 10.0)  # Radius of a turn in m.
DISTANCE: Range = (0.01, 100.0)  # From a pump to an ear in m.
SIDE: Range = (0.05, 50.0)  # Sides of tanks and of cabinets in m.
TANK_VOLUME: Range = (5e-4, 1000.0)  # Tanks in m3: half a litre in a jar to a hall of a public aquarium.
MEDIUM_VOLUME: Range = (1e-6, 1.0)  # Media in m3.
FLOW_RATE: Range = (1e-3 / 3600.0, 100.0 / 3600.0)  # Flows in m3/s: a dosing pump of 1 l/h to 100 m3/h.
KV: Range = (1e-3 / 3600.0, 1.0)  # Kv of devices as a flow in m3/s.
HEAD_HEIGHT: Range = (0.01, 100.0)  # Heads of pumps in m.
WATTS: Range = (0.05, 1e4)  # Power of pumps in W.
DISCHARGE: Range = (0.05, 1.0)  # Discharge coefficients; no hole that is not clogged has less than a tenth.
PORE_COUNT: Range = (1.0, 200.0)  # Pores per inch.
RUBBED: Range = (1.0, 1e5)  # Outer surface of rings in m2/m3.
SHARE_OF_ALL: Range = (1e-3, 1.0)  # Shares that are neither nothing nor below one in a thousand.
FEED_PER_DAY: Range = (1e-6, 100.0)  # Food in kg/day: from a milligram.
FILL_VOLUME: Range = (1e-5, 1.0)  # What is filled against the clock in m3.
FILL_SECONDS: Range = (0.1, 86_400.0)  # How long that takes in s: nobody stops a tenth of a second by hand.

# bounds of which no thing itself is one: a least flow may be nothing
LARGEST_FLOW_M3S = FLOW_RATE[1]
HIGHEST_HEAD_M = HEAD_HEIGHT[1]
LONGEST_RUN_M = RUN[1]
MOST_PIECES = 1000
