"""A month of a few rows for the plain plant, written as tables into a folder; invented, everything at 20 °C."""

from __future__ import annotations

from pathlib import Path

PLANT = {
    "vessels": """\
vessel,name,kind,stage,capacity_litres
B1,Back 1,washback,wash,5000
L1,Low wines,receiver,low wines and feints,5000
F1,Feints,receiver,low wines and feints,5000
S1,Spirit,receiver,new spirit,5000
V1,Vat,vat,new spirit,5000
G1,Gin,vat,rectified and compounded,5000
H1,Odds,tank,rectified and compounded,5000
X1,Bottling,vat,vatted and reduced,5000
""",
    "calibration": "vessel,dip_mm,litres\n"
    + "".join(f"{code},0,0\n{code},5000,5000\n" for code in ("B1", "L1", "F1", "S1", "V1", "G1", "H1", "X1")),
    "instruments": """\
instrument,measures,unit,resolution,standard_uncertainty,reference_celsius
DIP,dip,mm,1,0.85,
ALC,strength,percent_vol,0.1,0.06,20
""",
    "empty_casks": "number,kind,fill,litres,warehouse\n1/27,barrel,1,200,1A\n2/27,barrel,1,200,1A\n",
    "maturing_casks": (
        "number,kind,fill,nominal_litres,warehouse,filled_at,tare_kg,gross_kg,percent\n"
        "1/20,barrel,1,200,1A,2020-05-01T09:00,50.0,230.0,63.5\n"
    ),
}

LOG = {
    "opening_stock": """\
vessel,at,gauge_dip_mm,gauge_celsius,gauge_hydrometer_percent
L1,2027-03-01T06:00,200,20,24
F1,2027-03-01T06:00,500,20,36
V1,2027-03-01T06:00,1000,20,63.5
""",
    "opening_bottled_stock": "product,bottle_centilitres,label_percent,bottles\ngin,70,41.4,100\n",
    "intake": """\
lot,kind,received_at,kilograms,moisture_percent,nitrogen_percent,predicted_spirit_yield_lpa_per_tonne,silo
M001,malt,2027-03-01T06:00,10000,4.5,1.5,410,A
""",
    "mashes": """\
mash,started_at,ended_at,malt_lot,grist_kg,wort_litres,wort_gravity,wort_celsius,washback
MA0001,2027-03-01T06:00,2027-03-01T11:00,M001,500,2400,1.0600,18,B1
MA0002,2027-03-05T06:00,2027-03-05T11:00,M001,500,2400,1.0600,18,B1
""",
    "fermentations": """\
fermentation,mash,washback,yeast_lot,yeast_kg,pitched_at,original_gravity,ended_at,final_gravity,final_dip_mm,final_celsius
FE0001,MA0001,B1,Y1,5,2027-03-01T11:00,1.0600,2027-03-04T11:00,0.9980,2400,20
FE0002,MA0002,B1,Y1,5,2027-03-05T11:00,1.0600,,,,
""",
    "wash_runs": """\
run,still,fermentation,washback,charged_at,washback_before_dip_mm,washback_before_celsius,washback_after_dip_mm,ended_at,\
receiver,receiver_before_dip_mm,receiver_before_celsius,receiver_before_hydrometer_percent,receiver_after_dip_mm,\
receiver_after_celsius,receiver_after_hydrometer_percent,pot_ale_litres,pot_ale_percent
WR0001,W1,FE0001,B1,2027-03-04T11:00,2400,20,0,2027-03-04T17:00,L1,200,20,24,1000,20,24,1600,0.1
""",
    "spirit_runs": """\
run,still,charged_at,low_wines_before_dip_mm,low_wines_before_celsius,low_wines_before_hydrometer_percent,\
feints_before_dip_mm,feints_before_celsius,feints_before_hydrometer_percent,low_wines_after_dip_mm,\
low_wines_after_celsius,low_wines_after_hydrometer_percent,feints_after_dip_mm,feints_after_celsius,\
feints_after_hydrometer_percent,ended_at,spirit_receiver,feints_receiver,spirit_before_dip_mm,spirit_before_celsius,\
spirit_before_hydrometer_percent,feints_receiver_before_dip_mm,feints_receiver_before_celsius,\
feints_receiver_before_hydrometer_percent,spirit_after_dip_mm,spirit_after_celsius,spirit_after_hydrometer_percent,\
feints_receiver_after_dip_mm,feints_receiver_after_celsius,feints_receiver_after_hydrometer_percent,\
spent_lees_litres,spent_lees_percent
SR0001,P1,2027-03-04T17:00,1000,20,24,500,20,36,40,20,24,20,20,36,2027-03-04T23:00,S1,F1,0,20,,20,20,36,280,20,70,\
560,20,36,600,0.05
""",
    "transfers": """\
transfer,at,from_vessel,to_vessel,from_before_dip_mm,from_before_celsius,from_before_hydrometer_percent,\
to_before_dip_mm,to_before_celsius,to_before_hydrometer_percent,from_after_dip_mm,from_after_celsius,\
from_after_hydrometer_percent,to_after_dip_mm,to_after_celsius,to_after_hydrometer_percent
TR0001,2027-03-05T06:00,S1,V1,280,20,70,1000,20,63.5,0,20,,1279,20,64.9
""",
    "cask_fills": """\
fill,at,vat,cask,cask_kind,fill_number,nominal_litres,tare_kg,gross_kg,celsius,hydrometer_percent,warehouse,\
vat_before_dip_mm,vat_before_celsius,vat_before_hydrometer_percent,vat_after_dip_mm,vat_after_celsius,\
vat_after_hydrometer_percent
CF0001,2027-03-06T06:00,V1,1/27,barrel,1,200,50,230,20,64.9,1A,1279,20,64.9,880,20,64.9
CF0001,2027-03-06T06:00,V1,2/27,barrel,1,200,50,230,20,64.9,1A,1279,20,64.9,880,20,64.9
""",
    "removals": """\
removal,at,product,bottle_centilitres,label_percent,bottles,kind
RM0001,2027-03-07T06:00,gin,70,41.4,60,home use
""",
    "readings": """\
record,at,quantity,value
FE0001,2027-03-01T11:00,gravity,1.0600
FE0001,2027-03-01T11:00,celsius,19.0
SR0001,2027-03-04T18:00,distillate_percent,74.0
""",
    "stock_take": """\
at,vessel,gauge_dip_mm,gauge_celsius,gauge_hydrometer_percent
2027-03-31T06:00,V1,880,20,64.9
2027-03-31T06:00,F1,560,20,36
""",
}

