"""The usual cautions at the bench, common practice, no source. The site's own risk assessment comes first."""

from typing import Final

from distillery.process.maturing import flash_point_celsius

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
SCALDING: Final = "Hot water, steam and hot grist scald: covers shut and valves checked before the mash is started."
FERMENTING: Final = (
    "Carbon dioxide cannot be seen or smelt, is heavier than air, lies in washbacks, sumps and cellars, and kills. "
    "Do not lean in; test the air; ventilate; never go in after someone without the kit and the training."
)
NOT_CARRIED: Final = (
    "Worked out with another instrument or obscuration than a record of today takes, so it is not carried on: a record "
    "corrects the bare reading with what is in use at the vessel."
)
COLD_CELSIUS: Final = 0.0
WEAK_PERCENT: Final = 5.0


def remarks_on(*, celsius: float, percent20: float) -> tuple[str, ...]:
    """Where a reading leaves what a hydrometer and the formula are good for; common practice, no source."""
    remarks = []
    if celsius < COLD_CELSIUS:
        remarks.append(
            f"Read at {celsius:g} °C: weak spirit freezes to slush below 0 °C, and in slush a hydrometer tells "
            "nothing. Make sure that it was liquid, or warm the sample and read again."
        )
    if percent20 < WEAK_PERCENT:
        remarks.append(
            f"{percent20:.2f} % vol is so weak that a little extract hides or mimics all of it: distil a sample of "
            "residues or wash, and read its distillate."
        )
    return tuple(remarks)


def flash_point_note(percent20: float) -> tuple[str, ...]:
    """From which temperature on spirit of a strength (% vol at 20 °C) burns at a flame; nothing for water."""
    celsius = flash_point_celsius(min(100.0, max(0.0, percent20)))
    if celsius is None:
        return ()
    return (
        f"Flash point about {celsius:g} °C in a closed cup (engineeringtoolbox.com, ethanol and water, the lower of "
        "two readings): above it the vapour over the liquid can be lit. The supplier's sheet and the site's own "
        "assessment come first.",
    )
