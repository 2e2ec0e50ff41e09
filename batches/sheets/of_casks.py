"""What a sheet says of casks and warehouses besides alcohol: where a cask lies, whose it is, what was seen of it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class OfCasks:
    """The fields of a sheet, or of its lines, that say something of a cask.

    `cask` names it. `warehouse`, `row` and `tier` are where it lies from then on; a warehouse left blank says nothing
    of its place. `owner` is whose it is from then on. `seen` is what was seen of it, and among those words `leaks` ask
    for a regauge. `told` are the fields that its life story tells beside the record, after `words`, which hold of every
    cask that it names. `goes`: the cask leaves the site by it, until it is filled again.
    """

    cask: str
    warehouse: str = ""
    row: str = ""
    tier: str = ""
    owner: str = ""
    seen: str = ""
    leaks: tuple[str, ...] = ()
    told: tuple[str, ...] = ()
    words: str = ""
    goes: bool = False

    @property
    def fields(self) -> tuple[str, ...]:
        """All fields it names."""
        named = (self.cask, self.warehouse, self.row, self.tier, self.owner, self.seen, *self.told)
        return tuple(one for one in named if one)
