"""The daily check of the books: costs, shares and charges agree, numbers have no gaps, nothing was altered.

Each thing that is wrong is a `Problem` with a plain sentence. There are none in a sound studio.
"""

from __future__ import annotations

import hashlib

from django.db.models import Count, F, Max, Min, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from studio.domain.problems import Problem
from studio.domain.say import say
from studio.domain.taxes import tax_within
from studio.models import Charge, CostLine, FiringShare, Payment, Settlement, Statement, StatementLine, Studio

from .settled import settled
from .statements import standing

#: More of one kind than this are counted, not named.
_NAMED = 5


def quick() -> list[Problem]:
    """What a few sums over the tables tell: for every look at the first page. Eight queries."""
    return [*_costs(), *_charges(), *_numbers(), *_statements()]


def thorough() -> list[Problem]:
    """The quick check; every sharing worked again from its own facts; every tax; every page's own bytes."""
    return [*quick(), *_worked_again(), *_taxes(), *_pages()]


def _money(amount_minor: int) -> str:
    """For the few that are wrong: the studio is asked when there is something to say."""
    return Studio.the().money_words(amount_minor)


def _costs() -> list[Problem]:
    rows = Settlement.objects.annotate(
        lines=_total(CostLine.objects.filter(settlement=OuterRef("pk")), "settlement"),
        shared=_total(FiringShare.objects.filter(settlement=OuterRef("pk")), "settlement"),
        charged=_total(Charge.objects.filter(share__settlement=OuterRef("pk")), "share__settlement"),
    ).select_related("firing")
    off = rows.exclude(lines=F("cost_minor"), shared=F("cost_minor"))
    stayed = rows.filter(reversed_at__isnull=False).exclude(charged=0)
    return [
        *_told(
            off.order_by("pk"),
            "cost-not-shared",
            lambda row: say(
                "{firing} cost {money}, its lines sum to {money_2} and its shares to {money_3}",
                firing=row.firing,
                money=_money(row.cost_minor),
                money_2=_money(row.lines),
                money_3=_money(row.shared),
            ),
        ),
        *_told(
            stayed.order_by("pk"),
            "reopened-still-charged",
            lambda row: say(
                "{firing} was reopened, and {money} of it is charged still",
                firing=row.firing,
                money=_money(row.charged),
            ),
        ),
    ]


def _charges() -> list[Problem]:
    turned = Charge.objects.filter(reverses__isnull=False).exclude(
        amount_minor=-F("reverses__amount_minor"),
        tax_minor=-F("reverses__tax_minor"),
        person=F("reverses__person"),
    )
    paid = Payment.objects.filter(reverses__isnull=False).exclude(
        amount_minor=-F("reverses__amount_minor"), person=F("reverses__person")
    )
    others = Charge.objects.filter(share__isnull=False).filter(
        Q(share__payer__isnull=True) | ~Q(person=F("share__payer"))
    )
    return [
        *_told(
            turned.order_by("pk"),
            "reversal-differs",
            lambda row: say("Charge {code} takes back another one and not all of it", code=row.code),
        ),
        *_told(
            paid.order_by("pk"),
            "reversal-differs",
            lambda row: say("Payment {code} takes back another one and not all of it", code=row.code),
        ),
        *_told(
            others.order_by("pk"),
            "charged-to-another",
            lambda row: say("Charge {code} is for a share that somebody else bears", code=row.code),
        ),
    ]


def _numbers() -> list[Problem]:
    found = Statement.objects.aggregate(
        count=Count("pk"), first=Min("number"), last=Max("number"), kinds=Count("number", distinct=True)
    )
    if not found["count"] or (found["first"], found["last"], found["kinds"]) == (
        1,
        found["count"],
        found["count"],
    ):
        return []
    there = set(Statement.objects.values_list("number", flat=True))
    gone = [number for number in range(1, found["last"] + 1) if number not in there]
    named = ", ".join(str(number) for number in gone[:_NAMED])
    return [
        Problem(
            "numbers-gap",
            say("The numbers of statements have a gap: {named} {is_} missing.", named=named, is_=_is(gone)),
        )
    ]


def _statements() -> list[Problem]:
    of = StatementLine.objects.filter(statement=OuterRef("pk"))
    rows = Statement.objects.filter(kind=Statement.Kind.STATEMENT).annotate(
        charges=_total(of.filter(charge__isnull=False), "statement", "charge__amount_minor"),
        payments=_total(of.filter(payment__isnull=False), "statement", "payment__amount_minor"),
    )
    off = rows.exclude(charges=F("charged_minor"), payments=F("paid_minor"))
    twice = (
        StatementLine.objects.filter(statement__in=standing())
        .order_by()
        .values("charge", "payment")
        .annotate(times=Count("pk"))
        .filter(times__gt=1)
    )
    problems = _told(
        off.order_by("number"),
        "statement-differs",
        lambda row: say("{row} is not the sum of its lines", row=row),
    )
    if count := twice.count():
        problems.append(
            Problem(
                "stated-twice",
                say("{count} charges or payments stand on more than one statement.", count=count),
            )
        )
    return problems


def _worked_again() -> list[Problem]:
    """Each standing sharing, worked again from the facts that were kept, against what was posted."""
    problems, money = [], Studio.the().money_words
    for each in settled(Settlement.objects.all()):
        shared = each.shared()
        if shared is None:
            continue
        by_key = {share.key: share for share in shared.shares}
        for row in each.rows:
            share = by_key[each.facts.places[row.placement.pk].key]
            wrong = row.amount_minor != share.share_minor or (
                not row.taken_back and row.charged_minor != share.charge_minor
            )
            if wrong:
                problems.append(
                    Problem(
                        "share-differs",
                        say(
                            "{mark} in {firing} bears {money} and is charged {money_2}. Worked again it is "
                            "{money_3} and {money_4}.",
                            mark=row.placement.piece.mark,
                            firing=each.settlement.firing,
                            money=money(row.amount_minor),
                            money_2=money(row.charged_minor),
                            money_3=money(share.share_minor),
                            money_4=money(share.charge_minor),
                        ),
                    )
                )
    return problems


def _taxes() -> list[Problem]:
    taxed = Charge.objects.filter(tax_percent__isnull=False).order_by("pk")
    return [
        Problem(
            "tax-differs",
            say(
                "The tax on charge {code} is not {tax_percent} % of it.",
                code=row.code,
                tax_percent=row.tax_percent,
            ),
        )
        for row in taxed.iterator()
        if row.tax_minor != tax_within(row.amount_minor, row.tax_percent)
    ]


def _pages() -> list[Problem]:
    problems = []
    for statement in Statement.objects.select_related("file").order_by("number").iterator(chunk_size=50):
        kept = getattr(statement, "file", None)
        if kept is None or hashlib.sha256(bytes(kept.data)).hexdigest() != statement.sha256:
            problems.append(
                Problem(
                    "page-altered",
                    say("The page of {statement} is not the one that was issued.", statement=statement),
                )
            )
    return problems


def _told(rows: QuerySet, code: str, sentence: object) -> list[Problem]:
    found = list(rows[: _NAMED + 1])
    problems = [Problem(code, f"{sentence(row)}.") for row in found[:_NAMED]]
    if len(found) > _NAMED:
        problems.append(Problem(code, say("There are {count} more like that.", count=rows.count() - _NAMED)))
    return problems


def _total(rows: QuerySet, by: str, column: str = "amount_minor") -> Coalesce:
    total = rows.order_by().values(by).annotate(total=Sum(column)).values("total")
    return Coalesce(Subquery(total), Value(0))


def _is(numbers: list[int]) -> str:
    return say("is") if len(numbers) == 1 else say("are")
