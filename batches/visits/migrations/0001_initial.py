
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='VisitNote',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField(unique=True, verbose_name='visit note')),
                ('visited_on', models.DateField(verbose_name='day of the visit')),
                ('said_at', models.DateTimeField()),
                ('written_at', models.DateTimeField()),
                ('text', models.TextField()),
                ('digest', models.CharField(max_length=64, unique=True)),
                ('corrects', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='put_right_by', to='visits.visitnote')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'indexes': [models.Index(fields=['visited_on', 'number'], name='visit_note_by_day')],
                'constraints': [models.CheckConstraint(condition=models.Q(('text', ''), _negated=True), name='visit_note_says_something')],
            },
        ),
    ]
