"""What asks for a second person: a figure that waits, and what became of it; one more thing a site may state."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('rules', '0019_site_facts'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AlterField(
            model_name='statement',
            name='what',
            field=models.CharField(choices=[('figures', 'The figures of the site were looked through, and stand'), ('months', 'The site accounts by calendar months'), ('nothing held', 'No spirit is held as the books begin'), ('made as Scotch', 'Whisky is mashed, converted, fermented and distilled at this one distillery in Scotland, by enzymes of the grain and yeast alone')], max_length=20),
        ),
        migrations.CreateModel(
            name='FigureAsked',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(max_length=40)),
                ('boxes', models.TextField()),
                ('asked_at', models.DateTimeField()),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='FigureAnswered',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('agreed', models.BooleanField()),
                ('answered_at', models.DateTimeField()),
                ('reason', models.TextField(blank=True)),
                ('table', models.CharField(blank=True, max_length=60)),
                ('row', models.BigIntegerField(null=True)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('asked', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='answered', to='rules.figureasked')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
    ]
