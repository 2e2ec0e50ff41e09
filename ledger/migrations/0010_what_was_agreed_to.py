"""An agreement keeps the difference it was about, and a correction is an ending that can wait for a second person."""

from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("ledger", "0009_duty_not_known")]
    operations = [
        migrations.AddField(
            model_name="enquiryevent", name="left_ul", field=models.BigIntegerField(null=True)
        ),
        migrations.AlterField(
            model_name="enquiryevent",
            name="ending",
            field=models.CharField(
                blank=True,
                choices=[
                    ("loss", "A known loss"),
                    ("measuring", "Measuring: a reading was wrong and cannot be taken again"),
                    ("right", "The figures are right, and nothing is missing"),
                    ("set off", "Set off against the enquiry it is tied with"),
                    ("not found", "Cause not found"),
                    ("corrected", "A reading was wrong and has been put right by a correction"),
                ],
                max_length=20,
            ),
        ),
    ]
