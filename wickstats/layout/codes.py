"""Plot identifiers: short codes with a check character, as in KA-4.

The alphabet leaves out signs that are taken for one another on a wet sheet (O, 0, I,
1, L, S, 5, B, 8, Z, 2, U, V, Q). Two letters and a check digit from one alphabet of
prime size q: the check is the sum of i * value(i) mod q. With q prime and fewer than q
places every wrong single character and every swap of two neighbors (or any two) is
noticed (weighted modulus checks; Verhoeff 1969, from memory). Standard library only.
"""

from wickstats.layout.stream import Stream

LETTERS = "ACDEFGHJKMN"
DIGITS = "34679"
