"""Open survival data with published answers."""

import numpy as np

INF = np.inf

# Remission of leukemia in weeks: Freireich et al. (1963) Blood 21:699-716, via Gehan (1965);
# data seen in Le, Introductory Biostatistics, p. 385 (issuhub.com/view/index/5551)
TREATED = np.array(
    [6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35.0]
)
TREATED_DIED = np.arange(21) < 9
CONTROL = np.array([1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23.0])
TIMES = np.concatenate([TREATED, CONTROL])
DIED = np.concatenate([TREATED_DIED, np.ones(21, dtype=bool)])
GROUP = np.repeat([0, 1], 21)

# Breast retraction in months, death in (L, R]: Beadle et al. (1984) Cancer 54:2911, shipped
# as KMsurv bcdeter (Klein & Moeschberger 1997), 46 and 49 rows as packaged
_ARM_1 = (
    "0-5 0-7 0-8 4-11 5-11 5-12 6-10 7-14 7-16 11-15 11-18 17-25 17-25 18-26 19-35 25-37 "
    "26-40 27-34 36-44 36-48 37-44 15 17 18 22 24 24 32 33 34 36 36 37 37 37 38 40 45 "
    "46 46 46 46 46 46 46 46"
)
_ARM_2 = (
    "0-5 0-22 4-8 4-9 5-8 8-12 8-21 10-17 10-35 11-13 11-17 11-20 12-20 13-39 14-17 14-19 "
    "15-22 16-20 16-24 16-24 16-60 17-23 17-26 17-27 18-24 18-25 19-32 22-32 24-30 24-31 "
    "30-34 30-36 33-40 34-34 35-39 44-48 48-48 11 11 13 13 13 21 23 31 32 34 34 35"
)


def _ends(text):
    pairs = [part.split("-") for part in text.split()]
    low = np.array([float(p[0]) for p in pairs])
    high = np.array([float(p[1]) if len(p) == 2 else INF for p in pairs])
    return low, high


RETRACTION = {1: _ends(_ARM_1), 2: _ends(_ARM_2)}

# Weeks to a tumor (*) or to the end in 50 litters of three female rats, the treated one
# first: Mantel, Bohidar & Ciminera (1977) Cancer Research 37:3863, as shipped with R's
# survival (rats, females); the set called rats elsewhere is another
LITTERS = (
    "101 49* 104 104 102 104 104 104 104 77 97 79 89 104 104 88* 96* 104 104* 94 77* 96* "
    "104 104 82 77 104 70* 104 77 89* 91 90 91 70 92 39* 45 50* 103* 69 91 93 104 103 85 "
    "72 104 104 63 104 104 104 74 81 104 69 67* 104 68* 104 104 104 104 104 104 104 83 "
    "40* 87 104 104 104 104 104 89 104 104 78 104 104 104 81* 64* 86* 55* 94 34* 104 54* "
    "76 87 74 103* 73* 84* 102* 104 80 80* 104 73 45* 79 104 94* 104 104 104 104 104 104 "
    "101* 94 76 84* 78* 80* 81* 76 72* 95 104 73* 104 66* 92* 104 102* 104 98 73 55 104 "
    "104 49 83 77 89* 104 104 88 79 99 103* 91 104 104 104 79* "
)


def litters():
    """(time, died, treated, litter) of the 150 rats."""
    words = LITTERS.split()
    time = np.array([float(word.rstrip("*")) for word in words])
    died = np.array([word.endswith("*") for word in words])
    return time, died, np.tile([1, 0, 0], 50), np.repeat(np.arange(50), 3)
