"""What a scanned text is. Only a whole code of ours or a mark leads anywhere."""

import pytest

from studio.domain.scanned import WORDS, Read, read_code, read_scan

HOSTS = {"clay.quillmere.example", "127.0.0.1:8000"}
CODE = "7KX9PW4TRB"


@pytest.mark.parametrize(
    ("text", "kind", "code", "mark"),
    [
        (f"HTTP://CLAY.QUILLMERE.EXAMPLE/Q/{CODE}", Read.TAG, CODE, ""),
        (f"https://clay.quillmere.example/q/{CODE.lower()}", Read.TAG, CODE, ""),
        (f"http://127.0.0.1:8000/Q/{CODE}/", Read.TAG, CODE, ""),
        (f"  {CODE}\n", Read.TAG, CODE, ""),
        (CODE.lower(), Read.TAG, CODE, ""),
        ("BCDFGHJKLM", Read.TAG, "BCDFGHJKLM", ""),
        (f"Q/{CODE}", Read.TAG, CODE, ""),
        (f"/q/{CODE}", Read.TAG, CODE, ""),
        # Full-width digits and letters, as some phone keyboards give them.
        ("".join(chr(ord(sign) + 0xFEE0) for sign in CODE), Read.TAG, CODE, ""),
        ("k7h", Read.MARK, "", "k7h"),
        ("K 7 H", Read.MARK, "", "K 7 H"),
        ("K7H2", Read.MARK, "", "K7H2"),
        ("", Read.NOTHING, "", ""),
        ("   ", Read.NOTHING, "", ""),
        ("x" * 4096, Read.TOO_LONG, "", ""),
        ("https://elsewhere.example/q/" + CODE, Read.FOREIGN_SITE, "", ""),
        (f"https://clay.quillmere.example@elsewhere.example/Q/{CODE}", Read.FOREIGN_SITE, "", ""),
        (f"https://clay.quillmere.example.elsewhere.example/Q/{CODE}", Read.FOREIGN_SITE, "", ""),
        ("http://[::1", Read.OTHER_KIND, "", ""),
        ("https://clay.quillmere.example/pieces/", Read.NOT_A_TAG, "", ""),
        (f"HTTP://CLAY.QUILLMERE.EXAMPLE/Q/{CODE[:6]}", Read.CUT_OFF, "", ""),
        ("HTTP://CLAY.QUILLMERE.EXAMPLE/Q/", Read.CUT_OFF, "", ""),
        (CODE[:7], Read.CUT_OFF, "", ""),
        (CODE + CODE, Read.OTHER_KIND, "", ""),
        ("WIFI:T:WPA;S:Clay;P:secret;;", Read.WIFI, "", ""),
        ("mailto:maud@quillmere.example", Read.OTHER_KIND, "", ""),
        ("BEGIN:VCARD\nN:Fenwick", Read.OTHER_KIND, "", ""),
        ("tel:+440000", Read.OTHER_KIND, "", ""),
    ],
)
def test_what_a_text_is(text, kind, code, mark) -> None:
    scanned = read_scan(text, hosts=HOSTS)
    assert (scanned.kind, scanned.code, scanned.mark) == (kind, code, mark)


def test_what_leads_nowhere_says_so_and_no_two_say_the_same() -> None:
    texts = ["", "x" * 4096, "https://elsewhere.example/", "https://clay.quillmere.example/", "WIFI:T:WPA;;"]
    sentences = [read_scan(text, hosts=HOSTS).sentence for text in [*texts, "tel:1", CODE[:7]]]
    assert len(set(sentences)) == len(sentences) == len(WORDS)
    assert all(sentences)


def test_a_tag_has_nothing_to_explain() -> None:
    assert read_code(CODE).sentence == ""
