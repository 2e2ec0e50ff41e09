"""What an invented plant may be called: codes and names of vessels and instruments, casks and their warehouses."""

WASHBACKS = (
    ("B{}", "Washback {}"),
    ("WB{}", "Washback {}"),
    ("W{}", "Back {}"),
    ("WB0{}", "Larch back {}"),
)
LOW_WINES = (
    ("LW", "Low wines"),
    ("LWR", "Low wines receiver"),
    ("LWC", "Low wines charger"),
    ("R1", "Receiver 1"),
)
FEINTS = (("FE", "Feints"), ("FR", "Feints receiver"), ("FTS", "Foreshots and feints"), ("R2", "Receiver 2"))
SPIRIT = (
    ("SPR", "Spirit receiver"),
    ("SR", "Spirit receiver"),
    ("ISR", "Intermediate spirit receiver"),
    ("R3", "Receiver 3"),
)
VATS = (("V{}", "Spirit vat {}"), ("SV{}", "Vat {}"), ("VAT{}", "Filling vat {}"))
PRODUCT_VATS = {
    "gin": (("GV", "Gin vat"), ("G1", "Gin tank"), ("GT", "Gin receiver")),
    "vodka": (("VV", "Vodka vat"), ("VK", "Vodka tank"), ("VT", "Vodka receiver")),
}
HEADS_AND_TAILS = (
    ("HT", "Heads and tails tank"),
    ("H1", "Heads and tails"),
    ("HTT", "Recovered spirit tank"),
)
BOTTLING = (("BV", "Bottling vat"), ("BT", "Bottling tank"), ("BH1", "Bottling hall tank"))

INSTRUMENTS = (
    ("DIP", "THERM", "ALC", "SACC", "SCALE"),
    ("D1", "T1", "A1", "S1", "K1"),
    ("DIPROD", "TH-2", "ALC-3", "SAC-1", "SCALE-1"),
)

CASKS = {"quarter cask": 125, "barrel": 200, "hogshead": 250, "butt": 500, "puncheon": 500}
"""Nominal litres of each kind."""

TARES = {
    "quarter cask": (34.0, 2.0),
    "barrel": (49.0, 2.2),
    "hogshead": (60.5, 2.8),
    "butt": (121.0, 3.0),
    "puncheon": (112.0, 4.0),
}
"""Mean and spread of the empty weight of each kind, kg."""

WAREHOUSES = (("1A", "1B", "2A", "2B"), ("D1", "D2"), ("W1", "W2", "W3"), ("1",))

BOTANICALS = (
    ("juniper", 12.0, 28.0),
    ("coriander seed", 4.0, 12.0),
    ("angelica root", 0.6, 2.5),
    ("orange peel", 0.5, 2.0),
    ("lemon peel", 0.4, 1.6),
    ("orris root", 0.2, 1.0),
    ("bog myrtle", 0.3, 1.5),
    ("cassia bark", 0.2, 1.2),
    ("heather flower", 0.3, 1.4),
)
"""Botanicals and the range of grams per litre of pure alcohol charged. Common practice, no source."""
