"""A month of the plain plant in which each step stands once, as tables to be written in the browser from empty books.

It is the small month and the way from cask to customer that others load (`tests.batches`), and beside them what these
lack: neutral spirit that comes under bond, is steeped, distilled to gin, reduced and bottled, and what is written of
materials. All figures are invented, everything at 20 °C in vessels of a litre a millimetre.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from pathlib import Path

from tests.batches.test_load_from_cask_to_customer import TABLES
from tests.batches.tiny_month import LOG, PLANT

# What a log leaves out where the plant has one vessel for it; at a page it is chosen.
CHOSEN = {
    "low_wines_receiver": "L1",
    "feints_receiver": "F1",
    "spirit_receiver": "S1",
    "heads_tails_vessel": "H1",
    "third_still": "T1",
}
VESSELS = """\
vessel,name,kind,stage,capacity_litres,kept_for
B1,Back 1,washback,wash,5000,
W1,Wash still,still,wash,,
P1,Spirit still,still,low wines and feints,,
T1,Third still,still,rectified and compounded,,
L1,Low wines,receiver,low wines and feints,5000,low wines
F1,Feints,receiver,low wines and feints,5000,feints
S1,Spirit,receiver,new spirit,5000,spirit
V1,Vat,vat,new spirit,5000,
N1,Neutral spirit,tank,rectified and compounded,5000,
K1,Gin vat,vat,rectified and compounded,5000,
G1,Gin brought back,vat,rectified and compounded,5000,
H1,Heads and tails,tank,rectified and compounded,5000,heads and tails
X1,Bottling,vat,vatted and reduced,5000,
"""
# 105 L at 80 % vol and 101.6 kg of water make 203 L at 41.4 % vol (OIML R 22).
OWN = {
    "opening_bottled_stock": """\
at,product,bottle_centilitres,label_percent,bottles
2027-03-01T06:00,gin,70,41.4,100
""",
    "distillation_periods": """\
period,spirit_class,opened_at,feints_receiver,feints_open_dip_mm,feints_open_celsius,feints_open_hydrometer_percent,\
ended_at,feints_close_dip_mm,feints_close_celsius,feints_close_hydrometer_percent
DP0001,malt spirit,2027-03-01T06:30,F1,500,20,36,2027-03-05T05:00,560,20,36
""",
    "material_receipts": """\
receipt,received_at,supplier,material,what,lot,kilograms,pieces,yeast_form
MR0001,2027-03-01T06:20,Kettleby Cooperage,cask,barrel,KC-27-1,,4,
MR0001,2027-03-01T06:20,Kettleby Cooperage,yeast,distilling yeast,Y1,25,,dried
MR0001,2027-03-01T06:20,Kettleby Cooperage,botanical,juniper,J-71,30,,
MR0001,2027-03-01T06:20,Kettleby Cooperage,bottle,bottle of 70 cL,BT-1,,400,
MR0001,2027-03-01T06:20,Kettleby Cooperage,closure,cork,KK-1,,400,
""",
    "cleanings": """\
cleaning,vessel,begun_at,agent,strength_percent,agent_celsius,ended_at,rinse_litres,rinse_ph,rinse_found,\
rinse_checked_by,rinse_to
CL0001,S1,2027-03-05T08:00,caustic,2.0,74,2027-03-05T09:00,300,7.0,clean,Isla,effluent tank
""",
    "receipts_under_bond": """\
receipt,received_at,consignor,document,lot,spirit,seals,consignor_litres,consignor_percent,tank,tank_before_dip_mm,\
tank_before_celsius,tank_before_hydrometer_percent,tank_after_dip_mm,tank_after_celsius,tank_after_hydrometer_percent,\
certificate,distilled_percent,origin,base_material,methanol_g_per_hl,reported_at,report_reference
RB0001,2027-03-08T07:00,Carrow Grain Spirits,27GBHM000000000000417,NS-204,neutral spirit,intact,1000,96.0,N1,0,20,,\
1000,20,96.0,C-88,96.4,agricultural,wheat,4.2,2027-03-08T08:00,R-12
""",
    "macerations": """\
maceration,vessel,begun_at,before_dip_mm,before_celsius,before_hydrometer_percent,ended_at,after_dip_mm,after_celsius,\
after_hydrometer_percent,botanical_lot,botanical,botanical_kg
MC0001,N1,2027-03-08T09:10,1000,20,96.0,2027-03-08T10:10,995,20,96.0,J-71,juniper,12.0
""",
    "third_still_runs": """\
run,kind,charged_at,source,source_before_dip_mm,source_before_celsius,source_before_hydrometer_percent,\
source_after_dip_mm,source_after_celsius,source_after_hydrometer_percent,maceration,product_vessel,\
product_before_dip_mm,product_before_celsius,product_before_hydrometer_percent,heads_tails_before_dip_mm,\
heads_tails_before_celsius,heads_tails_before_hydrometer_percent,ended_at,product_after_dip_mm,product_after_celsius,\
product_after_hydrometer_percent,heads_tails_after_dip_mm,heads_tails_after_celsius,\
heads_tails_after_hydrometer_percent,baskets,botanical_lot,botanical,basket,botanical_kg
TS0001,gin,2027-03-08T11:00,N1,995,20,96.0,895,20,96.0,MC0001,K1,0,20,,0,20,,2027-03-08T17:00,105,20,80.0,15,20,76.0,\
1,J-71,juniper,1,1.5
""",
    "changeovers": """\
