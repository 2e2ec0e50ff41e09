"""What a new site starts with is put in by numbered migrations, each row once, whatever is added later."""

from __future__ import annotations

import csv
from collections import Counter
from datetime import date
from pathlib import Path

import pytest
from django.apps import apps

from distillery.alcoholometry.gravity import hmrc_gravity_table
from distillery.rules import seeding
from distillery.rules.models import GravityFactor, LossCause, ReviewThreshold

pytestmark = pytest.mark.django_db

THRESHOLD = (
    "operation,vessel,from_day,usual_millionths,usual_half_width_millionths,spread_millionths,threshold_millionths,"
    "floor_ul,source\n"
    "a step to come,,2000-01-01,4000,3000,1500,26000,10000000,invented\n"
)
CAUSES = "name,from_day,source\na cause to come,2000-01-01,invented\na cause of the site,2000-01-01,invented\n"


def _later_folder(data: Path) -> None:
    folder = data / "0003"
    folder.mkdir()
    (folder / "review_threshold.csv").write_text(THRESHOLD, encoding="utf-8")
    (folder / "loss_cause.csv").write_text(CAUSES, encoding="utf-8")


def test_a_new_site_has_every_row_once() -> None:
    listed: Counter[str] = Counter()
    for file in seeding.DATA.glob("*/*.csv"):
        with file.open(encoding="utf-8", newline="") as table:
            listed[file.stem] += len(list(csv.DictReader(table)))
    assert len(listed) > 4
    for name, rows in listed.items():
        model = apps.get_model("rules", name.replace("_", ""))
        assert rows == model._default_manager.count() > 0, name


def test_a_step_to_come_adds_its_threshold_and_no_row_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _later_folder(tmp_path)
    monkeypatch.setattr(seeding, "DATA", tmp_path)
    thresholds, causes = ReviewThreshold.objects.count(), LossCause.objects.count()
    own = LossCause.objects.create(name="a cause of the site", from_day=date(2027, 3, 1), source="the site's own")
    for _ in range(2):
        seeding.put_in("0003", apps, "default")
    assert ReviewThreshold.objects.count() == thresholds + 1
    assert ReviewThreshold.objects.get(operation="a step to come").floor_ul == 10_000_000
    assert LossCause.objects.count() == causes + 2
    # The site has entered the cause itself before: what it said stays.
    assert LossCause.objects.get(name="a cause of the site") == own
    assert LossCause.objects.get(pk=own.pk).source == "the site's own"


def test_the_gravity_factors_are_those_of_the_published_table() -> None:
    """HMRC Excise Notice 226, value of factor f, as alcoholometry carries it."""
    published = [
        (round(band.from_degrees * 1000), round(band.to_degrees * 1000), round(band.factor * 1_000_000))
        for band in hmrc_gravity_table().bands
    ]
    kept = GravityFactor.objects.values_list("drop_from_thousandths", "drop_to_thousandths", "factor_millionths")
    assert sorted(kept) == sorted(published)
