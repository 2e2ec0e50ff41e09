from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('prints', '0001_initial'),
    ]

    operations = [
        migrations.AddField(
            model_name='print',
            name='copy',
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AddIndex(
            model_name='print',
            index=models.Index(fields=['document', 'number'], name='print_by_document'),
        ),
    ]
