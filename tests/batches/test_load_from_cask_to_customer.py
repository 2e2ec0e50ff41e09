"""A month in which every step between cask and customer stands once, loaded from its tables in one go.

The plant is the plain one of `tiny_month`; all figures are invented, everything at 20 °C: 180 kg of 64.9 % vol are
200.71 litres (OIML R 22, as `gauge_by_weight` works it).
"""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from pypdf import PdfReader

from batches.casks.standing import before_all
from batches.loading.load_folder import load_folder
from batches.loading.outcome import BadRows
from batches.models import Link, Record
from batches.sheets.register import sheet_of
from distillery.clock.reading import books_now
from distillery.plant.models import Cask
from ledger.models import Balance, Duty, Leg

from .tiny_month import changed, write_folder
from .tracing.test_trace_pages import drawn, said

pytestmark = pytest.mark.django_db

TABLES = {
    "stock_take": None,
    "material_receipts": """\
receipt,received_at,supplier,material,what,lot,pieces
MR0001,2027-03-02T09:00,Kettleby Cooperage,cask,barrel,KC-27-1,4
""",
    "cask_numberings": """\
numbering,at,cask,cask_kind,nominal_litres,warehouse,row,tier,cask_lot
NC0001,2027-03-02T10:00,3/27,barrel,200,1A,1,1,KC-27-1
NC0001,2027-03-02T10:00,4/27,barrel,200,1A,1,2,KC-27-1
""",
    "casks_received_under_bond": """\
receipt,received_at,consignor,document,lot,spirit,seals,cask,cask_kind,nominal_litres,fill_number,filled_at,\
consignor_litres,consignor_percent,tare_kg,gross_kg,celsius,hydrometer_percent,warehouse,row,tier,reported_at,\
report_reference
RC0001,2027-03-08T09:00,Low Quay Stores,D-27-8,LQ-4,whisky,intact,9/19,barrel,200,1,2019-03-01T09:00,200.0,63.5,\
50,230,20,63.5,1A,2,1,2027-03-09T09:00,R-27-8
""",
    "disgorgings": """\
disgorging,at,vat,vat_before_dip_mm,vat_before_celsius,vat_before_hydrometer_percent,vat_after_dip_mm,\
vat_after_celsius,vat_after_hydrometer_percent,cask,tare_kg,gross_kg,celsius,hydrometer_percent
DG0001,2027-03-10T09:00,X1,0,20,,394,20,63.6,1/27,50,229.9,20,64.9
DG0001,2027-03-10T09:00,X1,0,20,,394,20,63.6,1/20,50,225,20,62.5
""",
    "re_rackings": """\
re_racking,at,cask,what_happens,tare_kg,gross_kg,celsius,hydrometer_percent,fill_number,warehouse
RK0001,2027-03-11T09:00,2/27,emptied,50,229.9,20,64.9,,
RK0001,2027-03-11T09:00,3/27,filled,52,231.5,20,64.9,1,1A
""",
    "vattings": """\
vatting,at,vat,vat_before_dip_mm,vat_before_celsius,vat_before_hydrometer_percent,vat_after_dip_mm,vat_after_celsius,\
vat_after_hydrometer_percent,first_vessel,first_before_dip_mm,first_before_celsius,first_before_hydrometer_percent,\
first_after_dip_mm,first_after_celsius,first_after_hydrometer_percent
VT0001,2027-03-12T09:00,X1,394,20,63.6,794,20,64.2,V1,880,20,64.9,480,20,64.9
""",
    "standings": """\
standing,vessel,begun_at,cover,before_dip_mm,before_celsius,before_hydrometer_percent,ended_at,after_dip_mm,\
after_celsius,after_hydrometer_percent
SD0001,X1,2027-03-12T10:00,closed,794,20,64.2,2027-03-14T10:00,794,20,64.1
""",
    "filtrations": """\
filtration,at,vat,vat_before_dip_mm,vat_before_celsius,vat_before_hydrometer_percent,vat_after_dip_mm,\
vat_after_celsius,vat_after_hydrometer_percent,way,filter_celsius,kept_litres,kept_percent
FI0001,2027-03-15T09:00,X1,794,20,64.1,792,20,64.1,plain,18,2,64.1
""",
    "samples": """\
sample,drawn_at,vessel,millilitres,percent,purpose,recipient,ended_at,became
SA0001,2027-03-15T15:00,X1,500,64.1,strength,the bench at Harrowmere,2027-03-16T09:00,used up in tests
""",
    "cask_moves": """\
move,at,moved_by,why,cask,to_warehouse,to_row,to_tier
MV0001,2027-03-17T09:00,Brodie,room for new casks,3/27,1A,4,2
MV0001,2027-03-17T09:00,Brodie,room for new casks,9/19,1A,4,3
""",
    "cask_owners": """\
change,at,from_owner,to_owner,document,cask
OW0001,2027-03-18T09:00,Harrowmere,Ada Fenwick,S-27-3,9/19
""",
    "warehouse_openings": """\
opening,warehouse,opened_at,opened_by,opened_key,seals_found,closed_at,closed_by,seals_put_on
WO0001,1A,2027-03-19T08:00,Brodie,key 2,HM-41,2027-03-19T10:00,Brodie,HM-42
""",
    "warehouse_rounds": """\
round,at,warehouse,walked_by,air_celsius,humidity_percent,cask,seen,lost_litres,done
RW0001,2027-03-19T09:00,1A,Brodie,9,82,9/19,leaking,1.5,bung driven in
""",
    "bulk_removals": """\
removal,at,vessel,kind,vessel_before_dip_mm,vessel_before_celsius,vessel_before_hydrometer_percent,\
vessel_after_dip_mm,vessel_after_celsius,vessel_after_hydrometer_percent,consignee,consignee_approval,\
movement_reference,guarantee,product_code,reported_at,report_reference,litres_arrived,percent_arrived
BR0001,2027-03-22T09:00,V1,under bond,480,20,64.9,380,20,64.9,"Carrow Bonded Stores, Harrowmere",GBWK000000417,\
27GB0000000000000HM17,HM-G-3,S200,2027-03-24T09:00,RR-1,100,64.9
""",
    "cask_removals": """\
removal,at,kind,consignee,document,cask,tare_kg,gross_kg,celsius,hydrometer_percent
CR0001,2027-03-23T09:00,home use,Ada Fenwick,W-27-1,9/19,50,227,20,63.4
""",
    "returns_inward": """\
return,at,product,bottle_centilitres,label_percent,bottles,status,came_from,document,reason,condition,spoilt_bottles
RI0001,2027-03-24T09:00,gin,70,41.4,20,under bond,"Carrow Bonded Stores, Harrowmere",RN-1,labels crooked,sound,
""",
    "reprocessing": """\
reprocessing,at,product,bottle_centilitres,label_percent,bottles,reason,vat,vat_before_dip_mm,vat_before_celsius,\
vat_before_hydrometer_percent,vat_after_dip_mm,vat_after_celsius,vat_after_hydrometer_percent
RP0001,2027-03-25T09:00,gin,70,41.4,20,labels crooked,G1,0,20,,14,20,41.4
""",
    "emptied_silos": """\
emptying,silo,emptied_at,left_kg
SE0001,A,2027-03-26T09:00,9000
""",
}
KINDS = (
    "cask_numbering",
    "cask_receipt",
    "disgorging",
    "re_racking",
    "vatting",
    "standing",
    "filtration",
    "sample",
    "cask_move",
    "cask_owner",
    "warehouse_opening",
    "warehouse_round",
    "bulk_removal",
    "cask_removal",
    "return_inward",
    "reprocessing",
    "silo_emptied",
)


