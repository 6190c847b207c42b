"""Plot identifiers: short codes with a check character, as in KA-4.

The alphabet has 23 signs and leaves out those that are taken for one another on a wet
sheet (O and 0, I, 1 and L, S and 5, B and 8, Z, 6, Q, U). Letters, then a hyphen, then
the check character c, with sum(i * value_i) + (k + 1) * c = 0 mod 23 over the k letters.
As 23 is prime and all weights differ, every wrong single character and every swap of
two characters is noticed (weighted checks modulo a prime, as in the ISBN of ISO 2108;
from memory). Names of months are left out: spreadsheets take MAR-4 for a date. Standard
library only.
"""

from itertools import islice, product

from wickstats.layout.stream import Stream

LETTERS = "ACDEFGHJKMNPRTVWXY"
ALPHABET = LETTERS + "23479"
SIZE = len(ALPHABET)
MONTHS = frozenset({"JAN", "MAR", "APR", "MAY", "DEC", "MAI", "AVR", "ENE", "MEI", "MRT"})
_VALUE = {sign: i for i, sign in enumerate(ALPHABET)}


def with_check(letters: str) -> str:
    """The code of some letters: KA gives KA-4 or the like."""
    total = sum(i * _VALUE[sign] for i, sign in enumerate(letters, start=1))
    weight = len(letters) + 1
    check = -total * pow(weight, -1, SIZE) % SIZE
    return f"{letters}-{ALPHABET[check]}"


def is_code(text: str) -> bool:
    """Whether a text is one of our identifiers, its check character right."""
    letters, hyphen, check = text.partition("-")
    if not hyphen or len(letters) < 2 or len(check) != 1:
        return False
    if any(sign not in LETTERS for sign in letters) or check not in ALPHABET:
        return False
    return with_check(letters) == text


def draw_codes(count: int, stream: Stream) -> list[str]:
    """``count`` different identifiers in a random order, as short as will do."""
    length = 2
    # a quarter stays unused, so that most slips of the pen are no plot's identifier
    while len(LETTERS) ** length * 3 < count * 4:
        length += 1
    total = len(LETTERS) ** length
    if length == 2:
        letters = list(map("".join, product(LETTERS, repeat=2)))
        return [with_check(item) for item in islice(stream.shuffled(letters), count)]
    chosen: dict[int, None] = {}
    while len(chosen) < count:
        number = stream.below(total)
        if _letters(number, length) not in MONTHS:
            chosen.setdefault(number)
    return [with_check(_letters(number, length)) for number in chosen]


def _letters(number: int, length: int) -> str:
    out = ""
    for _ in range(length):
        number, digit = divmod(number, len(LETTERS))
        out = LETTERS[digit] + out
    return out
