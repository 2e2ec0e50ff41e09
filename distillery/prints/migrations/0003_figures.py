from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('prints', '0002_copies'),
    ]

    operations = [
        migrations.CreateModel(
            name='PrintedFigures',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('digest', models.CharField(max_length=64, unique=True)),
                ('packed', models.TextField()),
            ],
        ),
    ]
