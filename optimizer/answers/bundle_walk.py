"""A bundle part by part and joint by joint, branches one after the other, each with the name of its place."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from optimizer.model.options import Chain, FilledBranch, Option
from optimizer.model.rig import Rig


@dataclass(frozen=True, slots=True, kw_only=True)
class Closing:
    """A joint between two neighbours, by the names of their places."""

    before: str
    after: str
    chain: Chain

    @property
    def name(self) -> str:
        """The joint in words."""
        return f"joint {self.before} to {self.after}"


def each_option(options: Sequence[Option]) -> Iterator[Option]:
    """All options in the order of the water, those inside branches instead of the position that holds them."""
    for option in options:
        yield from option.each


def each_fork(options: Iterable[Option]) -> Iterator[Option]:
    """The options that hold branches, those within a branch behind the one that it is in."""
    for option in options:
        if option.ways is not None:
            yield option
            yield from each_fork(inner for way in option.ways.branches for inner in way.options)


def changes_bio_media(rig: Rig, options: Sequence[Option]) -> bool:
    """True when another medium, or none, comes to a tray where bacteria live today."""
    for fill in (fill for option in options for fill in option.fills):
        old = rig.trays[fill.tray].medium
        if old is not None and old.biological and (fill.medium is None or fill.medium.id != old.id):
            return True
    return False


def closings(options: Sequence[Option], joints: Sequence[Chain]) -> Iterator[Closing]:
    """Every joint, in the order of the water."""
    before = ""
    for option, joint in zip(options, joints, strict=True):
        if not option.is_there:
            continue
        if before:
            yield Closing(before=before, after=option.entry_place, chain=joint)
        yield from _within(option)
        before = option.exit_place


def _within(option: Option) -> Iterator[Closing]:
    """The joints inside the branches of an option."""
    if option.ways is not None:
        for way in option.ways.branches:
            yield from _inside(way, option.ways.parting, option.ways.meeting)


def _inside(way: FilledBranch, parting: Option | None, meeting: Option | None) -> Iterator[Closing]:
    before = "" if parting is None else parting.place
    for option, joint in zip(way.options, way.joints, strict=False):
        if joint is not None:
            yield Closing(before=before, after=option.entry_place, chain=joint)
        yield from _within(option)
        if option.is_there:
            before = option.exit_place
    if way.joints[-1] is not None and meeting is not None:
        yield Closing(before=before, after=meeting.place, chain=way.joints[-1])
