"""Each address with what it takes and gives, which is also the OpenAPI document. Read only when it is asked for."""

from __future__ import annotations

from functools import cache
from typing import Annotated, Any, Final

from django.http import HttpRequest, HttpResponse
from django.urls import URLResolver
from django.urls.resolvers import RegexPattern
from ninja import NinjaAPI, Query, Schema
from ninja.errors import ValidationError
from ninja.security import HttpBearer
from pydantic import Field

from ledger.api import answers
from ledger.statements.month import NoSuchPeriod

VERSION: Final = "1"
PREFIX: Final = "/api/"
SAYS: Final = (
    "Read-only figures of the books of this site: what vessels, casks and bottled stocks hold, the account of a month, "
    "and movements with their two sides. Pure alcohol in litres at 20 °C (LPA), masses in kg, times in UTC. "
    "Figures are those of the pages; a review threshold is no allowance, and the law and the officer decide."
)
AFTER = Annotated[int, Query(ge=0, le=2**62, description="Begin after this key: the `next` of the answer before.")]


class ByToken(HttpBearer):
    """A token of the site's page Tokens. It was looked at before the request came here."""

    def authenticate(self, request: HttpRequest, token: str) -> Any:
        """The consumer of the token."""
        return getattr(request, "consumer", None)


class AsOf(Schema):
    """The last movement when this was read, with its seal."""

    movement: int
    seal: str


class Balance(Schema):
    """What one account holds. Litres and strength at 20 °C, absent where they cannot be worked out."""

    account: str
    kind: str
    name: str
    stage: str
    lpa: float
    mass_kg: float
    litres: float | None
    percent: float | None


class Balances(Schema):
    """Some of the balances; `next` is given as `after` for those that follow, null at the end."""

    as_of: AsOf
    balances: list[Balance]
    next: int | None


class Period(Schema):
    """A period of the books and whether it is closed."""

    period: str
    closed: bool


class Periods(Schema):
    """All periods."""

    as_of: AsOf
    months: list[Period]


class StageLine(Schema):
    """One line of the account: what was there, came, went, was lost, differs, is there."""

    stage: str
    opening_lpa: float
    in_lpa: float
    out_lpa: float
    known_losses_lpa: float
    difference_lpa: float
    closing_lpa: float


class VesselLine(Schema):
    """What a vessel held at the end of the period."""

    vessel: str
    lpa: float
    litres: float | None
    percent: float | None
    at_work: str | None
    gauged_lpa: float | None
    gauged_uncertainty_lpa: float | None


class LossLine(Schema):
    """What was lost by a known cause."""

    cause: str
    lpa: float


class DifferenceLine(Schema):
    """What an operation differs by; missing is positive."""

    operation: str
    lpa: float


class RemovalLine(Schema):
    """What left the site by its kind; duty in pounds, null where not all of it is known."""

    kind: str
    lpa: float
    duty: float | None
    duty_known: float
    duty_not_known: list[str]


class MonthAccount(Schema):
    """The account of a period. It foots where opening and what came are closing and what went, to the microlitre."""

    as_of: AsOf
    period: str
    foots: bool
    closed: bool
    stages: list[StageLine]
    site: StageLine
    vessels: list[VesselLine]
    losses: list[LossLine]
    differences: list[DifferenceLine]
    removals: list[RemovalLine]


class Leg(Schema):
    """One account's part of a movement; what came is positive."""

    account: str
    stage: str
    entry: str
    lpa: float
    mass_kg: float


class Movement(Schema):
    """One entry of the books; the LPA and the masses of its legs sum to nothing.

    `happened_at` is when it truly happened, `carried_at` where the books carry it. `corrects` is the number of the
    movement it takes back.
    """

    number: int
    kind: str
    operation: str
    happened_at: str
    carried_at: str
    written_at: str
    period: str
    record_kind: str
    record: str
    person: str
    second: str | None
    reason: str
    corrects: int | None
    seal: str
    legs: list[Leg]


class Movements(Schema):
    """Some of the movements in the order of the chain; `next` is given as `after` for those that follow."""

    as_of: AsOf
    movements: list[Movement]
    next: int | None


class Refusal(Schema):
    """Why a question is not answered, in a sentence."""

    error: str = Field(examples=["There is no period 2027-13."])


_REFUSED: Final[dict[int, Any]] = {400: Refusal, 401: Refusal, 404: Refusal, 429: Refusal, 503: Refusal}


@cache
def described() -> NinjaAPI:
    """The addresses. Made once in a process."""
    api = NinjaAPI(
        title="Gaugebook",
        version=VERSION,
        description=SAYS,
        auth=ByToken(),
        docs_url=None,
        openapi_url=None,
        urls_namespace="books-as-json",
    )

    @api.get("balances", response={200: Balances, **_REFUSED}, operation_id="balances", summary="Balances now")
    def balances(
        request: HttpRequest, after: AFTER = 0, limit: Annotated[int, Query(ge=1, le=answers.MOST_BALANCES)] = 200
    ) -> Any:
        return answers.balances(after, limit)

    @api.get("months", response={200: Periods, **_REFUSED}, operation_id="months", summary="Periods of the books")
    def months(request: HttpRequest) -> Any:
        return answers.months()

    @api.get(
        "months/{period}",
        response={200: MonthAccount, **_REFUSED},
        operation_id="month_account",
        summary="Account of a month",
    )
    def month(request: HttpRequest, period: str) -> Any:
        return answers.month(period)

    @api.get("movements", response={200: Movements, **_REFUSED}, operation_id="movements", summary="Movements")
    def movements(
        request: HttpRequest,
        after: AFTER = 0,
        limit: Annotated[int, Query(ge=1, le=answers.MOST_MOVEMENTS)] = 100,
        period: Annotated[str, Query(max_length=7, description="Only those of this period, such as 2027-03.")] = "",
    ) -> Any:
        return answers.movements(after, limit, period)

    @api.exception_handler(ValidationError)
    def unfit(request: HttpRequest, error: ValidationError) -> HttpResponse:
        said = "; ".join(f"{one['loc'][-1]}: {one['msg']}" for one in error.errors)
        return api.create_response(request, {"error": f"The question cannot be read. {said}."}, status=400)

    @api.exception_handler(NoSuchPeriod)
    def unknown(request: HttpRequest, error: NoSuchPeriod) -> HttpResponse:
        return api.create_response(request, {"error": str(error)}, status=404)

    return api


@cache
def addresses() -> URLResolver:
    """Finds the address behind /api/."""
    patterns, *_ = described().urls
    return URLResolver(RegexPattern(r""), patterns)


@cache
def document() -> dict[str, Any]:
    """The OpenAPI document."""
    made: dict[str, Any] = described().get_openapi_schema(path_prefix=PREFIX)
    return made
