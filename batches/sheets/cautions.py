"""What can hurt someone at a step, said shortly where the step is written down.

A caution names its hazard, which is what the sheet always shows, and says what to do about it in full. Every sheet that
carries one of these also carries the standing sentence of `batches.sheets.sheet`. Sources to read
further: HSE on carbon dioxide and EH40/2005 (limits as quoted there), INDG258 and L101 (confined spaces), L138
and HSG140 (flammable liquids, static), EH66 (grain dust), L23 (manual handling).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caution:
    """What can hurt someone: the hazard in a few words, as they stand in a list, and what is said of it in full."""

    hazard: str
    sentence: str


GRAIN_DUST = Caution(
    "grain dust",
    "Grain dust harms the lungs and can explode: extraction running, no naked flame, destoner and magnets working.",
)
CARBON_DIOXIDE = Caution(
    "carbon dioxide",
    "Carbon dioxide from the wash cannot be seen or smelt and lies in washbacks, sumps and cellars; it kills. "
    "Limits 5,000 ppm over 8 hours and 15,000 ppm over 15 minutes (EH40/2005). Do not lean in; test the air, "
    "ventilate, and never go in after someone without the kit and the training.",
)
CONFINED_SPACE = Caution(
    "entry into vessels",
    "A mash tun, washback, still, vat or silo is a confined space: stay out if the work can be done from outside; "
    "otherwise permit, isolation, tested air, someone outside and a way of getting people out.",
)
# Source of what is said of wet charcoal: from memory.
CHARCOAL = Caution(
    "wet charcoal in a closed vessel",
    "Wet charcoal takes up oxygen: in a closed vessel, bag or bed it can leave air that nobody can breathe. Vent, test "
    "the air, and stay out.",
)
BASKETS = Caution(
    "heavy baskets",
    "Full and wet baskets are heavy, and hot after a run: let the still cool and vent, use the hoist, carry no more "
    "than one person can.",
)
VAPOUR = Caution(
    "vapour that catches fire",
    "Low wines and spirit give off vapour that catches fire at room temperature, and hot wash does too: keep every "
    "source of ignition away and use only equipment rated for the zone.",
)
STATIC = Caution(
    "static",
    "Static can light spirit vapour: bond and earth before opening, use conductive hose, start slowly, never "
    "splash-fill. A plastic container cannot be earthed.",
)
STILL = Caution(
    "hot surfaces, steam and boil-over",
    "Hot surfaces, steam and boil-over: open the air valve before cooling or discharging, and never heat a coil that "
    "the liquid does not cover.",
)
FORESHOTS = Caution(
    "foreshots",
    "Foreshots, heads and unfinished distillate are not for drinking. Distilling gathers methanol and cannot be relied "
    "on to take it out: test what is passed on.",
)
CASKS = Caution(
    "heavy casks",
    "A full cask of 200 litres weighs about 230 to 240 kg: mind hands and feet when it rolls, and never lift it "
    "by hand.",
)
CLEANING = Caution(
    "caustic",
    "Caustic burns. With carbon dioxide in a closed vessel it takes the gas up and can pull the vessel in: "
    "vent first and keep the vent open. It gives off hydrogen on aluminium; check that what you use suits copper, and "
    "rinse acid and caustic apart.",
)
HOT_LIQUOR = Caution(
    "scalding water and steam",
    "Hot water, steam and hot grist scald: covers shut and valves checked before the mash is started.",
)
GLASS = Caution(
    "broken glass and moving machinery",
    "Broken glass and moving machinery: guards shut, and stop the line before clearing it.",
)
HEAVY_LOADS = Caution(
    "heavy loads",
    "Sacks, kegs, empty casks and pallets crush and strain: use the truck or the hoist, stand clear of what hangs, and "
    "stack no higher than the store is marked for.",
)
