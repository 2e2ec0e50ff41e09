import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('ledger', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Series',
            fields=[
                ('prefix', models.CharField(max_length=10, primary_key=True, serialize=False)),
                ('last', models.PositiveBigIntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name='Record',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(max_length=40)),
                ('number', models.CharField(max_length=40, unique=True)),
                ('identity', models.CharField(blank=True, max_length=200)),
                ('state', models.CharField(choices=[('open', 'Open'), ('awaiting a second person', 'Awaiting a second person'), ('complete', 'Complete'), ('void', 'Void')], default='open', max_length=40)),
                ('happened_from', models.DateTimeField()),
                ('happened_to', models.DateTimeField(null=True)),
                ('opened_at', models.DateTimeField()),
                ('opened_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('second', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name='Reading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('quantity', models.CharField(max_length=40)),
                ('value', models.CharField(blank=True, max_length=40)),
                ('written_at', models.DateTimeField()),
                ('reason', models.TextField(blank=True)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('strikes', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='struck_by', to='batches.reading')),
                ('record', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='batches.record')),
            ],
        ),
        migrations.CreateModel(
            name='Mention',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('field', models.CharField(max_length=60)),
                ('what', models.CharField(choices=[('record', 'Record'), ('vessel', 'Vessel'), ('lot', 'Lot'), ('document', 'Document'), ('product', 'Product')], max_length=10)),
                ('code', models.CharField(max_length=120)),
                ('record', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='mentions', to='batches.record')),
            ],
        ),
        migrations.CreateModel(
            name='Link',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('happened_at', models.DateTimeField()),
                ('slot', models.BigIntegerField(default=0)),
                ('pure_ul', models.BigIntegerField()),
                ('mass_g', models.BigIntegerField(default=0)),
                ('account', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='links', to='ledger.account')),
                ('giver', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='given', to='batches.record')),
                ('taker', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='taken', to='batches.record')),
            ],
        ),
        migrations.CreateModel(
            name='Sending',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('token', models.CharField(max_length=64, unique=True)),
                ('content', models.CharField(max_length=64)),
                ('record', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sendings', to='batches.record')),
            ],
        ),
        migrations.CreateModel(
            name='Version',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('serial', models.PositiveIntegerField()),
                ('values', models.TextField()),
                ('rows', models.TextField(default='[]')),
                ('notes', models.TextField(default='[]')),
                ('digest', models.CharField(max_length=64)),
                ('written_at', models.DateTimeField()),
                ('reason', models.TextField(blank=True)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('record', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='versions', to='batches.record')),
            ],
        ),
        migrations.CreateModel(
            name='Signature',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('what', models.CharField(choices=[('agreed', 'Agreed to'), ('void asked', 'Asked to be made void'), ('sent back', 'Not agreed to')], max_length=20)),
                ('at', models.DateTimeField()),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('record', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='signatures', to='batches.record')),
                ('version', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='signatures', to='batches.version')),
            ],
        ),
        migrations.CreateModel(
            name='Posted',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('moment', models.CharField(max_length=40)),
                ('movement', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='posted', to='ledger.movement')),
                ('record', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='postings', to='batches.record')),
                ('version', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='batches.version')),
            ],
        ),
        migrations.CreateModel(
            name='Contents',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('happened_at', models.DateTimeField()),
                ('slot', models.BigIntegerField()),
                ('book_ul', models.BigIntegerField()),
                ('shares', models.TextField()),
                ('account', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='contents', to='ledger.account')),
            ],
            options={
                'indexes': [models.Index(fields=['account', 'happened_at', 'slot'], name='contents_in_order')],
            },
        ),
        migrations.AddIndex(
            model_name='record',
            index=models.Index(fields=['kind', '-happened_from', '-id'], name='record_by_kind'),
        ),
        migrations.AddIndex(
            model_name='record',
            index=models.Index(fields=['-happened_from', '-id'], name='record_by_time'),
        ),
        migrations.AddIndex(
            model_name='record',
            index=models.Index(condition=models.Q(('state', 'complete'), _negated=True), fields=['state'], name='record_by_state'),
        ),
        migrations.AddConstraint(
            model_name='record',
            constraint=models.UniqueConstraint(condition=models.Q(('identity', ''), _negated=True), fields=('kind', 'identity'), name='record_identity_once'),
        ),
        migrations.AddIndex(
            model_name='reading',
            index=models.Index(fields=['record', 'at', 'quantity'], name='reading_in_order'),
        ),
        migrations.AddConstraint(
            model_name='reading',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('strikes__isnull', True), models.Q(('value', ''), _negated=True)), models.Q(('strikes__isnull', False), models.Q(('reason', ''), _negated=True)), _connector='OR'), name='reading_says_something'),
        ),
        migrations.AddIndex(
            model_name='mention',
            index=models.Index(fields=['what', 'code', 'record'], name='mention_by_code'),
        ),
        migrations.AddIndex(
            model_name='mention',
            index=models.Index(fields=['record'], name='mention_by_record'),
        ),
        migrations.AddIndex(
            model_name='link',
            index=models.Index(fields=['taker', 'happened_at'], name='link_back'),
        ),
        migrations.AddIndex(
            model_name='link',
            index=models.Index(fields=['giver', 'happened_at'], name='link_forward'),
        ),
        migrations.AddIndex(
            model_name='link',
            index=models.Index(fields=['account', 'happened_at', 'slot'], name='link_by_account'),
        ),
        migrations.AddIndex(
            model_name='link',
            index=models.Index(fields=['happened_at', 'slot'], name='link_in_order'),
        ),
        migrations.AddConstraint(
            model_name='link',
            constraint=models.CheckConstraint(condition=models.Q(('giver', models.F('taker')), _negated=True), name='link_joins_two'),
        ),
        migrations.AddConstraint(
            model_name='version',
            constraint=models.UniqueConstraint(fields=('record', 'serial'), name='version_serial_once'),
        ),
    ]
