"""Every table of keys that a rig file can hold, as its readers define them."""

from optimizer.files.field import Field
from optimizer.files.part_kinds import PART_KINDS, PLACE
from optimizer.files.toml_fields import ADAPTER, ADJUST, BRANCH, BRANCHES, FEEDING, JOINT, LIMITS, SITE, SPARE, TANK, TRAY, WISH

RIG_TABLES: tuple[tuple[Field, ...], ...] = (
    *PLACE.values(),
    *(kind.fields for kind in PART_KINDS.values()),
    *(TANK, SITE, FEEDING, LIMITS, WISH, TRAY, ADJUST, SPARE, JOINT, ADAPTER, BRANCH, BRANCHES),
)
