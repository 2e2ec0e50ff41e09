from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('batches', '0002_hands'),
    ]

    operations = [
        migrations.AddField(
            model_name='reading',
            name='blank_sheet',
            field=models.CharField(blank=True, max_length=20),
        ),
        migrations.AddField(
            model_name='version',
            name='blank_sheet',
            field=models.CharField(blank=True, max_length=20),
        ),
        migrations.AddIndex(
            model_name='reading',
            index=models.Index(condition=models.Q(('blank_sheet', ''), _negated=True), fields=['blank_sheet'], name='reading_from_paper'),
        ),
        migrations.AddIndex(
            model_name='version',
            index=models.Index(condition=models.Q(('blank_sheet', ''), _negated=True), fields=['blank_sheet'], name='version_from_paper'),
        ),
    ]
