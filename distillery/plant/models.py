"""Vessels and casks, the tables that turn a dip into litres, and the instruments readings are taken with.

Whole numbers in the database: micrometres of dip, microlitres of volume, grams. An instrument's
figures are held in millionths of its own unit, because they are small decimals that must not drift.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.db.models.functions import Upper

MICRO = 1_000_000


class Stage(models.TextChoices):
    """The lines of the month's account, in the order the alcohol passes through them."""

    WASH = "wash", "Wash"
    LOW_WINES = "low wines and feints", "Low wines and feints"
    NEW_SPIRIT = "new spirit", "New spirit"
    RECTIFIED = "rectified and compounded", "Rectified and compounded"
    MATURING = "maturing in cask", "Maturing in cask"
    REDUCED = "vatted and reduced", "Vatted and reduced"
    BOTTLED = "bottled under bond", "Bottled under bond"


class Kind(models.TextChoices):
    """What sort of vessel it is; which operations it can take part in follows from this."""

    WASHBACK = "washback", "Washback"
    STILL = "still", "Still"
    RECEIVER = "receiver", "Receiver"
    VAT = "vat", "Vat"
    TANK = "tank", "Tank"
    CASK = "cask", "Cask"


class Purpose(models.TextChoices):
    """What a vessel is kept for, where a record needs to find it without being told."""

    LOW_WINES = "low wines", "Low wines"
    FEINTS = "feints", "Feints"
    SPIRIT = "spirit", "Spirit"
    HEADS_AND_TAILS = "heads and tails", "Heads and tails"


class Vessel(models.Model):
    """Anything on the site that can hold alcohol, casks included."""

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=20, choices=Kind.choices)
    stage = models.CharField(max_length=40, choices=Stage.choices)
    purpose = models.CharField(max_length=20, choices=Purpose.choices, blank=True)
    capacity_ul = models.BigIntegerField(null=True, blank=True)
    order = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["order", "code"]
        indexes = [
            models.Index(fields=["kind", "order", "code"], name="vessel_by_kind"),
            models.Index(Upper("code"), name="vessel_by_code_in_capitals"),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def capacity_litres(self) -> float | None:
        return None if self.capacity_ul is None else self.capacity_ul / MICRO


class CalibrationPoint(models.Model):
    """One line of a vessel's table: at this dip it holds this volume, linear to the next line."""

    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="calibration")
    dip_um = models.BigIntegerField()
    volume_ul = models.BigIntegerField()

    class Meta:
        ordering = ["vessel", "dip_um"]
        constraints = [
            models.UniqueConstraint(fields=["vessel", "dip_um"], name="one_volume_per_dip"),
            models.CheckConstraint(condition=Q(dip_um__gte=0, volume_ul__gte=0), name="calibration_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.dip_um} um: {self.volume_ul} ul"


class Cask(models.Model):
    """What is known of a cask besides its being a vessel: wood, kind, fill, size, tare, owner, marks, place.

    `wood` is its oak and what it held before. `warehouse`, `row`, `tier` and `owner` are as the records of it leave
    them; `listed_*` is what the plant's own list says, which stands while no record says otherwise. The head bears what
    is painted on it. `first_warehoused_on` is of what the cask holds, where that was not filled here.
    `seen_leaking_at`: seen so on a round, and nothing seen of it since; a later gauge answers it.
    """

    vessel = models.OneToOneField(Vessel, on_delete=models.PROTECT, related_name="cask", primary_key=True)
    kind = models.CharField(max_length=40)
    fill_number = models.PositiveIntegerField(default=1)
    nominal_ul = models.BigIntegerField()
    warehouse = models.CharField(max_length=40, blank=True)
    row = models.CharField(max_length=20, blank=True, default="")
    tier = models.CharField(max_length=20, blank=True, default="")
    wood = models.CharField(max_length=60, blank=True, default="")
    owner = models.CharField(max_length=80, blank=True, default="")
    head_number = models.CharField(max_length=40, blank=True, default="")
    head_year = models.PositiveIntegerField(null=True, blank=True)
    head_distillery = models.CharField(max_length=80, blank=True, default="")
    first_warehoused_on = models.DateField(null=True, blank=True)
    seen_leaking_at = models.DateTimeField(null=True, blank=True)
    listed_warehouse = models.CharField(max_length=40, blank=True, default="")
    listed_row = models.CharField(max_length=20, blank=True, default="")
    listed_tier = models.CharField(max_length=20, blank=True, default="")
    listed_owner = models.CharField(max_length=80, blank=True, default="")
    tare_g = models.BigIntegerField(null=True, blank=True)
    filled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["warehouse", "vessel"], name="cask_by_warehouse"),
            models.Index(fields=["warehouse", "kind"], name="cask_by_warehouse_and_kind"),
            models.Index(fields=["kind", "vessel"], name="cask_by_kind"),
            models.Index(fields=["warehouse", "row", "tier", "vessel"], name="cask_by_place"),
            models.Index(fields=["wood", "vessel"], name="cask_by_wood"),
            models.Index(fields=["owner", "vessel"], name="cask_by_owner"),
            models.Index(fields=["filled_at"], name="cask_by_filling"),
            models.Index(
                fields=["seen_leaking_at"], name="cask_seen_leaking", condition=Q(seen_leaking_at__isnull=False)
            ),
        ]
        constraints = [models.CheckConstraint(condition=Q(nominal_ul__gt=0), name="cask_has_a_size")]

    def __str__(self) -> str:
        return f"{self.kind} {self.vessel_id}"

    @property
    def place(self) -> str:
        """Where it lies, in words: 'Dunnage 1, row 4, tier 2'; blank where that is not recorded."""
        return place_said(self.warehouse, self.row, self.tier)


