from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('batches', '0003_blank_sheets'),
    ]

    operations = [
        migrations.AddIndex(
            model_name='reading',
            index=models.Index(condition=models.Q(('strikes__isnull', False)), fields=['strikes'], name='reading_struck'),
        ),
    ]
