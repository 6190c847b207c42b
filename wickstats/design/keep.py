"""Restrictions that a layout may be kept to, in the words of the trial file.

Each says something about places, not about any one treatment, so that treatments may
change names without leaving the allowed layouts. Any of them goes with any design; where
there are pieces of several sizes (whole plots and subplots, strips) it holds for the pieces
of each size with what was set up on them. Leans on nothing.
"""

NOT_TWICE = "no treatment twice in a column"
NOT_ACROSS = "no treatment beside itself across blocks"
NOT_BESIDE = "no treatment beside itself"
NOT_CORNERS = "no treatment beside itself or corner to corner"
NOT_ALWAYS_END = "no treatment at an end of every block"
BOTH_HALVES = "every treatment in both halves of the field"

# what each means, for the schema; without blocks a row of the ground counts as one
MEANINGS = {
    NOT_TWICE: "the same place in two blocks never holds the same treatment",
    NOT_ACROSS: "the same place in two blocks that follow each other never holds the same "
    "treatment",
    NOT_BESIDE: "no two plots beside each other, in a row or a column of the ground, hold "
    "the same treatment",
    NOT_CORNERS: "no two plots that touch along a side or at a corner hold the same treatment",
    NOT_ALWAYS_END: "no treatment stands at an end of every block",
    BOTH_HALVES: "every treatment stands at least once in the left and once in the right "
    "half of the columns; a middle column belongs to neither",
}
KEEP = tuple(MEANINGS)
# those that ask only for the order of the units, whatever the plots of one
BY_ORDER = (NOT_ALWAYS_END,)
