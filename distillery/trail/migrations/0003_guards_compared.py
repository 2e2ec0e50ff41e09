"""Changes no table: it brings an existing site to the triggers of this version, which `migrate` puts up at its end.

Rows put in the place of others are refused from here on, the end of the chain is guarded, and roles, whether a person
may sign on, and forms that were sent have a trail.
"""

from __future__ import annotations

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("trail", "0002_claims")]
    operations: list[migrations.operations.base.Operation] = []
