"""The steps of the process, one module each: whatever stands here with a `SHEET` is a step.

Nobody lists them. Each says itself which step it stands after; `STEPS` has them in that order.
"""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules

from batches.sheets.register import NoSuchStep, register, sheet_of
from batches.sheets.sheet import Sheet

__all__ = ["STEPS", "NoSuchStep", "sheet_of"]


def _found() -> list[Sheet]:
    modules = (import_module(f"{__name__}.{found.name}") for found in iter_modules(__path__) if not found.ispkg)
    return [module.SHEET for module in modules]


STEPS: tuple[Sheet, ...] = register(_found())
