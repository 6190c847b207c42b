"""Restrictions that a layout may be kept to, in the words of the trial file.

Each says something about places, not about any one treatment, so that treatments may
change names without leaving the allowed layouts. Leans on nothing.
"""

BLOCKED = ("randomized complete block", "incomplete block")
FREE = "completely randomized"

NOT_TWICE = "no treatment twice in a column"
NOT_ACROSS = "no treatment beside itself across blocks"
NOT_BESIDE = "no treatment beside itself"
NOT_ALWAYS_END = "no treatment at an end of every block"
BOTH_HALVES = "every treatment in both halves of the field"

# restriction -> the designs for which it can be drawn
KEEP: dict[str, tuple[str, ...]] = {
    NOT_TWICE: BLOCKED,
    NOT_ACROSS: BLOCKED,
    NOT_BESIDE: (FREE, *BLOCKED, "row-column"),
    NOT_ALWAYS_END: BLOCKED,
    BOTH_HALVES: (FREE, *BLOCKED),
}
KEEP_WORDS = tuple(KEEP)
# those that ask only for the order of the units, whatever the plots of one
BY_ORDER = (NOT_ALWAYS_END,)

# what each means, for the schema
MEANINGS = {
    NOT_TWICE: "the same place in two blocks never holds the same treatment",
    NOT_ACROSS: "the same place in two blocks that follow each other never holds the same "
    "treatment",
    NOT_BESIDE: "no two plots beside each other, in a row or a column of the ground, hold "
    "the same treatment",
    NOT_ALWAYS_END: "no treatment stands at an end of every block",
    BOTH_HALVES: "every treatment stands at least once in the left and once in the right "
    "half of the columns; a middle column belongs to neither",
}
