"""What a statement or credit note prints: every word of it, out of the rows it is about."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from studio.domain.bank_account import grouped, transfer_code
from studio.domain.problems import DomainError
from studio.domain.say import date_words, later, midway, say
from studio.imaging.statement_pdf import Sheet, SheetLine
from studio.models import Charge, Payment, Person, Studio

from .notices import studio_day
from .statements import Draft, Posting

CREDIT_NOTE_WORDS = later(
    "This note cancels the statement it names. What stood on it is not forgiven by that: "
    "it stands on the account, and on the next statement."
)


def written(day: date) -> str:
    return f"{day.day} {date_words(day, 'F Y')}"


def span(first: date, last: date) -> str:
    """``1 October to 18 November 2025``."""
    if first == last:
        return written(first)
    begins = f"{first.day} {date_words(first, 'F')}" if first.year == last.year else written(first)
    return say("{begins} to {written}", begins=begins, written=written(last))


def statement_sheet(
    draft: Draft, *, number: int, issued_at: datetime, due_on: date | None, studio: Studio
) -> Sheet:
    """The page of a new statement."""
    money, closing = studio.money_words, draft.closing_minor
    lines, balance = [], draft.opening_minor
    if balance:
        lines.append(
            SheetLine(_short(draft.from_on), later("Brought forward"), money(balance), money(balance))
        )
    for line in _lines(draft.rows, studio=studio, holder=draft.person):
        balance += line.amount_minor
        lines.append(line.printed(studio, balance))
    to_pay = say("In hand") if closing < 0 else say("To pay")
    totals = [
        (say("Charges"), money(draft.charged_minor), ""),
        (say("Payments"), money(-draft.paid_minor), ""),
    ]
    title = say("Statement {number}", number=number)
    notes = []
    if closing > 0 and due_on:
        notes.append(
            say(
                "Please pay by {written}, and give {title} as the reference.",
                written=written(due_on),
                title=title,
            )
        )
    if closing > 0:
        notes += [part for part in studio.statement_words.splitlines() if part.strip()]
        if studio.iban:
            bic = say(", BIC {bic}", bic=studio.bic) if studio.bic else ""
            notes.append(
                say(
                    "Bank: {account_name}, IBAN {grouped}{bic}.",
                    account_name=studio.account_name or studio.name,
                    grouped=grouped(studio.iban),
                    bic=bic,
                )
            )
    small = _tax_words(draft.rows, studio=studio)
    if studio.tutor_name:
        small.append(
            say(
                "Firings are shared by the room each piece takes. Questions: ask {tutor_name}.",
                tutor_name=studio.tutor_name,
            )
        )
    code = _transfer(studio, closing, reference=title)
    return Sheet(
        **_head(studio, draft.person),
        title=f"{title}, {written(studio_day(issued_at, studio))}",
        about=say("Account from {span}.", span=span(draft.from_on, draft.to_on)),
        headline=to_pay,
        headline_sum=money(abs(closing)),
        lines=tuple(lines),
        totals=(*totals, (to_pay, "", money(abs(closing)))),
        notes=tuple(notes),
        small_notes=tuple(small),
        transfer=code,
        transfer_words=say(
            "In euro, by your bank’s app: {money} to {account_name}, with the reference {title}.",
            money=money(closing),
            account_name=studio.account_name or studio.name,
            title=title,
        )
        if code
        else "",
        foot=studio.name,
    )


def credit_note_sheet(
    *,
    person: Person,
    rows: Sequence[Posting],
    cancelled: int,
    cancelled_on: date,
    why: str,
    number: int,
    issued_at: datetime,
    studio: Studio,
) -> Sheet:
    """The page of a credit note: each charge of the statement it cancels, turned round."""
    charges = [row for row in rows if isinstance(row, Charge)]
    taken_back = -sum(charge.amount_minor for charge in charges)
    lines, balance = [], 0
    for line in _lines(charges, studio=studio, holder=person, sign=-1):
        balance += line.amount_minor
        lines.append(line.printed(studio, balance))
    sum_words = studio.money_words(taken_back)
    return Sheet(
        **_head(studio, person),
        title=say(
            "Credit note {number}, {written}", number=number, written=written(studio_day(issued_at, studio))
        ),
        about=say(
            "It cancels statement {cancelled} of {written}. Reason: {why}",
            cancelled=cancelled,
            written=written(cancelled_on),
            why=why,
        ),
        headline=say("Taken back"),
        headline_sum=sum_words,
        lines=tuple(lines),
        totals=((say("Charges taken back"), "", sum_words),),
        notes=(CREDIT_NOTE_WORDS,),
        small_notes=tuple(_tax_words(charges, studio=studio, turned=True)),
        heads=(later("Date"), say("For"), say("Amount"), say("Sum")),
        foot=studio.name,
    )


def _head(studio: Studio, person: Person) -> dict[str, object]:
    address = tuple(line.strip() for line in studio.address.splitlines() if line.strip())
    return {"studio": studio.name, "address": address, "name": person.full_name}


@dataclass(slots=True)
class _Line:
    """One printed line: a posting, or all of one firing."""

    at: date
    words: str
    amount_minor: int = 0
    parts: list[str] = field(default_factory=list)

    def printed(self, studio: Studio, balance_minor: int) -> SheetLine:
        return SheetLine(
            day=_short(self.at),
            words=self.words,
            amount=studio.money_words(self.amount_minor),
            balance=studio.money_words(balance_minor),
            small=", ".join(self.parts),
        )


def _lines(rows: Iterable[Posting], *, studio: Studio, holder: Person, sign: int = 1) -> list[_Line]:
    """Firings by firing, with the mark and sum of each; all else by itself. ``sign`` -1 turns it round."""
    lines: list[_Line] = []
    firings: dict[tuple[object, ...], _Line] = {}
    for row in rows:
        day = studio_day(row.at, studio)
        if isinstance(row, Payment):
            words = (
                say("Payment taken back")
                if row.reverses_id
                else say("Paid, {method}", method=midway(row.get_method_display()))
            )
            lines.append(_Line(day, words, -sign * row.amount_minor, [row.words] if row.words else []))
            continue
        if row.share_id is None:
            lines.append(_Line(day, row.words, sign * row.amount_minor, _about(row)))
            continue
        key = (row.share.settlement_id, row.reverses_id is None, day)
        if key not in firings:
            settlement = row.share.settlement
            how = (
                say(", taken back")
                if row.reverses_id
                else say(", corrected")
                if settlement.corrects_id
                else ""
            )
            firings[key] = _Line(day, f"{settlement.firing}{how}")
            lines.append(firings[key])
        line = firings[key]
        line.amount_minor += sign * row.amount_minor
        line.parts.append(f"{_mark(row, holder)} {studio.money_words(sign * row.amount_minor)}")
    return lines


def _about(charge: Charge) -> list[str]:
    parts = [charge.get_kind_display()]
    if charge.tax_percent is not None:
        parts.append(
            say(
                "{tax_label} {percent} % included",
                tax_label=charge.tax_label,
                percent=percent(charge.tax_percent),
            )
        )
    return parts


def _mark(charge: Charge, holder: Person) -> str:
    placement = charge.share.placement
    if placement is None:
        return say("empty space")
    piece = placement.piece
    if piece.maker is None or piece.maker.pk == holder.pk:
        return piece.mark
    # Whose it is, where that is a young person of the holder's.
    return f"{piece.mark} ({piece.maker.first_name})"


def _tax_words(rows: Iterable[Posting], *, studio: Studio, turned: bool = False) -> list[str]:
    """A sentence for each rate: its tax, and the sums it is within."""
    sums: dict[tuple[str, Decimal], list[int]] = {}
    for row in rows:
        if isinstance(row, Charge) and row.tax_percent is not None:
            of = sums.setdefault((row.tax_label, row.tax_percent), [0, 0])
            of[0] += row.tax_minor
            of[1] += row.amount_minor
    sign = -1 if turned else 1
    return [
        say(
            "{label} {percent} %: {money_words}, included in {money_words_2}.",
            label=label,
            percent=percent(rate),
            money_words=studio.money_words(sign * tax),
            money_words_2=studio.money_words(sign * amount),
        )
        for (label, rate), (tax, amount) in sorted(sums.items())
    ]


def percent(rate: Decimal) -> str:
    return f"{rate.normalize():f}"


def _short(day: date) -> str:
    return f"{day.day} {date_words(day, 'M')}"


def _transfer(studio: Studio, amount_minor: int, *, reference: str) -> str:
    """The text of the code for a transfer; empty where the studio wants none or no bank would take it."""
    if not studio.payment_code or studio.currency != "EUR" or not studio.iban or amount_minor <= 0:
        return ""
    try:
        return transfer_code(
            name=studio.account_name or studio.name,
            iban=studio.iban,
            bic=studio.bic,
            amount_minor=amount_minor,
            reference=reference,
        )
    except DomainError:
        return ""
