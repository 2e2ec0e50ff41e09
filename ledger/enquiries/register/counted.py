"""The legs that a period's register counts."""

from __future__ import annotations

from django.db.models import Exists, F, OuterRef, QuerySet

from ledger.models import Leg, Movement


def counted(period: str, kind: str) -> QuerySet[Leg]:
    """Legs on accounts of a kind, without entries taken back within the month and what took them back."""
    taken_back = Movement.objects.filter(corrects=OuterRef("movement"), period=OuterRef("period"))
    return (
        Leg.objects.filter(period=period, account__kind=kind)
        .exclude(movement__corrects__isnull=False, movement__corrects__period=F("period"))
        .filter(~Exists(taken_back))
        .select_related("account", "movement__person", "movement__second")
        .order_by("happened_at", "position", "id")
    )
