"""Pages are packed for phones that take it; nothing else is, and nobody else gets it."""

from __future__ import annotations

import gzip

import pytest
from django.test import Client

from tests import factories as make
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db


def test_a_page_is_packed_for_who_takes_it_and_reads_the_same() -> None:
    make.studio()
    client = signed_in(make.student())
    plain = client.get("/")
    packed = client.get("/", headers={"Accept-Encoding": "gzip, br"})
    assert packed.headers["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in packed.headers["Vary"]
    assert b"Nothing is ready yet." in gzip.decompress(packed.content)
    assert len(packed.content) < len(plain.content) / 2
    assert "Content-Encoding" not in plain.headers


def test_two_packed_alike_differ_in_length_by_chance_so_that_lengths_tell_nothing() -> None:
    """BREACH (Gluck, Harris, Prado 2013) reads secrets from lengths; Django's GZipMiddleware adds up to 100
    bytes (its documentation, from memory)."""
    make.studio()
    client = Client()
    lengths = {len(client.get("/sign-in/", headers={"Accept-Encoding": "gzip"}).content) for _ in range(12)}
    assert len(lengths) > 1


def test_files_keep_their_bytes() -> None:
    make.studio()
    answer = signed_in(make.tutor()).get("/books/table/", headers={"Accept-Encoding": "gzip"})
    assert answer.status_code == 200
    assert "Content-Encoding" not in answer.headers