@pytest.fixture
def loaded(tmp_path: Path) -> Any:
    try:
        return load_folder(write_folder(tmp_path, **TABLES))
    except BadRows as bad:
        pytest.fail("; ".join(f"{one}" for one in bad.bad))


def lpa(code: str) -> float:
    """What an account holds by its legs."""
    return float(Balance.objects.get(account__code=code).balance_ul) / 1e6


def passed(number: str, code: str) -> float:
    legs = Leg.objects.filter(movement__record_number=number, account__code=code)
    return sum(legs.values_list("pure_ul", flat=True)) / 1e6


def givers(number: str) -> set[str]:
    return set(Link.objects.filter(taker__number=number).values_list("giver__number", flat=True))


def test_each_table_is_loaded_and_hangs_together(loaded: Any, capsys: pytest.CaptureFixture[str]) -> None:
    assert {kind: loaded.records.get(kind) for kind in KINDS} == dict.fromkeys(KINDS, 1)
    # 180 kg less 0.1 kg at 64.9 % and 175 kg at 62.5 %.
    assert passed("DG0001", "vessel:1/27") == pytest.approx(-130.26, abs=0.01)
    assert lpa("vessel:1/20") == lpa("vessel:1/27") == lpa("vessel:2/27") == 0
    assert passed("DG0001", "vessel:X1") == pytest.approx(394 * 0.636)
    assert passed("VT0001", "vessel:V1") == pytest.approx(-400 * 0.649)
    assert passed("FI0001", "loss:filtration") == pytest.approx(2 * 0.641)
    assert lpa("vessel:X1") == pytest.approx(792 * 0.641 - 0.5 * 0.641)
    assert lpa("vessel:V1") == pytest.approx(380 * 0.649)
    assert lpa("vessel:G1") == pytest.approx(14 * 0.414)
    # 100 bottles, 60 left for home use, 20 came back and were emptied into the gin vat: 40 are there.
    assert lpa("stock:gin/70/41.4") == pytest.approx(40 * 0.7 * 0.414)
    # 177 kg at 63.4 % vol, of which duty takes the decimals it shows.
    duty = Duty.objects.get(movement__record_number="CR0001")
    assert duty.percent_millionths == 63_400_000
    assert "CF0001" in givers("DG0001")
    assert givers("MV0001") == set(), "a move posts nothing"
    call_command("verify_ledger", verbosity=1)
    assert "broken" not in capsys.readouterr().out.casefold()


