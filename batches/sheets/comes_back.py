"""What a sheet says of goods that come back into suspension: whether their duty was paid, what of them is spoilt."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ComesBack:
    """Bottles come back by a sheet: its fields for how many, their size and label, what of them is spoilt, whether they
    come under bond or duty paid (and the word for that), the claim to drawback, and the removal they had left by.
    """

    bottles: str
    centilitres: str
    percent: str
    spoilt: str
    status: str
    paid: str
    claim: str
    removal: str

    @property
    def fields(self) -> tuple[str, ...]:
        """The fields that it names."""
        return self.bottles, self.centilitres, self.percent, self.spoilt, self.status, self.claim, self.removal