def place_said(warehouse: str, row: str, tier: str) -> str:
    """A place in words; blank where nothing is known of it."""
    parts = (warehouse, f"row {row}" if row else "", f"tier {tier}" if tier else "")
    return ", ".join(one for one in parts if one)


class WorksBy(models.TextChoices):
    """How an instrument for strength finds the density: glass that floats, or a tube that oscillates."""

    FLOATING = "floating", "Floats in the liquid"
    OSCILLATION = "oscillation", "Oscillating tube"


class DensityBasis(models.TextChoices):
    """What kind of density a scale in kg/m3 shows; the two differ by more than half a percent of strength."""

    VACUUM = "vacuum", "Density in vacuum"
    AIR = "air", "Density in air"


class Instrument(models.Model):
    """A dip rod, thermometer, alcoholometer, saccharometer or scale, with what it can tell apart.

    Its standard uncertainty is of one reading, resolution included; what its certificate leaves open comes on top.
    """

    code = models.CharField(max_length=40, unique=True)
    measures = models.CharField(max_length=40)
    # Of an instrument for strength, what its scale is in: percent_vol, percent_mass, us_proof, relative_density, kg/m3.
    unit = models.CharField(max_length=40)
    works_by = models.CharField(max_length=20, choices=WorksBy.choices, default=WorksBy.FLOATING)
    # Whether a scale in kg/m3 is of density in air or in vacuum.
    density_basis = models.CharField(max_length=10, choices=DensityBasis.choices, blank=True)
    resolution_millionths = models.BigIntegerField()
    standard_uncertainty_millionths = models.BigIntegerField()
    reference_millicelsius = models.IntegerField(null=True, blank=True)
    glass_expansion_per_celsius_billionths = models.IntegerField(default=25_000)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(standard_uncertainty_millionths__gt=0) & Q(resolution_millionths__gte=0),
                name="instrument_has_an_uncertainty",
            )
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def standard_uncertainty(self) -> float:
        """In the instrument's own unit, resolution included."""
        return self.standard_uncertainty_millionths / MICRO


class Recipe(models.Model):
    """One botanical of one version of a recipe, by weight for each litre of pure alcohol charged; never changed."""

    recipe = models.CharField(max_length=40)
    version = models.PositiveIntegerField(default=1)
    botanical = models.CharField(max_length=60)
    milligrams_per_lpa = models.BigIntegerField()

    class Meta:
        ordering = ["recipe", "version", "id"]
        constraints = [
            models.UniqueConstraint(fields=["recipe", "version", "botanical"], name="botanical_once_in_a_version")
        ]

    def __str__(self) -> str:
        return f"{self.recipe}, version {self.version}: {self.botanical}"
