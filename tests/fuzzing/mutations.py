"""Mutations of valid files: what wires, editors and other programs do to them.

Every mutation takes bytes and gives bytes.  Numbers and lines are told from other bytes, so that
most mutants of a text are still that kind of text and get past its first check.
"""

import re
from collections.abc import Callable, Sequence
from random import Random

__all__ = ["mutated"]

MOST_AT_ONCE = 6
"""Mutations of one file, one upon the other."""

LARGEST = 200_000
"""Bytes of a mutant; copies of copies would grow without end."""

NUMBER = re.compile(rb"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")

WORD = re.compile(rb"[A-Za-z_][A-Za-z_0-9-]*")

AWKWARD_NUMBERS = (
    b"0", b"-0", b"-1", b"1", b"2", b"7", b"1e-9", b"0.01", b"1e6", b"1e9", b"1e154", b"1e308",
    b"-1e308", b"1e999", b"nan", b"inf", b"-inf", b"65535", b"65536", b"2147483648", b"9" * 400,
    b"18446744073709551616", b"0x10", b"1_000", b"1,5", b"1 1/2", "\u0663".encode(), b"",
)  # fmt: skip

AWKWARD_TEXT = (
    b"", b"\0", b"\xff", b"\xef\xbb\xbf", b"\r\n", b"\r", b"\t", b" ", b'"', b"'", b"<", b"&",
    b"&#0;", b"]]>", b"[" * 300, b"{" * 300, b"(" * 300, "\u0141\u6728\U0001fa9a".encode(),
    "\u202e".encode(), b"\\u0000", b"\\ud800", b"null", b"true", b"[]", b"{}", b"../../etc/passwd",
    b"%s%n", b"#", b"//",
)  # fmt: skip

Mutation = Callable[[bytearray, Random, Sequence[bytes]], None]


def mutated(data: bytes, random: Random, others: Sequence[bytes]) -> bytes:
    """A mutant of a file.

    Args:
        data: The file.
        random: Where chance comes from; the same one gives the same mutant.
        others: Files of the same kind, to splice with.
    """
    mutant = bytearray(data)
    for _ in range(random.randint(1, MOST_AT_ONCE)):
        random.choice(MUTATIONS)(mutant, random, others)
    return bytes(mutant[:LARGEST])


def _span(data: bytearray, random: Random) -> slice:
    """A stretch of the file, mostly short."""
    start = random.randint(0, len(data))
    return slice(start, start + int(len(data) ** random.random()))


def _flip(data: bytearray, random: Random, _: Sequence[bytes]) -> None:
    if data:
        data[random.randrange(len(data))] ^= 1 << random.randrange(8)


def _flip_near_the_start(data: bytearray, random: Random, _: Sequence[bytes]) -> None:
    """Headers, EXIF and heads of tables stand there."""
    if data:
        data[int(min(len(data), 2000) * random.random() ** 2)] = random.randrange(256)


def _count(data: bytearray, random: Random, _: Sequence[bytes]) -> None:
    """A length, size or offset of a binary file."""
    at, width = random.randint(0, len(data)), random.choice((2, 4))
    value = random.choice((0, 1, 2**15, 2**16 - 1, 2**31 - 1, 2**32 - 1, random.getrandbits(32)))
    order = random.choice(("big", "little"))
    data[at : at + width] = (value % 2 ** (8 * width)).to_bytes(width, order)


def _cut_short(data: bytearray, random: Random, _: Sequence[bytes]) -> None:
    if random.random() < 0.3:
        del data[random.randint(0, len(data)) :]


def _delete(data: bytearray, random: Random, _: Sequence[bytes]) -> None:
    del data[_span(data, random)]


def _repeat(data: bytearray, random: Random, _: Sequence[bytes]) -> None:
    span = _span(data, random)
    again = bytes(data[span]) * random.choice((1, 1, 2, 50))
    data[span.start : span.start] = again[:LARGEST]


def _splice(data: bytearray, random: Random, others: Sequence[bytes]) -> None:
    other = bytearray(random.choice(others))
    data[_span(data, random)] = other[_span(other, random)]


def _awkward_text(data: bytearray, random: Random, _: Sequence[bytes]) -> None:
    at = random.randint(0, len(data))
    data[at:at] = random.choice(AWKWARD_TEXT)


def _awkward_number(data: bytearray, random: Random, _: Sequence[bytes]) -> None:
    _replace(NUMBER, data, random, random.choice(AWKWARD_NUMBERS))


def _near_number(data: bytearray, random: Random, _: Sequence[bytes]) -> None:
    _replace(NUMBER, data, random, b"%.*g" % (random.randint(1, 9), random.gauss(0, 1000)))


def _other_word(data: bytearray, random: Random, others: Sequence[bytes]) -> None:
    words = WORD.findall(random.choice(others)[:4000])
    if words:
        _replace(WORD, data, random, random.choice(words))


def _replace(pattern: re.Pattern[bytes], data: bytearray, random: Random, by: bytes) -> None:
    """Replace the first match after a place by chance."""
    found = pattern.search(data, random.randint(0, len(data)))
    if found:
        data[found.start() : found.end()] = by


def _lines(data: bytearray, random: Random, _: Sequence[bytes]) -> None:
    """Move, drop or repeat a line."""
    lines = bytes(data).split(b"\n")
    line = random.choice(lines)
    change = random.randrange(3)
    if change != 1:
        lines.insert(random.randint(0, len(lines)), line)
    if change != 0:
        lines.remove(line)
    data[:] = b"\n".join(lines)


def _windows_lines(data: bytearray, random: Random, _: Sequence[bytes]) -> None:
    if random.random() < 0.1:
        data[:] = data.replace(b"\n", b"\r\n")


MUTATIONS: tuple[Mutation, ...] = (
    _flip,
    _flip_near_the_start,
    _count,
    _cut_short,
    _delete,
    _repeat,
    _splice,
    _awkward_text,
    _awkward_number,
    _near_number,
    _other_word,
    _lines,
    _windows_lines,
)
