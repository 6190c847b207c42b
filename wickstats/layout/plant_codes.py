"""Codes of plants: the plot, the plant's number and a check letter, as in KA-4/3T.

The letter is sum(2^i * v_i) mod 13 over the signs of the plot and the digits of the number,
v the digit itself or the sign's code point. 13 is prime, digits differ by less than 13 and
the weights of neighbors differ: every wrong digit, every wrong letter and every swap of two
neighboring digits is noticed (weighted checks modulo a prime, as in the ISBN of ISO 2108;
from memory). A digit swapped with the letter is no code any more. Slips in a plot that was
named here are noticed by the plot's own check sign; another plot with the right form passes
once in 13. Letters that spreadsheets take for a clock or an exponent (A, P, E) and those
that are taken for one another are left out. Standard library only.
"""

import re

SIGNS = "CDFGHJKMNRTWX"
SIZE = len(SIGNS)
_CODE = re.compile(rf"(?:(?P<plot>\S+)/)?(?P<number>[1-9]\d{{0,3}})(?P<letter>[{SIGNS}])")


def check_letter(plot: str, number: str) -> str:
    """The check letter of a plant (its number as text) in a plot."""
    values = [ord(sign) for sign in plot] + [int(digit) for digit in number]
    return SIGNS[sum(pow(2, i, SIZE) * v for i, v in enumerate(values)) % SIZE]


def plant_code(plot: str, number: str) -> str:
    """The plant's code as it stands on its label: KA-4 and 3 give KA-4/3T or the like."""
    return f"{plot}/{number}{check_letter(plot, number)}"


def split_code(text: str) -> tuple[str | None, str, str] | None:
    """Plot (None where it is not said), number and letter; None for what is no code."""
    match = _CODE.fullmatch(text.upper() if "/" not in text else text)
    if match is None:
        return None
    return match["plot"], match["number"], match["letter"]
