"""Which of several rows counts on a day, said the plainest way: the last begun, of a day the last entered."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from distillery.plant.metrology import Certificate, InstrumentUse, ObscurationFound, VesselCalibration
from distillery.plant.models import Instrument, Vessel
from distillery.plant.outfit import Register

FIRST = date(2027, 1, 1)
days = st.integers(0, 6).map(lambda number: FIRST + timedelta(days=number))
VATS = (Vessel(pk=1, code="SV1"), Vessel(pk=2, code="SV2"))
GLASSES = tuple(Instrument(pk=number, code=f"ALC{number}", measures="strength") for number in (1, 2, 3))


def ordered(rows, key):
    """As the database gives them: by the day they begin, then as they were entered."""
    for place, row in enumerate(rows):
        row.pk = place + 1
    return sorted(rows, key=lambda row: (getattr(row, key), row.pk))


def register(**tables) -> Register:
    empty = {"uses": [], "certificates": [], "calibrations": [], "obscurations": []}
    return Register(instruments=GLASSES, **(empty | tables))


@given(
    entered=st.lists(st.tuples(st.sampled_from(GLASSES), st.sampled_from((None, *VATS)), days), max_size=8),
    day=days,
    vat=st.sampled_from(VATS),
)
def test_the_instrument_in_use(entered, day, vat):
    uses = [
        InstrumentUse(instrument_id=glass.pk, vessel_id=vessel.pk if vessel else None, from_day=begins)
        for glass, vessel, begins in entered
    ]
    found = register(uses=ordered(uses, "from_day")).in_use(day, vat)["strength"]
    begun = [one for one in ordered(uses, "from_day") if one.from_day <= day]
    own = [one for one in begun if one.vessel_id == vat.pk]
    everywhere = [one for one in begun if one.vessel_id is None]
    if own or everywhere:
        assert found.pk == (own or everywhere)[-1].instrument_id
    else:
        unused = [glass for glass in GLASSES if glass.pk not in {one.instrument_id for one in uses}]
        assert found == (unused or GLASSES)[0]


@given(begins=st.lists(days, max_size=6), day=days)
def test_the_certificate_and_the_calibration_in_force(begins, day):
    certificates = ordered([Certificate(instrument_id=1, from_day=one) for one in begins], "from_day")
    calibrations = ordered([VesselCalibration(vessel_id=1, from_day=one) for one in begins], "from_day")
    known = register(certificates=certificates, calibrations=calibrations)
    in_force = max((one for one in begins if one <= day), default=None)
    certificate, calibration = known.certificate(GLASSES[0], day), known.calibration(VATS[0], day)
    assert (certificate.from_day if certificate else None) == in_force
    assert (calibration.from_day if calibration else None) == in_force
    assert known.certificate(GLASSES[1], day) is None
    assert known.calibration(VATS[1], day) is None


@given(
    entered=st.lists(st.tuples(st.integers(0, 48), st.sampled_from([0, 400_000, -200_000])), max_size=6),
    hour=st.integers(0, 48),
)
def test_the_obscuration_of_a_moment(entered, hour):
    start = datetime(2027, 1, 1, tzinfo=UTC)
    rows = [
        ObscurationFound(
            vessel_id=1,
            from_at=start + timedelta(hours=hours),
            percent_millionths=percent,
            standard_uncertainty_millionths=0,
        )
        for hours, percent in entered
    ]
    rows = ordered(rows, "from_at")
    found = register(obscurations=rows).obscuration(VATS[0], start + timedelta(hours=hour))
    begun = [one for one in rows if one.from_at <= start + timedelta(hours=hour)]
    hidden = begun[-1].percent_millionths if begun else 0
    assert (found.percent_millionths if found else 0) == hidden
    assert register(obscurations=rows).obscuration(VATS[1], start + timedelta(hours=hour)) is None
