"""A washback of the plain plant as tests of the stills begin with it: malt, mash and fermentation, worked by hand."""

from __future__ import annotations

from collections.abc import Callable

from batches.models import Record


def fermented_washback(write: Callable[..., Record], *, malt: str, promised: str = "") -> Record:
    """2,000 litres in WB that fell from 1.0600 to 0.9980: 8.184 % vol (HMRC Notice 226, section 30.3: row P021), of so
    many kilograms of malt, for which so many LPA a tonne were promised."""
    more = {"predicted_spirit_yield_lpa_per_tonne": promised} if promised else {}
    write("intake", "M001", received_at="2027-03-01T06:00", kilograms="10000", **more)
    write(
        "mash",
        "MA0001",
        started_at="2027-03-01T06:00",
        ended_at="2027-03-01T11:00",
        malt_lot="M001",
        grist_kg=malt,
        wort_litres="2000",
        wort_gravity="1.0600",
        wort_celsius="18",
        washback="WB",
    )
    return write(
        "fermentation",
        "FE0001",
        mash="MA0001",
        washback="WB",
        pitched_at="2027-03-01T11:00",
        original_gravity="1.0600",
        ended_at="2027-03-04T11:00",
        final_gravity="0.9980",
        final_dip_mm="2000",
        final_celsius="20",
    )
