"""What is read of the distillate of any still, beside its strength."""

from __future__ import annotations

from batches.sheets import fields

TEMPERATURE = fields.celsius(
    "celsius", "Temperature of the distillate", short="Temperature", low="0", high="100", usual=("5", "30")
)
