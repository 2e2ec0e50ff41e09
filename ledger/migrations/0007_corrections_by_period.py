"""Finds the corrections of a period without reading through its other movements."""

from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('ledger', '0006_enquiries'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(condition=models.Q(('corrects__isnull', False)), fields=['period'], name='movement_corrections'),
        ),
    ]