changeover,at,still,from_product,to_product,residue_litres,residue_percent,residue_to,cleaned_with,cleaned,charcoal,\
baskets,checked_clear,checked_by
CO0001,2027-03-08T19:00,T1,gin,vodka,12,0.5,,hot water,"pot, column, condenser and safe",none in,\
emptied and cleaned,clean,Isla
""",
    "regauges": """\
regauge,at,cask,litres,celsius,hydrometer_percent
RG0001,2027-03-09T10:00,1/20,195.9,20,62.5
""",
    "reductions": """\
reduction,at,vessel,target_percent,before_dip_mm,before_celsius,before_hydrometer_percent,water_kg,after_dip_mm,\
after_celsius,after_hydrometer_percent
RE0001,2027-03-09T11:00,K1,41.4,105,20,80.0,101.6,203,20,41.4
""",
    "bottlings": """\
bottling,at,vat,product,lot_code,bottle_centilitres,label_percent,bottles,legal_name,vat_before_dip_mm,\
vat_before_celsius,vat_before_hydrometer_percent,vat_after_dip_mm,vat_after_celsius,vat_after_hydrometer_percent,\
bottle_lot,bottles_used,closure_lot,closures_used,bottles_a_case,lot_on_bottles,lot_on_cases,checked_at,filling_head,\
fill_millilitres,checked_percent
BO0001,2027-03-09T14:00,K1,gin,L27068,70,41.4,284,gin,203,20,41.4,4,20,41.4,BT-1,286,KK-1,285,6,yes,yes,\
2027-03-09T14:00,1,700.4,41.4
BO0001,2027-03-09T14:00,K1,gin,L27068,70,41.4,284,gin,203,20,41.4,4,20,41.4,BT-1,286,KK-1,285,6,yes,yes,\
2027-03-09T14:00,2,701.2,41.4
""",
    "removals": """\
removal,at,product,bottle_centilitres,label_percent,bottles,kind,consignee,document
RM0001,2027-03-07T06:00,gin,70,41.4,60,home use,Ada Fenwick,W-27-0
""",
    "material_disposals": """\
disposal,disposed_at,went_to,material,lot,kilograms,pieces,reason
DM0001,2027-03-26T11:00,skip,botanical,J-71,1.5,,mouldy
""",
    "material_counts": """\
count,counted_at,place,material,lot,kilograms,pieces,reason
CM0001,2027-03-26T12:00,Dry store,yeast,Y1,15,,as booked
""",
    "bottled_counts": """\
count,at,product,bottle_centilitres,label_percent,lot_code,bottles,reason
CB0001,2027-03-30T09:00,gin,70,41.4,L27068,283,one broke on the line
""",
    "stock_take": """\
at,vessel,gauge_dip_mm,gauge_celsius,gauge_hydrometer_percent
2027-03-31T06:00,V1,380,20,64.9
2027-03-31T06:00,F1,560,20,36
""",
}
# The days on which it is written: what is told of later days follows, some minutes apart, on the day before them.
SHIFTS = ("2027-03-01", "2027-03-04", "2027-03-08")
BEGINS_AT, APART = timedelta(hours=6), timedelta(minutes=9)
MOMENT = re.compile(r"2027-03-\d\dT\d\d:\d\d")


def tables() -> dict[str, str]:
    """The log by its tables, all in three shifts."""
    log = {name: text for name, text in {**LOG, **TABLES, **OWN}.items() if text}
    moments = sorted({found for text in log.values() for found in MOMENT.findall(text)})
    laid: dict[str, str] = {}
    place, shift = 0, ""
    for moment in moments:
        day = max(one for one in SHIFTS if one <= moment[:10])
        place = place + 1 if day == shift else 0
        shift = day
        laid[moment] = f"{datetime.fromisoformat(day) + BEGINS_AT + place * APART:%Y-%m-%dT%H:%M}"
    return {name: MOMENT.sub(lambda found: laid[found.group()], text) for name, text in log.items()}


def write_plant(folder: Path) -> Path:
    """The plant alone, and a log in which nothing stands yet but the heads of its tables."""
    (folder / "plant").mkdir(parents=True)
    (folder / "log").mkdir()
    dipped = [row.split(",")[0] for row in VESSELS.splitlines()[1:] if ",5000," in row]
    calibration = "vessel,dip_mm,litres\n" + "".join(f"{code},0,0\n{code},5000,5000\n" for code in dipped)
    for name, text in {**PLANT, "vessels": VESSELS, "calibration": calibration}.items():
        (folder / "plant" / f"{name}.csv").write_text(text, encoding="utf-8")
    for name, text in tables().items():
        (folder / "log" / f"{name}.csv").write_text(text.splitlines()[0] + "\n", encoding="utf-8")
    return folder


def write_log(folder: Path) -> Path:
    """The tables of the whole month in a folder."""
    folder.mkdir()
    for name, text in tables().items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder
