"""How the studio writes sums, what its statements say, and the account that transfers go to."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.bank_account import clean_bic, clean_iban
from studio.domain.problems import DomainError
from studio.domain.say import say
from studio.models import Person, Studio

from .common import clean_choice, clean_text, clean_whole, must_be_tutor, refuse, save_checked


@transaction.atomic
def save_money_settings(
    *,
    by: Person | None,
    money_style: str,
    sign_after: bool,
    statement_due_days: int,
    statement_words: str,
    account_name: str,
    iban: str,
    bic: str,
    payment_code: bool,
    now: datetime | None = None,
) -> Studio:
    """Change all of them. ``by`` None is the command line of an empty studio.

    An IBAN is refused unless its check digits are right; a code for transfers is refused without an IBAN or
    in another currency than the euro.
    """
    if by is not None:
        must_be_tutor(by)
    Studio.the()
    row = Studio.objects.select_for_update(no_key=True).get(pk=1)
    row.money_style = clean_choice(money_style, Studio.MoneyStyle.values, label=say("way of writing sums"))
    row.sign_after = bool(sign_after)
    row.statement_due_days = clean_whole(
        statement_due_days, label=say("number of days to pay in"), least=0, most=366
    )
    row.statement_words = clean_text(
        statement_words, label=say("words on how to pay"), longest=400, lines=True
    )
    row.account_name = clean_text(account_name, label=say("name on the account"), longest=70)
    try:
        row.iban = clean_iban(iban) if iban.strip() else ""
        row.bic = clean_bic(bic)
    except DomainError as error:
        refuse("bank-account", str(error))
    row.payment_code = bool(payment_code)
    if row.payment_code and (row.currency != "EUR" or not row.iban):
        refuse(
            "payment-code",
            say(
                "The code for transfers works in euro alone and needs the IBAN. "
                "Fill that in, or leave it out."
            ),
        )
    save_checked(row)
    return row
