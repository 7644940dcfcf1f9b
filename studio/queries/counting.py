"""Numbers of things as people say them."""

from __future__ import annotations


def counted(number: int, one: str, many: str) -> str:
    """``3 pieces``; small numbers in words, as one would write them."""
    names = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
    return f"{names[number] if number < len(names) else number} {one if number == 1 else many}"


def capital(words: str) -> str:
    return words[:1].upper() + words[1:]
