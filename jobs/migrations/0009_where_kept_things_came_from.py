"""Say of what was kept before which run it came from, as far as that run can have left it.

An offcut of a cancelled job whose glass was never cut is no glass: it goes, unless somebody counts on it already. A
lot of leftovers beyond what was mixed stays on the shelf until it is counted, but is nobody's leftover.
"""

from decimal import Decimal
from fractions import Fraction
from uuid import NAMESPACE_URL, uuid5

from django.db import migrations
from django.utils import timezone


def _was_cut(run, glass, sheet):
    noted = [entry.content['sheets'] for entry in run.entries.filter(kind='glass', subject=glass['code']).order_by('id')]
    if run.finished_at is None and not noted:
        return False
    if sheet.get('kept_offcut') is not None:
        return True
    whole = [one['number'] for one in glass['plan'] if one.get('kept_offcut') is None]
    return whole.index(sheet['number']) < (noted[-1] if noted else glass['sheets'])


def _offcuts(apps, run):
    Offcut, KeptOffcut = apps.get_model('inventory', 'Offcut'), apps.get_model('jobs', 'KeptOffcut')
    for glass in run.ticket.plan.get('glass', []):
        for sheet in glass['plan']:
            for at in range(1, len(sheet.get('offcuts', [])) + 1):
                name = f"{glass['code']}/{sheet['number']}/{at}"
                key = uuid5(NAMESPACE_URL, f'silvering-daybook:offcut:{run.pk}:{name}')
                offcut = Offcut.objects.filter(form_key=key).select_related('reservation').first()
                if offcut is None:
                    continue
                if _was_cut(run, glass, sheet):
                    KeptOffcut.objects.create(run=run, offcut=offcut, glass=glass['code'], sheet=sheet['number'], piece=at)
                    continue
                promised = offcut.reservation is not None and offcut.reservation.released_at is None
                if run.ticket.job.state == 'cancelled' and offcut.gone_at is None and not promised:
                    Offcut.objects.filter(pk=offcut.pk).update(
                        gone_at=timezone.now(), gone_by=offcut.kept_by,
                        gone_because='its job was cancelled before the glass was cut',
                    )


def _solutions(ticket):
    """Return what each mix of a ticket is of, by its key: code and number of the solution, which no renaming changes.

    A ticket of then holds the name of that day alone. The quote that it was planned from froze every solution under
    its code, with the name of that same day: the name is looked for there. A job without a quote has no ticket.
    """
    quote = ticket.job.quote
    frozen = quote.basis.get('shelf', {}).get('solutions', {}) if quote is not None else {}
    codes = {(one['name'], one.get('issue_number', one.get('version_number'))): key for key, one in frozen.items()}
    return {
        mix['key']: mix.get('solution_key') or codes.get((mix['solution'], mix.get('issue', mix.get('version'))))
        for mix in ticket.plan.get('mixes', [])
    }


def _leftovers(apps, run):
    Posting, KeptLeftover = apps.get_model('inventory', 'Posting'), apps.get_model('jobs', 'KeptLeftover')
    MadeLot = apps.get_model('recipes', 'MadeLot')
    known = set(KeptLeftover.objects.values_list('lot', flat=True))
    lots = Posting.objects.filter(why=f'Left over from Job {run.ticket.job.number}', movements__kind='make-up in')
    made = MadeLot.objects.filter(lot__in=lots.values('movements__lot')).exclude(lot__in=known).order_by('pk')
    mixed = {}
    for entry in run.entries.filter(kind='mixed').order_by('id'):
        mixed[entry.subject] = entry.content['made']
    free = {
        mix['key']: Decimal(round(Fraction(mix['volume_ml']) * 1000)) / 1000
        for mix in run.ticket.plan.get('mixes', []) if mix.get('keeps') and mixed.get(mix['key'])
    }
    most, solutions = dict(free), _solutions(run.ticket)
    for one in made.select_related('lot', 'solution_issue__solution'):
        volume = one.lot.quantity_received
        for mix in run.ticket.plan.get('mixes', []):
            of_this = solutions[mix['key']] == f'{one.solution_issue.solution.code}/{one.solution_issue.number}'
            if of_this and volume <= free.get(mix['key'], 0):
                free[mix['key']] -= volume
                KeptLeftover.objects.create(run=run, lot=one.lot, mix=mix['key'], volume_ml=volume, mixed_ml=most[mix['key']])
                break


def link(apps, schema_editor):
    Run = apps.get_model('jobs', 'Run')
    for run in Run.objects.select_related('ticket__job__quote').order_by('pk'):
        _offcuts(apps, run)
        if run.finished_at is not None:
            _leftovers(apps, run)


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0005_estimating'),
        ('jobs', '0008_what_a_run_left'),
        ('recipes', '0004_madelot'),
    ]

    #: it reads made lots and tickets under the names they have until then
    run_before = [('recipes', '0005_recipe_versions')]

    operations = [
        migrations.RunPython(link, migrations.RunPython.noop),
    ]