THIRD_STILL = """\
run,kind,charged_at,source,source_before_dip_mm,source_before_celsius,source_before_hydrometer_percent,\
source_after_dip_mm,source_after_celsius,source_after_hydrometer_percent,product_before_dip_mm,\
product_before_celsius,product_before_hydrometer_percent,heads_tails_before_dip_mm,heads_tails_before_celsius,\
heads_tails_before_hydrometer_percent,ended_at,product_vessel,product_after_dip_mm,product_after_celsius,\
product_after_hydrometer_percent,heads_tails_after_dip_mm,heads_tails_after_celsius,\
heads_tails_after_hydrometer_percent,charcoal_kg,recipe,baskets
TS0001,gin,2027-03-08T06:00,V1,880,20,64.9,780,20,64.9,0,20,,0,20,,2027-03-08T12:00,G1,70,20,80,10,20,76,,,4
"""


def write_folder(folder: Path, **log: str | None) -> Path:
    """Writes the month; `log` replaces or adds tables of the log, None leaves one out."""
    (folder / "plant").mkdir(parents=True, exist_ok=True)
    (folder / "log").mkdir(exist_ok=True)
    for name, text in PLANT.items():
        (folder / "plant" / f"{name}.csv").write_text(text, encoding="utf-8")
    for name, table in {**LOG, **log}.items():
        if table is not None:
            (folder / "log" / f"{name}.csv").write_text(table, encoding="utf-8")
    return folder


def changed(name: str, old: str, new: str) -> str:
    """A table of the log with one text put for another; the old one has to be there."""
    table = LOG[name]
    assert old in table, f"{old} is not in {name}"
    return table.replace(old, new)
