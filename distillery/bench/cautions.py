"""The usual cautions at the bench, common practice, no source. The site's own risk assessment comes first."""

from typing import Final

MOVING: Final = (
    "Spirit and its vapour burn. Before any is moved or mixed: no flame or spark, vessels and hoses bonded and "
    "earthed, extraction running, the receiving vessel known to have room."
)
REDUCING: Final = (
    f"{MOVING} Add water slowly with mixing: the mixture warms and its volume changes. Nobody enters or leans into "
    "a vat."
)
SAMPLING: Final = (
    "Vapour at a hatch can be flammable and can overcome. Ventilate, keep sparks away, and do not lean into the vessel."
)
CASKS: Final = (
    "A full cask weighs more than a person can hold. Chock it, lift it with the gear meant for it, keep hands and feet "
    "clear of its path."
)
WASH: Final = (
    "A washback gives off carbon dioxide. Test the air before opening or leaning over it; nobody enters alone."
)