def test_casks_that_were_numbered_or_came_full_are_of_the_plant(loaded: Any) -> None:
    assert loaded.plant["casks of the log"] == 3
    kinds = {code: Cask.objects.get(vessel__code=code) for code in ("3/27", "4/27", "9/19")}
    assert {one.kind for one in kinds.values()} == {"barrel"}
    assert {one.nominal_ul for one in kinds.values()} == {200_000_000}
    assert kinds["9/19"].fill_number == 1


def test_a_fill_of_a_cask_that_nobody_numbered_is_a_slip(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, cask_fills=changed("cask_fills", "V1,2/27,", "V1,20/27,"))
    with pytest.raises(BadRows) as bad:
        load_folder(folder)
    assert "there is no vessel 20/27 on this site" in str(bad.value.bad[0])


def test_the_casks_stand_where_their_records_left_them(loaded: Any) -> None:
    stood = before_all(["3/27", "4/27", "9/19"], books_now(), without="")
    assert stood["3/27"].place == "1A, row 4, tier 2"
    assert stood["4/27"].place == "1A, row 1, tier 2"
    assert stood["9/19"].owner == "Ada Fenwick"


def test_each_has_its_list_its_record_and_its_blank_sheet(loaded: Any, manager: Any, browser_of: Any) -> None:
    client: Client = browser_of(manager)
    for kind in KINDS:
        record = Record.objects.get(kind=kind)
        for address in (
            f"/records/{kind}/",
            f"/records/{kind}/new/",
            f"/records/{kind}/{record.number}/",
            f"/records/{kind}/{record.number}/record.pdf",
            f"/records/{kind}/blank-sheet.pdf",
        ):
            answer = client.get(address)
            assert answer.status_code == 200, address
        assert sheet_of(kind).title.lower() in client.get(f"/records/{kind}/new/").text.lower()
    assert json.loads(client.get("/trace/trace.json", {"ref": "X1"}).content)


def test_a_drawn_trace_goes_from_the_casks_to_the_vat(loaded: Any) -> None:
    heads = said(drawn("X1"), "flow-head")
    places = [heads.index(one) for one in ("Transfer", "Cask fill", "Cask", "Disgorging")]
    assert places == sorted(places), heads


def test_what_is_judged_against_nothing_has_no_line_of_a_difference(loaded: Any, manager: Any, browser_of: Any) -> None:
    address = "/records/bulk_removal/BR0001/record.pdf"
    pages = PdfReader(io.BytesIO(browser_of(manager).get(address).content)).pages
    text = "\n".join(page.extract_text() for page in pages)
    assert "Removal of bulk spirit from bond" in text
    assert "Difference" not in text
