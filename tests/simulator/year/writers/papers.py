"""The papers of what leaves: who takes it, on which documents, and word from the other end. All of it is made up."""

from datetime import datetime, timedelta
from typing import Any

PAPERS = (
    *("consignee", "document", "movement_reference", "consignee_approval", "guarantee", "product_code"),
    *("place_of_exit", "authority", "witness"),
)
REPORTED = ("reported_at", "report_reference", "arrived_at")
NOTE = "%Y-%m-%dT%H:%M"


def reference(at: datetime, n: int) -> str:
    """A movement reference of 21 characters."""
    return f"{at:%y}GB{n:017d}"


def under_bond(at: datetime, n: int) -> dict[str, Any]:
    """Goods to another warehouse with their duty suspended."""
    return {
        "consignee": "Saltmarsh Bonded Store, Dock Road, Harrow Sound",
        "document": f"HM-{4000 + 7 * n}",
        "movement_reference": reference(at, n),
        "consignee_approval": "GBWK000004711",
        "guarantee": "Harrowmere movement guarantee 17",
        "product_code": "S200",
    }


def exported(at: datetime, n: int) -> dict[str, Any]:
    """Goods that leave the country."""
    return {
        "consignee": "Brennhaus Nordvik, Havnegata 9, Nordvik",
        "document": f"EX-{2000 + 3 * n}",
        "movement_reference": reference(at, n),
        "place_of_exit": "Harrow Sound, east quay",
    }


def destroyed(n: int) -> dict[str, Any]:
    """Goods destroyed while somebody looks on."""
    return {
        "consignee": "Harrowmere",
        "document": f"DS-{100 + n}",
        "authority": f"AD-{300 + n}",
        "witness": "T. Orrell",
    }


def reported(at: datetime, code: str) -> dict[str, Any]:
    """The report of receipt or proof of export."""
    arrived = at - timedelta(hours=5)
    return {"reported_at": at.strftime(NOTE), "report_reference": f"RP-{code}", "arrived_at": arrived.strftime(NOTE)}
