"""A duty that is not known when a removal is posted has neither rate nor money; it is never nought."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("ledger", "0008_closing_names_the_books_seal")]

    operations = [
        migrations.AlterField("duty", "pence", models.BigIntegerField(null=True)),
        migrations.AlterField("duty", "rate_pence_hundredths", models.BigIntegerField(null=True)),
    ]
